"""A batch to be contained, as sentences: where its modules are, what is left, and what its excess failures cost."""

from __future__ import annotations

from collections.abc import Sequence

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import BatchVerdict, Because, Hold, Whereabouts
from pipelines.wording.costs import amount_words, cost_words
from pipelines.wording.verdict import counted, level_words, limits_words, reason_words

_STATE = {
    Whereabouts.IN_SERVICE: "in service",
    Whereabouts.FAILED: "failed and not put right",
    Whereabouts.NOT_IN_SERVICE: "fitted, not back in service",
    Whereabouts.SOLD_IN_WARRANTY: "sold, under warranty",
    Whereabouts.SOLD: "sold, no warranty left",
    Whereabouts.RETURNED: "came back from a sale",
    Whereabouts.STORED: "stored",
    Whereabouts.TRANSFERRED: "transferred",
    Whereabouts.LOST: "lost",
    Whereabouts.STOLEN: "stolen",
    Whereabouts.SCRAPPED: "scrapped",
    Whereabouts.REPLACED: "replaced",
}
_HOLD = {
    Hold.FITTED: "of the batch",
    Hold.FOUND: "of the batch, known since it came in",
    Hold.CONTRADICTED: "may be: written as two batches",
    Hold.TWO_NAMED: "may be: its label names several",
    Hold.SPELT_ALIKE: "may be: a code spelt alike",
    Hold.MIXED: "may be: bins were mixed",
}
#: Why an excess cannot be told, where that has words of its own for batches.
_WHY = {
    Because.NO_DENOMINATOR: "only modules that came in are named, so nobody knows of how many",
    Because.LIMIT_NOT_REACHED: "no other of its age failed, so its failures cannot be held against theirs",
}
#: Sites are named up to so many.
_NAMED = 3


def state_words(state: Whereabouts) -> str:
    """Return what became of a module."""
    return _STATE[state]


def hold_words(hold: Hold) -> str:
    """Return whether a module is of the batch, or why it may be."""
    return _HOLD[hold]


def excess_words(one: Estimate) -> str:
    """Return '18 (9 to 29)'; fewer than expected have a minus sign."""
    if one.estimate is None:
        return "–"
    return f"{_number(one.estimate)} ({limits_words(one.low, one.high, _number)})"


def _number(value: float) -> str:
    """Return '18', or '2.4' under ten."""
    digits = f"{abs(value):,.0f}" if abs(value) >= 9.95 else f"{abs(value):.1f}".removesuffix(".0")
    return f"−{digits}" if value < 0 and digits != "0" else digits


def money_words(one: Estimate, currency: str | None) -> str:
    """Return '360 EUR (180 to 580)'."""
    if one.estimate is None:
        return "–"
    unit = f" {currency}" if currency else ""
    said = f"{amount_words(one.estimate)}{unit} ({limits_words(one.low, one.high, amount_words)})"
    return said.replace("-", "−")


def sentence(*, case, stock, counts, gone, excess, to_come, cost, currency, level, sites, modules, **_) -> str:
    """Say how many carry the batch and where, what became of the others, what is left, and what its excess costs."""
    if not modules:
        left = _stock(stock)
        return f"No module of batch {case.batch} was fitted by the end of the log.{f' {left}' if left else ''}"
    parts = [_carried(case, counts, sites), _away(gone), _stock(stock), _excess(excess, level), _coming(case, to_come)]
    if cost.per_failure is not None and excess.so_far.estimate is not None:
        each = f"{amount_words(cost.per_failure)}{f' {currency}' if currency else ''}"
        parts.append(f"At {each} a failure the excess so far comes to {money_words(cost.so_far, currency)}.")
    return " ".join(part for part in parts if part)


def _carried(case, counts: dict[str, int], sites: Sequence) -> str:
    if not counts["units"]:
        return f"No controller in service carries a module of batch {case.batch}."
    at = [f"{one.site or 'no site on record'} {one.carries:,}" for one in sites if one.carries]
    more = f" and {counted(len(at) - _NAMED, 'more site')}" if len(at) > _NAMED else ""
    verb = "carries" if counts["units"] == 1 else "carry"
    return (
        f"{counted(counts['units'], 'controller')} in service {verb} {counted(counts['modules'], 'module')} of batch "
        f"{case.batch}: {', '.join(at[:_NAMED])}{more}."
    )


def _away(gone: dict[str, int]) -> str:
    if not gone:
        return ""
    return f"Of the others: {'; '.join(f'{count:,} {state_words(Whereabouts(state))}' for state, count in gone.items())}."


def _stock(stock) -> str:
    if stock.left is None:
        return ""
    if stock.left < 0:
        return f"Received on record {stock.received:,}, in use {stock.received - stock.left:,}: {-stock.left:,} more than came."
    if stock.left == 0:
        return "None is left in stock, by the record."
    if stock.found:
        came = f"{counted(stock.found, 'module')} of it came in without a fitting on record"
        return f"In stock by the record: at most {stock.left:,} of {stock.received:,}; {came}."
    return f"In stock by the record: {stock.left:,} of {stock.received:,}."


def _excess(excess, level: float) -> str:
    if excess.because is not None:
        return f"Excess failures cannot be told: {_WHY.get(excess.because) or reason_words(excess.because)}."
    expected = "under 0.1" if excess.expected < 0.05 else _number(excess.expected)
    shown = "" if excess.verdict is BatchVerdict.WORSE else "; it is not shown to fail more often"
    if shown and excess.ratio.low is not None and excess.ratio.low > 1:
        shown = "; with so many batches looked at, that is not shown to be more than luck"
    return (
        f"{counted(excess.observed, 'first failure')} so far where others of the same age would have had {expected}: excess "
        f"{excess_words(excess.so_far)}, {level_words(level)} interval{shown}."
    )


def _coming(case, to_come) -> str:
    if to_come.failures.because is Because.TOO_FEW_FAILURES:
        return (
            f"How many of {counted(to_come.modules, 'module')} still watched since fitting will fail cannot be told: no other "
            "of their age and place has failed."
        )
    if to_come.failures.estimate is None:
        return ""
    return (
        f"Of {counted(to_come.modules, 'module')} still watched since fitting {excess_words(to_come.failures)} are expected to "
        f"fail within {counted(case.days, 'day')} (90\u00a0% interval), {excess_words(to_come.excess)} of them in excess."
    )


def warnings(
    *, case, batch, stock, counts, unrecorded, unrecorded_in_service, modules, excess, to_come, missing, **_
) -> list[str]:
    """Say what is not sure: labels, mixed bins, modules without a batch, stock, and what a claim does not hold."""
    said = []
    if not batch.is_on_record:
        said.append(f"Batch {case.batch} is not in the table of deliveries: nothing tells how many came, or from whom.")
    if batch.same_code_as is not None:
        said.append(
            f"Another code is spelt alike: {batch.same_code_as}. If it is the same batch, name it so in the table of aliases."
        )
    if batch.is_mixed:
        said.append(
            "Its bins were mixed with others before use, so the label does not tell for sure which module is of it; the ratio "
            "and the excess are then too low rather than too high."
        )
    may = [one for one in modules if one.hold not in (Hold.FITTED, Hold.FOUND)]
    if may:
        said.append(
            f"{counted(len(may), 'module')} may be of it and {'is' if len(may) == 1 else 'are'} listed apart "
            f"({counts['may_carry']:,} in service). They count for nothing in the excess."
        )
    found = sum(one.hold is Hold.FOUND for one in modules)
    if found:
        said.append(
            f"{counted(found, 'module')} {'is' if found == 1 else 'are'} known to be of it only since coming to the bench; "
            "others like it may be in service unseen."
        )
    if unrecorded:
        said.append(
            f"{counted(unrecorded, 'module')} of its sensor type {_were(unrecorded)} fitted without a batch on "
            f"record while it was in stock ({unrecorded_in_service:,} in service): any may be of it."
        )
    if stock.left is not None and stock.left < 0:
        said.append("More are in use than were received on record: a delivery is missing, or labels are wrong.")
    if to_come.failures.estimate is not None:
        said.append("Failures to come take the rate of the others at their age as known: with few failures they are less sure.")
    if counts["in_warranty"]:
        said.append(f"{counted(counts['in_warranty'], 'module')} of it went to buyers and may come back under warranty.")
    if missing:
        said.append(f"For the cost still to be given: {', '.join(cost_words(one).lower() for one in missing)}.")
    if counts["failed_before"]:
        said.append(
            "Excess and failures to come are of first failures since a module was fitted: "
            f"{counted(counts['failed_before'], 'module')} of it in service failed before and {_were(counts['failed_before'])} "
            "put right. What will fail next tells of those, and of any cleaned ahead of a fault."
        )
    if excess.because is None and excess.observed < excess.failures:
        said.append(
            f"{counted(excess.failures - excess.observed, 'failure')} of its modules had no other module of the same kind, place "
            "and age beside them and count for nothing in the excess."
        )
    return said


def _were(count: int) -> str:
    return "was" if count == 1 else "were"
