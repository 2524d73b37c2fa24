"""`answer lot-bid`: the most to pay for a lot, what it will turn into, and what a test of some units changes."""

from __future__ import annotations

from dataclasses import replace
from math import ceil

import numpy as np

from pipelines.answers import lot_bid_parts as parts
from pipelines.answers.lot_arrival import arrival_said, at_hand
from pipelines.answers.lot_bid_record import LotBid
from pipelines.answers.lot_case import LotCase, lot_case
from pipelines.answers.lot_gathering import Offer
from pipelines.answers.lot_money import lot_money
from pipelines.answers.lot_record import LotRecord, lot_record
from pipelines.answers.question import Asked
from pipelines.decisions.bid import Binding, at_bid, highest_bid, sensitivity
from pipelines.estimates.finite_lot import LotAfterTest, lot_after_test
from pipelines.estimates.lot_fate import LotFates, expected_fates
from pipelines.estimates.lot_value import lot_values
from pipelines.facts.read import Connection
from pipelines.logs.spelling import nearest
from pipelines.vocabulary import Because
from pipelines.wording import lots as wording

#: Draws of the lot. A test that few of them go with is answered from more, up to the other number.
DRAWS, MOST_DRAWS = 20_000, 200_000
#: One seed, so that the same question gives the same answer.
SEED = 4
#: The value of the lot is told at these shares.
SHARES = np.arange(1, 100) / 100


def lot_bid(connection: Connection, asked: Asked) -> LotBid:
    """Answer from the log. Raises SettingError on a case that does not go together, InputError on several currencies."""
    return bid_of(lot_record(connection), asked)


def bid_of(record: LotRecord, asked: Asked) -> LotBid:
    """Answer from a record of lots that was read before; `asked.is_brief` leaves out what drives the bid."""
    case = lot_case(asked.case, record)
    here, has_come = at_hand(case), case.received is not None
    settings, level = asked.settings, asked.level
    families = list(here.mix or case.mix)
    offer = Offer(dict.fromkeys(families, case.condition), case.seller)
    money = lot_money(record, families, settings, units=case.units, offer=offer)
    rests_on = parts.rests_on(record, case, money)
    found: dict[str, object] = {
        "seller": parts.seller(record, case, level), "fates": [], "arrived_mix": here.mix if has_come else None,
    }  # fmt: skip
    warnings = wording.record_warnings(
        condition=case.condition, conditions=record.conditions, followed=parts.followed(money), warranty_days=money.warranty_days,
        lots=rests_on.lots, borrowed=[(one.what, one.name) for one in rests_on.borrowed],
        near_seller=nearest(case.seller or "", record.sellers),
    )  # fmt: skip
    if has_come:
        warnings += wording.arrived_warnings(here.mix, case.received, case.units, is_mixed=len(case.mix) > 1)

    def answer(because: Because | None, sentence: str) -> LotBid:
        return LotBid(
            question=asked.question.value, case=case, currency=record.currency, level=level, log_start=record.log_start,
            log_end=record.log_end, settings=settings.as_plain(), because=because, sentence=sentence, warnings=warnings,
            asked_for=[] if case.received == 0 else money.missing, sources=money.sources, warranty_days=money.warranty_days,
            rests_on=rests_on,
            grades=parts.grades(record, case), **found,
        )  # fmt: skip

    if case.received == 0:
        found["arrival"] = parts.nothing_came(case)
        return answer(None, arrival_said(found["arrival"], case, record.currency))
    if record.fates.because is not None:
        return answer(record.fates.because, wording.refused_sentence(record.fates.because))
    units, test = _drawn(record.fates, here, level)
    weights = None if test is None else test.weights
    if test is not None and test.because is not None:
        found["test"] = parts.tested(units, here, test, None)
        return answer(test.because, wording.contradicted_sentence(case.tested_count, case.good_count))
    found["fates"] = expected_fates(units, here.mix, weights=weights, level=level)
    if money.inputs is None or money.fees is None:
        return answer(Because.NOT_GIVEN, wording.asked_for_sentence([(one.name, one.of) for one in money.missing]))

    inputs, fees = money.inputs, money.fees
    limits = {"fees": fees, "loss_limit": settings.loss_limit, "margin": settings.margin}
    values = lot_values(units, inputs, seed=SEED)
    bid = None if has_come else highest_bid(values, weights=weights, **limits)
    asking = None if case.price is None else at_bid(values, case.price, fees=fees, weights=weights)
    before = None if test is None or has_come else highest_bid(values, **limits)
    shown = asking or (at_bid(values, 0.0, fees=fees, weights=weights) if bid is None else bid.at)
    found |= {
        "bid": bid, "asking": asking,
        "value_quantiles": np.quantile(values.value, SHARES, weights=weights, method="inverted_cdf").tolist(),
        "expected": parts.expected(units, values, inputs, shown, weights, level=level, seed=SEED),
        "break_even": parts.even(units, inputs, shown, weights),
        "capacity": parts.capacity(values, settings, weights, level=level),
        "test": None if test is None else parts.tested(units, here, test, before),
    }  # fmt: skip
    if has_come:
        of_them = replace(shown, price=shown.price * case.received / case.units)
        found["arrival"] = parts.arrival(case, parts.even(units, inputs, of_them, weights), values, weights)
    else:
        found["testing"] = parts.testing(units, values, inputs, case, shown, weights)
    if not asked.is_brief and not has_come:
        found["sensitivity"] = sensitivity(
            record.fates, case.mix, inputs, condition=case.condition, seller=case.seller, seed=SEED, **limits
        )  # fmt: skip
    if test is not None:
        chances = found["test"]
        both = {one: (chance, chances.found_at_least_chance[one]) for one, chance in chances.found_at_most_chance.items()}
        warnings += wording.surprise_warnings(both)
    if has_come:
        said = arrival_said(found["arrival"], case, record.currency)
        kept = found["expected"].value.estimate
        return answer(None, wording.arrived_sentence(said, case.received, kept, record.currency, paid=asking))
    return answer(None, wording.bid_sentence(
        bid.highest_bid, bid.at, margin_binds=bid.binding is Binding.MARGIN, margin=settings.margin, currency=record.currency,
        asking=asking, test=None if test is None else (case.good_count, case.tested_count, before.highest_bid),
    ))  # fmt: skip


def _drawn(fates: LotFates, case: LotCase, level: float) -> tuple[np.ndarray, LotAfterTest | None]:
    """Return draws of the lot, and what the test of some units leaves of them; more draws where few go with it."""
    count = DRAWS
    while True:
        rng = np.random.default_rng(SEED)
        units = fates.draws(case.mix, condition=case.condition, seller=case.seller, count=count, rng=rng)
        if not case.tested:
            return units, None
        tested, good = ([one[family] for family in case.mix] for one in (case.tested, case.good))
        after = lot_after_test(
            units[:, :, parts.WORKS], lot_count=list(case.mix.values()), tested_count=tested, good_found=good, level=level
        )  # fmt: skip
        if after.because is None or count == MOST_DRAWS or after.draws_needed is None:
            return units, after
        count = min(max(2 * count, ceil(1.5 * after.draws_needed)), MOST_DRAWS)
