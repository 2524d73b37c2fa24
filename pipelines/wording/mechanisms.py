"""Which faults end lives, as sentences. Each function takes parts of the record."""

from __future__ import annotations

from pipelines.wording.verdict import counted, reason_words, value_words

#: The word of the record for failures without a mechanism.
NOT_RECORDED = "not_recorded"


def mechanisms_sentence(parts) -> str:
    """Say which fault ends lives most often, out of how many failures."""
    total = sum(one.failures for one in parts)
    if [one.mechanism for one in parts] == [NOT_RECORDED]:
        return f"What was at fault is recorded of none of the {counted(total, 'failure')}."
    told = [
        f"{value_words('mechanism', None if one.mechanism == NOT_RECORDED else one.mechanism)} {one.failures:,}" for one in parts
    ]
    return f"Of {counted(total, 'failure')}: {', '.join(told)}."


def mechanism_tests_sentence(parts, level: float) -> str:
    """Say which faults come at another pace in some groups, allowing for how many were tested."""
    told = [one for one in parts if one.p_value is not None]
    if not told:
        reasons = {reason_words(one.because) for one in parts if one.because is not None}
        return f"Whether a fault comes sooner in some groups cannot be told: {'; '.join(sorted(reasons))}."
    differing = [
        "those not recorded" if one.mechanism == NOT_RECORDED else value_words("mechanism", one.mechanism)
        for one in told if one.p_value < (1 - level) / len(told)
    ]  # fmt: skip
    late = f" ({told[0].late:,} watched only from a later age are left out)" if told[0].late else ""
    if not differing:
        return f"No fault is shown to come at another pace in some groups, of {len(told)} tested{late}."
    return f"Between the groups these faults come at a different pace, beyond chance: {', '.join(differing)}{late}."
