"""How many units of a lot to test, and on arrival whether to keep the lot, claim or send it back."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import isfinite

from pipelines.errors import InputError
from pipelines.estimates.acceptance import CONSUMER_RISK, PRODUCER_RISK, Plan, smallest_plan
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.finite_lot import at_least, at_most, good_in_lot
from pipelines.estimates.hypergeometric import ROUNDING, require_count, require_tested, units_from
from pipelines.estimates.value_of_testing import ValueOfTesting
from pipelines.vocabulary import Because

#: What a test is worth counts from so many standard errors of the draws on.
SURE = 2.0


class SampleReason(StrEnum):
    """Why so many units are to be tested."""

    WORTH_IT = "worth_it"
    COSTS_MORE = "costs_more"
    CHANGES_NOTHING = "changes_nothing"
    TOO_CLOSE = "too_close"


@dataclass(frozen=True)
class SampleAdvice:
    """How many units to test before buying or keeping a lot.

    act_from: then act with so many good on, None without a test; is_acting: whether to act without one. net: what the test
    brings on average over its cost, 0 without one.
    """

    sample_count: int
    why: SampleReason
    act_from: int | None
    is_acting: bool
    net: float


class LotAction(StrEnum):
    """What to do with a lot that has come."""

    KEEP = "keep"
    CLAIM = "claim"
    RETURN = "return"
    CANNOT_SAY = "cannot_say"


class LotReason(StrEnum):
    """What the action rests on."""

    WORSE_THAN_STATED = "worse_than_stated"
    WORTH_KEEPING = "worth_keeping"
    AS_STATED = "as_stated"
    TOO_FEW_TESTED = "too_few_tested"
    NONE_TESTED = "none_tested"
    NOTHING_STATED = "nothing_stated"


@dataclass(frozen=True)
class Terms:
    """What was agreed and what the user reckons with; whatever is not given is None and is never assumed.

    stated_good_share: share good (0–1) that the seller stated; needed_good_share: from which the lot is worth keeping, such as
    its break-even yield. In one currency: price_per_unit paid; value_if_kept: of the lot as tested; refund_if_returned: less
    what the return costs.
    """

    stated_good_share: float | None = None
    needed_good_share: float | None = None
    price_per_unit: float | None = None
    value_if_kept: float | None = None
    refund_if_returned: float | None = None


@dataclass(frozen=True)
class ArrivalAdvice:
    """What to do with a lot, and why.

    stated_p: chance of finding so few good in a lot just as stated; needed_p: of finding so many in one that holds a unit less
    than needed. good_count: good units in the lot, each exact limit missed with at most the producer's risk; shortfall_count:
    the lot holds at least so many fewer good units than stated. plan: a test of so many in all decides, whatever it finds.
    return_gain: refund less value if kept. missing_count: units bought and not received, 0 where none are short;
    missing_claim: their price. Where something was not given they are None; `missing_because` says so of the claim.
    """

    action: LotAction
    why: LotReason
    stated_p: float | None
    needed_p: float | None
    good_count: Estimate
    shortfall_count: int | None
    plan: Plan | None
    return_gain: float | None
    missing_count: int
    missing_claim: float | None
    missing_because: Because | None


def sample_advice(value: ValueOfTesting) -> SampleAdvice:
    """Return how many units to test: as many as pay best, none where that lies within twice the error of the draws."""
    best, largest = value.best_count, int(value.worth.argmax())
    net, is_acting = float(value.net[best]), value.gain > 0
    if best and net > SURE * value.worth_error[best]:
        return SampleAdvice(best, SampleReason.WORTH_IT, value.act_from, is_acting, net)
    if best:
        why = SampleReason.TOO_CLOSE
    elif value.worth[largest] > SURE * value.worth_error[largest]:
        why = SampleReason.COSTS_MORE
    else:
        why = SampleReason.CHANGES_NOTHING
    return SampleAdvice(0, why, None, is_acting, 0.0)


def on_arrival(
    terms: Terms, *, bought_count: int, received_count: int, tested_count: int, good_found: int,
    producer_risk: float = PRODUCER_RISK, consumer_risk: float = CONSUMER_RISK,
) -> ArrivalAdvice:  # fmt: skip
    """Return whether to keep a lot, claim for it or return it, and what to claim for units that did not come.

    tested_count, good_found: of the units received, picked blindly and judged without error.
    Claim where a lot as good as stated would show so few good with at most the producer's risk; return where moreover the
    refund is above the value if kept. Keep where a lot one unit short of needed would show so many good with at most the
    consumer's risk; without a needed share under the stated one, where the test shows no fewer good than stated and could have
    refuted it. Else the test is too small to say. The risks of 5 and 10 % are conventions, not findings.
    Raises InputError.
    """
    _require(terms, producer_risk, consumer_risk)
    require_count(bought_count, received_count)
    require_tested(good_found, tested_count=tested_count, lot_count=max(received_count, 1))
    if tested_count > received_count:
        raise InputError(f"{tested_count} units tested of {received_count} received.", "Test no more units than came.")
    tested = good_found, tested_count, received_count
    stated = None if terms.stated_good_share is None else units_from(terms.stated_good_share, received_count)
    needed = None if terms.needed_good_share is None else units_from(terms.needed_good_share, received_count)
    if stated is not None and needed is not None and needed > stated:
        needed = None
    stated_p = needed_p = shortfall = None
    good_count = Estimate.refused(Because.NO_ATTEMPTS)
    if tested_count:
        good_count = good_in_lot(
            good_found, tested_count=tested_count, lot_count=received_count, level=1 - 2 * producer_risk
        )  # fmt: skip
        if stated is not None:
            stated_p, shortfall = at_most(*tested, stated), max(0, stated - int(good_count.high))
        if needed is not None:
            needed_p = at_least(*tested, needed - 1) if needed else 0.0
    refund, kept = terms.refund_if_returned, terms.value_if_kept
    gain = None if refund is None or kept is None else refund - kept

    if not tested_count:
        action, why = LotAction.CANNOT_SAY, LotReason.NONE_TESTED
    elif stated_p is not None and stated_p <= producer_risk + ROUNDING:
        action = LotAction.RETURN if gain is not None and gain > 0 else LotAction.CLAIM
        why = LotReason.WORSE_THAN_STATED
    elif needed_p is not None and needed_p <= consumer_risk + ROUNDING:
        action, why = LotAction.KEEP, LotReason.WORTH_KEEPING
    elif stated is None:
        action, why = LotAction.CANNOT_SAY, LotReason.NOTHING_STATED
    elif needed is None and _is_as_stated(terms.stated_good_share, *tested, producer_risk=producer_risk):
        action, why = LotAction.KEEP, LotReason.AS_STATED
    else:
        action, why = LotAction.CANNOT_SAY, LotReason.TOO_FEW_TESTED

    plan = None
    if stated is not None and needed:
        plan = smallest_plan(
            producer_share=1 - stated / received_count, consumer_share=1 - (needed - 1) / received_count,
            producer_risk=producer_risk, consumer_risk=consumer_risk, lot_count=received_count,
        )  # fmt: skip
    return ArrivalAdvice(
        action, why, stated_p, needed_p, good_count, shortfall, plan, gain,
        *_missing(max(0, bought_count - received_count), terms.price_per_unit),
    )  # fmt: skip


def _is_as_stated(share: float, good_found: int, tested_count: int, lot_count: int, *, producer_risk: float) -> bool:
    """Say whether no fewer are good than stated, in a test that would have refuted the statement had none been good."""
    refuting = at_most(0, tested_count, lot_count, units_from(share, lot_count))
    return good_found >= share * tested_count - ROUNDING and refuting <= producer_risk + ROUNDING


def _missing(count: int, price: float | None) -> tuple[int, float | None, Because | None]:
    """Return the units that did not come, their price, and why there is none."""
    if count and price is None:
        return count, None, Because.NOT_GIVEN
    return count, count * (price or 0.0), None


def _require(terms: Terms, *risks: float) -> None:
    for share in (terms.stated_good_share, terms.needed_good_share):
        if share is not None and not 0 <= share <= 1:
            raise InputError(f"A share good of {share}.", "Give shares between 0 and 1, such as 0.8.")
    for money in (terms.price_per_unit, terms.value_if_kept, terms.refund_if_returned):
        if money is not None and not isfinite(money):
            raise InputError(f"An amount of {money}.", "Give an amount of money.")
    if terms.price_per_unit is not None and terms.price_per_unit < 0:
        raise InputError(f"A price of {terms.price_per_unit} per unit.", "Give a price of 0 or more.")
    for risk in risks:
        if not 0 < risk < 0.5:
            raise InputError(f"A risk of {risk}.", "Give a risk between 0 and 0.5, such as 0.05.")
