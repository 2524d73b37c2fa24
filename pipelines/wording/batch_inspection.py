"""Incoming inspection, its plans, tester and the field, as sentences. Records: those of `answers.batch_inspection_record`."""

from __future__ import annotations

from collections.abc import Sequence

from pipelines.vocabulary import Agreement, Because, StudyVerdict
from pipelines.wording.verdict import SPACE, counted, level_words, limits_words, listed, reason_words, share_words

#: More than this are not named one by one.
_NAMED = 4
_DECISION = {
    "accept": "accepted",
    "reject": "rejected",
    "accept_on_concession": "accepted on concession",
    "hold": "on hold",
}
_ORIGIN = {
    "used": "the plan in use",
    "iso_2859_1": "ISO 2859-1, normal inspection",
    "two_points": "worked out from both risks",
    "zero_accepted": "worked out, none accepted",
}


def decision_words(decision: str) -> str:
    """Return a decision in words."""
    return _DECISION[decision]


def origin_words(origin: str) -> str:
    """Return where a plan is from."""
    return _ORIGIN[origin]


def pct_words(pct: float) -> str:
    """Return '1.5 %' of a number in percent."""
    return f"{pct:g}{SPACE}%"


def fine_share_words(share: float) -> str:
    """Return a share with a decimal where it is small: '1.2 %'."""
    return share_words(share) if share == 0 or share >= 0.1 else pct_words(float(f"{share * 100:.2g}"))


def whole_sentence(answer) -> str:
    """Say how decisions stand to their plans, what the plan lets through, and whether inspection told the field."""
    planned = [plan_sentence(one, answer.case) for one in answer.plans]
    if answer.because is not None:
        return " ".join([
            "The log has no inspections of batches (a table batch_inspections), so nothing is told of past ones.", *planned,
        ])  # fmt: skip
    said = [_decisions(answer.rows), *([] if answer.used_plan is None else [_used(answer.used_plan, answer.case)])]
    if answer.case.batch is None:
        said += [field_sentence(one, answer.level) for one in answer.fields]
    return " ".join([*said, *planned])


def plan_sentence(plan, case) -> str:
    """Say what a plan for a delivery is, and what it lets through."""
    of = "" if plan.lot is None else f" of {plan.lot:,}"
    if plan.because is not None:
        if plan.origin == "iso_2859_1":
            return (
                f"For a delivery{of} at {pct_words(plan.aql_pct)} the standard (letter {plan.letter}) points to a plan of "
                "another size, which is not followed here: ask for one worked out from what should and should not pass."
            )
        return "Only over 10,000 units would tell those shares apart: there is no such plan."
    letter = f", letter {plan.letter}" if plan.origin == "iso_2859_1" else ""
    head = (
        f"For a delivery{of} ({origin_words(plan.origin)}{letter}): test {plan.sample:,}, accept with up to "
        f"{plan.acceptance_number:,} nonconforming."
    )
    return f"{head} {_power(plan, case)}"


def field_sentence(part, level: float) -> str:
    """Say whether the share found at inspection told how a batch did in the field."""
    name = part.characteristic
    if part.because is Because.TOO_FEW_BATCHES:
        return (
            f"Whether inspection of {name} told the field cannot be said: faults can be expected of "
            f"{counted(len(part.batches), 'batch', 'batches')}, and eight are needed."
        )
    if part.because is not None:
        return f"Whether inspection of {name} told the field cannot be said: {reason_words(part.because)}."
    ratio = part.ratio
    told = f"each percentage point more nonconforming goes with {_times(ratio.estimate)} the faults"
    span = f"{level_words(level)} interval {limits_words(ratio.low, ratio.high, _times)}; {len(part.batches):,} batches"
    if ratio.low > 1:
        head = f"Inspection of {name} did tell the field"
    elif ratio.high < 1:
        head = f"Batches that did worse at inspection of {name} did better in the field"
    else:
        head = f"Inspection of {name} is not shown to tell the field"
    return f"{head}: {told} ({span}).{_dilution(part)}"


def chart_sentence(chart) -> str:
    """Say what a chart of successive batches shows."""
    if chart.because is not None:
        return f"{chart.supplier}, {chart.characteristic}: {reason_words(chart.because)}."
    name = f"{chart.supplier}, {chart.characteristic}"
    head = f"{name}: {fine_share_words(chart.middle)} nonconforming over {counted(len(chart.points), 'inspection')}"
    if chart.outside:
        said = (
            f"{head}; outside the control limits: {listed(chart.outside)} (luck puts one there in {share_words(chart.luck)} of "
            "such charts)."
        )
    else:
        said = f"{head}; all within the control limits."
    return f"{said} The shares creep up, noticed at {chart.creeps_from}." if chart.creeps_from else said


def note_words(row) -> str:
    """Return what to mind of an inspection."""
    if row.bad > row.tested:
        return "more nonconforming than tested"
    if row.received is not None and row.tested > row.received:
        return f"more tested than the {row.received:,} received"
    if row.acceptance_number is None:
        return "no acceptance number"
    if row.because is not None:
        return "accepts whatever is found"
    if row.agreement is Agreement.AGAINST_PLAN:
        return "against the plan"
    return {Agreement.CONCESSION: "on concession", Agreement.OPEN: "on hold"}.get(row.agreement, "")


def warnings(answer) -> list[str]:
    """Say what to mind: contradictions, suppliers not known, and what the tester may have done."""
    said = []
    for because, words in (
        (Because.CONTRADICTION, "contradict themselves or their delivery, so their plan is not judged"),
        (Because.NOT_RECORDED, "have no acceptance number, so nothing tells what their plan would say"),
    ):
        some = [one.batch for one in answer.rows if one.because is because]
        if some:
            said.append(f"{counted(len(some), 'inspection')} {words}: {listed(some)}.")
    lost = sorted({one.batch for one in answer.rows if one.supplier is None})
    if lost:
        said.append(f"{counted(len(lost), 'batch', 'batches')} inspected but not among the deliveries: {listed(lost)}.")
    return said + [words for one in answer.testers if (words := tester_sentence(one))]


def tester_sentence(part) -> str:
    """Say whether the tester may be what an inspection found; nothing for a characteristic that no tester measures."""
    if part.measure is None:
        return ""
    name = part.characteristic
    if part.because is not None:
        return f"Whether a share of {name} may be the tester is not known: no usable study of it is on record."
    share = (
        f"{share_words(part.spread_share.estimate)} ({limits_words(part.spread_share.low, part.spread_share.high, share_words)})"
    )
    head = {
        StudyVerdict.GOOD_ENOUGH: f"The tester makes {share} of the spread of {name}, which is good enough.",
        StudyVerdict.TOO_COARSE: f"A batch's share of {name} may be the tester: it makes {share} of the spread.",
        StudyVerdict.CANNOT_TELL: f"A batch's share of {name} may be the tester: it makes {share} of the spread, and whether "
        "that is little enough cannot be told yet.",
    }[part.verdict]
    if part.misread_share is None:
        return head
    misread = part.misread_share
    found = fine_share_words(part.found_share)
    return (
        f"{head} Of the {found} that inspections found nonconforming, {share_words(misread.estimate)} "
        f"({limits_words(misread.low, misread.high, share_words)}) would be good and misread, were sticks spread as in its study."
    )


def _decisions(rows: Sequence) -> str:
    if not rows:
        return "Nothing was inspected there."
    told = [one for one in rows if one.because is None]
    if not told:
        return f"{counted(len(rows), 'inspection')}; of none can the decision be held against a plan."
    against = [one for one in told if one.agreement is Agreement.AGAINST_PLAN]
    fair = len(told) - len(against)
    head = f"Of {counted(len(told), 'inspection')} {fair:,} {'was' if fair == 1 else 'were'} decided as the plan says"
    some = [
        f"{sum(one.agreement is kind for one in told):,} {words}"
        for kind, words in ((Agreement.CONCESSION, "beyond it on concession"), (Agreement.OPEN, "on hold"))
        if any(one.agreement is kind for one in told)
    ]
    head += f" ({', '.join(some)})" if some else ""
    if not against:
        return f"{head}; none against it."
    names = "; ".join(
        f"{one.batch} {decision_words(one.decision)} with {one.bad:,} of {one.tested:,} nonconforming where the plan accepts up "
        f"to {one.acceptance_number:,}"
        for one in against[:_NAMED]
    )  # fmt: skip
    more = f"; and {len(against) - _NAMED:,} more" if len(against) > _NAMED else ""
    return f"{head}; {len(against):,} against it: {names}{more}."


def _used(plan, case) -> str:
    what = "Its plan" if case.batch else "The plan used most"
    head = f"{what}: {plan.sample:,} tested, up to {plan.acceptance_number:,} nonconforming accepted"
    return f"{head}. {_power(plan, case)}"


def _power(plan, case) -> str:
    power = plan.power
    ends = (
        f"It passes deliveries with {fine_share_words(power.producer_share)} nonconforming in "
        f"{share_words(1 - case.producer_risk)} of cases, with {fine_share_words(power.consumer_share)} in "
        f"{share_words(case.consumer_risk)}"
    )
    if power.passes_at_twice is None:
        return f"{ends}."
    twice = share_words(power.passes_at_twice)
    limit = f"{pct_words(plan.aql_pct)} that should pass" if plan.origin == "two_points" else f"agreed {pct_words(plan.aql_pct)}"
    return f"{ends}, and with twice the {limit} in {twice}."


def _dilution(part) -> str:
    if part.real_share is None or part.real_share >= 0.8:
        return ""
    if part.real_share < 0.1:
        return (
            " The inspected shares differ hardly more than samples of one share do by luck, so they could not tell batches "
            "apart: larger samples would."
        )
    known = f"; without that it would be {_times(part.ratio_if_known)}" if part.ratio_if_known is not None else ""
    return (
        f" Only {share_words(part.real_share)} of how the shares differ is real, the rest is luck of the samples, which draws "
        f"the ratio towards one{known}."
    )


def _times(ratio: float) -> str:
    return f"{ratio:.2f} times"
