"""The parts of a bid's answer, each from the draws of the lot; weights: of the draws, None where nothing was tested."""

from __future__ import annotations

import numpy as np

from pipelines.answers.lot_bid_record import Borrowed, Capacity, Even, Expected, Graded, RestsOn, SellerRecord, Tested, Testing
from pipelines.answers.lot_case import LotCase
from pipelines.answers.lot_money import Money
from pipelines.answers.lot_record import LotRecord
from pipelines.decisions import bid as decided
from pipelines.decisions.lot_test import ArrivalAdvice, Terms, on_arrival, sample_advice
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.finite_lot import LotAfterTest
from pipelines.estimates.hypergeometric import chance_at_most
from pipelines.estimates.lot_fate import FATES
from pipelines.estimates.lot_inputs import LotInputs
from pipelines.estimates.lot_value import SCRAP, LotValues, unit_values
from pipelines.estimates.value_of_testing import value_of_testing
from pipelines.estimates.weighted import mean, quantile
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Fate

WORKS = FATES.index(Fate.WORKS)


def rests_on(record: LotRecord, case: LotCase, money: Money) -> RestsOn:
    """Return how much the record has, and what of this lot it has nothing of its own for."""
    borrowed = [Borrowed("condition", case.condition)] if case.condition not in record.conditions else []
    borrowed += [Borrowed("family", family) for family in case.mix if family not in record.families]
    if case.seller is not None and case.seller not in record.sellers:
        borrowed.append(Borrowed("seller", case.seller))
    borrowed += [Borrowed("bench work", family) for family in money.borrowed if family in record.families]
    return RestsOn(record.fates.lots, record.fates.units, record.fates.is_prior_led, borrowed)


def followed(money: Money) -> float | None:
    """Return as how many sales watched to the end of the warranty the share of returns counts; None where it was given."""
    if money.inputs is None or money.inputs.returned.of_count is None:
        return None
    return float(money.inputs.returned.of_count)


def grades(record: LotRecord, case: LotCase) -> list[Graded]:
    """Return what first sales of the families brought by grade, whatever was done to the units; units sold for parts left out."""
    sold = record.resale[record.resale["fate"] != Fate.SCRAP]
    found = []
    for family in case.mix:
        own = sold[sold["family"] == family]
        for grade, part in own.groupby(own["grade"].fillna("")):
            count = int(part["sold_count"].sum())
            price = float((part["sold_count"] * part["price_mean"]).sum()) / count
            found.append(Graded(family, grade or None, count, count / int(own["sold_count"].sum()), price))
    return found


def seller(record: LotRecord, case: LotCase, level: float) -> SellerRecord | None:
    """Return the seller's own record of units that work as found; None where there is none."""
    if record.fates.because is not None or case.seller not in record.sellers:
        return None
    own = [one for one in record.fates.stages[0].sellers(level=level) if one.name == case.seller]
    return SellerRecord(case.seller, own[0].lots, int(own[0].k), int(own[0].n), own[0].odds_ratio) if own else None


def expected(
    units: np.ndarray, values: LotValues, inputs: LotInputs, at: decided.AtBid, weights: np.ndarray | None, *,
    level: float, seed: int,
) -> Expected:  # fmt: skip
    """Return means and limits of what the lot brings; profit per unit at a bid."""
    good = units[:, :, :SCRAP].sum(axis=(1, 2))
    sold = np.random.default_rng(seed).binomial(good, 1 - float(inputs.other_fault.share))
    count = int(units[0].sum())
    draws = (sold, values.bench_h, values.parts, values.returns, values.revenue, values.cost, values.value)
    per_unit = _described((values.value - at.price) / count, weights, level)
    return Expected(*(_described(one, weights, level) for one in draws), at.bid, per_unit)


def even(units: np.ndarray, inputs: LotInputs, at: decided.AtBid, weights: np.ndarray | None) -> Even:
    """Return from which share of good units the lot earns something at a bid."""
    told = mean(units, weights=weights)
    earned = unit_values(inputs, families=told.shape[0])[0][0]
    # The same of units that work as found: all the others stand together in the place of scrap.
    two, two_earned = np.zeros_like(told), np.zeros_like(told)
    rest = told[:, WORKS + 1 :]
    two[:, WORKS], two[:, SCRAP] = told[:, WORKS], rest.sum(axis=1)
    two_earned[:, WORKS] = earned[:, WORKS]
    two_earned[:, SCRAP] = (rest * earned[:, WORKS + 1 :]).sum(axis=1) / np.maximum(rest.sum(axis=1), 1e-12)
    both = (decided.break_even(*one, price=at.price) for one in ((told, earned), (two, two_earned)))
    return Even(at.bid, *both)


def tested(units: np.ndarray, case: LotCase, test: LotAfterTest, before: decided.Bid | None) -> Tested:
    """Return what the test changed."""
    at_most, at_least = {}, {}
    for place, family in enumerate(case.mix):
        if case.tested[family]:
            held, count = np.unique(units[:, place, WORKS], return_counts=True)
            fewer = chance_at_most(
                case.good[family] - 1, lot_count=case.mix[family], held_count=held, tested_count=case.tested[family]
            )  # fmt: skip
            at_most[family] = test.found_at_most_chance[place]
            at_least[family] = 1 - float(fewer @ count) / len(units)
    return Tested(
        case.tested_count, case.good_count, at_most, at_least, test.good_count, test.effective_draws,
        None if before is None else before.highest_bid, test.because,
    )  # fmt: skip


def testing(
    units: np.ndarray, values: LotValues, inputs: LotInputs, case: LotCase, at: decided.AtBid, weights: np.ndarray | None
) -> Testing | None:
    """Return how many more units to test of the family that has most untested ones; None where all are tested."""
    left = {family: count - case.tested.get(family, 0) for family, count in case.mix.items()}
    family = max(left, key=left.get)
    if not left[family]:
        return None
    place = list(case.mix).index(family)
    hours = np.broadcast_to(inputs.bench_h.mean, units.shape[1:])[place, WORKS]
    cost = float(hours * np.ravel(inputs.labour_per_h.mean)[0])
    found = value_of_testing(
        values.value - at.price, units[:, place, WORKS] - case.good.get(family, 0), lot_count=left[family], cost_per_unit=cost,
        weights=weights,
    )  # fmt: skip
    return Testing(family, at.bid, cost, sample_advice(found))


def arrival(case: LotCase, even: Even, values: LotValues, weights: np.ndarray | None) -> ArrivalAdvice:
    """Return whether to keep the lot, claim for it or return it. What it needs to be worth is told where its price was given.

    even, values: of the units that came, even at their part of the price.
    """
    needed = None
    if case.price is not None:
        needed = 0.0 if even.works.even is decided.Even.ALWAYS_EARNS else even.works.good_share
    terms = Terms(
        stated_good_share=case.stated_good_share, needed_good_share=needed,
        price_per_unit=None if case.price is None else case.price / case.units,
        value_if_kept=float(mean(values.value, weights=weights)), refund_if_returned=case.refund,
    )  # fmt: skip
    return on_arrival(
        terms, bought_count=case.units, received_count=case.received, tested_count=case.tested_count, good_found=case.good_count
    )


def nothing_came(case: LotCase) -> ArrivalAdvice:
    """Return what to claim for a lot of which no unit came."""
    price = None if case.price is None else case.price / case.units
    terms = Terms(stated_good_share=None, needed_good_share=None, price_per_unit=price, value_if_kept=None,
                  refund_if_returned=None)  # fmt: skip
    return on_arrival(terms, bought_count=case.units, received_count=0, tested_count=0, good_found=0)


def capacity(values: LotValues, settings: Settings, weights: np.ndarray | None, *, level: float) -> Capacity:
    """Return how many weeks of the free bench the lot takes, and the chance that it is done in time."""
    free, allowed = settings.bench_hours_free, settings.bench_weeks
    if not free:
        return Capacity(free, Estimate.refused(Because.NOT_GIVEN), allowed, None, Because.NOT_GIVEN)
    weeks = values.bench_h / free
    fits = None if allowed is None else float(mean((weeks <= allowed).astype(float), weights=weights))
    return Capacity(free, _described(weeks, weights, level), allowed, fits, None)


def _described(draws: np.ndarray, weights: np.ndarray | None, level: float) -> Estimate:
    tail = (1 - level) / 2
    low, high = (float(quantile(draws, one, weights=weights)) for one in (tail, 1 - tail))
    return Estimate(float(mean(draws, weights=weights)), low, high)
