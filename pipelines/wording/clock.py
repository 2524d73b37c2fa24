"""Whether sticks age by play hours or by days, as a sentence."""

from __future__ import annotations

from pipelines.vocabulary import Because
from pipelines.wording.verdict import counted, level_words, limits_words, reason_words

_CLOCK = {
    "hours": "Sticks age by play hours: twice the hours a day, about half the days",
    "days": "Sticks age by days, however much they are played",
    "between": "Sticks age partly by play hours, partly by days: compare them at like use",
    "neither": "Life goes neither by play hours nor by days alone: compare sticks at like use",
}


def clock_sentence(part, level: float) -> str:
    """Say whether sticks age by hours or by days."""
    if part.because is Because.NO_SPELLS:
        return "Hours or days? That cannot be told: of nothing that was watched are the play hours a day known."
    if part.coefficient.estimate is None:
        return f"Hours or days? That cannot be told: {reason_words(part.because or Because.NO_SPELLS)}."
    limits = limits_words(part.coefficient.low, part.coefficient.high, lambda one: f"{one:.2f}".replace("-", "−"))
    estimate = f"{part.coefficient.estimate:.2f}".replace("-", "−")
    basis = (
        f"{counted(part.failures, 'failure')}; life in days goes with hours a day to the power {estimate}, {level_words(level)} "
        f"interval {limits}; −1 is hours, 0 days"
    )
    if part.because is not None:
        return f"Hours or days? That cannot be told: {reason_words(part.because)} ({basis})."
    return f"{_CLOCK[part.verdict]} ({basis})."
