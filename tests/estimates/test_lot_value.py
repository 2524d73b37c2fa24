"""The value of a lot: closed forms in special cases, and a simulation that goes through unit by unit."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from scipy.stats import beta, binom

from pipelines.errors import InputError
from pipelines.estimates.lot_inputs import Amount, DrawnShare, LotInputs, Portion
from pipelines.estimates.lot_value import Valuing, lot_values, unit_values
from tests.estimates.lots import plain_inputs

FATES = 4


def fixed(*counts: int, draws: int = 1) -> np.ndarray:
    """Return the same fates of one family in every draw."""
    return np.tile(np.array(counts), (draws, 1, 1))


def test_with_everything_known_a_lot_is_worth_what_can_be_added_up_by_hand():
    values = lot_values(fixed(5, 3, 2, 4), plain_inputs(), seed=1)
    assert values.revenue == pytest.approx(10 * 30 * 0.9 + 4 * 2)
    assert values.cost == pytest.approx(14 * (0.5 * 12 + 0.5) + 2 * 4 + 10 * 3)
    assert values.value == pytest.approx(values.revenue - values.cost)
    assert (values.bench_h, values.parts, values.returns) == (pytest.approx(7), pytest.approx(2), 0)


def test_mean_and_variance_of_one_family_are_the_exact_ones():
    # Units' own spread only: a sum of m independent prices; hours cost money; parts and returns likewise.
    inputs = plain_inputs(
        resale=Amount(30.0, 0.0, 6.0), bench_h=Amount(0.5, 0.0, 0.3),
        parts_per_unit=Amount(np.array([0, 0, 1.0, 0]), 0.0, np.array([0, 0, 0.5, 0])), returned=Portion(0.1),
        return_cost=Amount(20.0, 0.0, 5.0), consumables=Amount(0.0), harvest=Amount(2.0, 0.0, 1.0),
    )  # fmt: skip
    values = lot_values(fixed(5, 3, 2, 4, draws=200_000), inputs, seed=2)
    mean = 10 * 30 * 0.9 + 4 * 2 - 14 * 6 - 2 * 4 - 10 * 3 - 10 * 0.1 * 20
    returns = 10 * (0.1 * 5**2 + 0.1 * 0.9 * 20**2)
    variance = 10 * (0.9 * 6) ** 2 + 4 * 1**2 + 14 * (0.3 * 12) ** 2 + 2 * (0.5 * 4) ** 2 + returns
    assert values.value.mean() == pytest.approx(mean, abs=4 * np.sqrt(variance / 200_000))
    assert values.value.var() == pytest.approx(variance, rel=0.015)


def test_what_is_not_known_of_a_mean_moves_all_units_together():
    values = lot_values(fixed(10, 0, 0, 0, draws=200_000), plain_inputs(resale=Amount(30.0, 2.0, 6.0)), seed=3)
    assert values.value.var() == pytest.approx(0.9**2 * (10**2 * 2**2 + 10 * 6**2), rel=0.02)
    by_fate = plain_inputs(resale=Amount(np.full(FATES, 30.0), 2.0, 6.0))
    apart = lot_values(fixed(5, 5, 0, 0, draws=200_000), by_fate, seed=3)
    assert apart.value.var() == pytest.approx(0.9**2 * (2 * 5**2 * 2**2 + 10 * 6**2), rel=0.02)


def test_other_faults_are_binomial_and_their_units_are_harvested():
    values = lot_values(fixed(40, 0, 0, 0, draws=100_000), plain_inputs(other_fault=Portion(0.2)), seed=4)
    lost_by_one = 30 * 0.9 - 3 - 2
    assert values.value.mean() == pytest.approx(40 * (30 * 0.9 - 3 - 6.5) - 8 * lost_by_one, abs=0.6)
    assert values.value.var() == pytest.approx(40 * 0.2 * 0.8 * lost_by_one**2, rel=0.02)


def test_a_share_from_few_cases_is_the_beta_law():
    values = lot_values(fixed(40, 0, 0, 0, draws=100_000), plain_inputs(returned=Portion(0.1, 20)), seed=5)
    law = beta(2, 18)
    assert values.returns.mean() == pytest.approx(40 * law.mean(), abs=0.1)
    assert values.returns.var() == pytest.approx(40 * law.mean() * (1 - law.mean()) + 40 * 39 * law.var(), rel=0.03)


def test_a_drawn_share_is_the_lots_own_and_goes_on_from_its_first_draw():
    draws = np.column_stack([beta(2, 18).rvs(5000, random_state=1), np.full(5000, 0.3)])
    units = np.zeros((100_000, 2, FATES), dtype=int)
    units[:, 0, 0], units[:, 1, 1] = 40, 10
    values = lot_values(units, plain_inputs(returned=DrawnShare(draws, 20.0)), seed=5)
    first = draws[:, 0]
    assert values.returns.mean() == pytest.approx(40 * first.mean() + 3, abs=0.1)
    within = 40 * (first * (1 - first)).mean() + 10 * 0.3 * 0.7
    assert values.returns.var() == pytest.approx(within + 40**2 * first.var(), rel=0.03)
    few = lot_values(units[:5000], plain_inputs(returned=DrawnShare(draws, 20.0)), seed=5)
    assert np.corrcoef(few.returns, first)[0, 1] > 0.6


def test_of_a_drawn_share_units_are_worth_its_mean_and_are_moved_between_its_ends():
    drawn = DrawnShare(np.column_stack([np.linspace(0, 0.2, 1001), np.full(1001, 0.3)]), 50.0)
    earned = unit_values(plain_inputs(returned=drawn), families=2)[0]
    assert earned == pytest.approx(unit_values(plain_inputs(returned=Portion(np.array([[0.1], [0.3]]))), families=2)[0])
    assert unit_values(plain_inputs(returned=drawn), families=2, count=1001)[0].mean(axis=0) == pytest.approx(earned[0])
    low, high = drawn.low_high()
    assert np.ravel([low.share, high.share]) == pytest.approx([0.02, 0.3, 0.18, 0.3])
    assert drawn.is_estimated
    for bad in (np.full((9, 2), 1.2), np.full((9, 2), np.nan), np.zeros((9, 3)), np.zeros((0, 2))):
        with pytest.raises(InputError, match="returned"):
            lot_values(np.ones((9, 2, FATES), dtype=int), plain_inputs(returned=DrawnShare(bad, 5.0)), seed=1)


def unit_by_unit(units: np.ndarray, inputs: LotInputs, rng: np.random.Generator) -> np.ndarray:
    """Return the values of lots, each of its units gone through by itself, with gamma prices and hours."""

    def of(one: Amount, family: int, fate: int) -> float:
        mean, sd = (float(np.broadcast_to(part, (2, FATES))[family, fate]) for part in (one.mean, one.unit_sd))
        return mean if sd == 0 or mean == 0 else rng.gamma((mean / sd) ** 2, sd**2 / mean)

    def chance(one: Portion, family: int, fate: int) -> bool:
        return rng.random() < np.broadcast_to(one.share, (2, FATES))[family, fate]

    worth = np.zeros(len(units))
    for lot, family, fate in np.ndindex(units.shape):
        for _ in range(units[lot, family, fate]):
            end = 3 if fate < 3 and chance(inputs.other_fault, family, fate) else fate
            work = of(inputs.bench_h, family, end) * inputs.labour_per_h.mean + of(inputs.consumables, family, end)
            work += of(inputs.parts_per_unit, family, end) * np.broadcast_to(inputs.part_cost.mean, (2, 1))[family, 0]
            worth[lot] -= work
            if end == 3:
                worth[lot] += of(inputs.harvest, family, end)
                continue
            worth[lot] += of(inputs.resale, family, end) * (1 - inputs.selling_fee.share) - of(inputs.freight_out, family, end)
            worth[lot] -= of(inputs.return_cost, family, end) if chance(inputs.returned, family, end) else 0.0
    return worth


def two_families() -> LotInputs:
    return plain_inputs(
        resale=Amount(np.array([[30.0, 28, 29, 0], [45, 40, 42, 0]]), 0.0, 7.0), other_fault=Portion(0.06),
        bench_h=Amount(np.array([0.2, 0.6, 0.9, 0.4]), 0.0, 0.25), part_cost=Amount(np.array([[4.0], [7.0]])),
        parts_per_unit=Amount(np.array([0, 0, 1.4, 0.2]), 0.0, np.array([0, 0, 0.6, 0.4])),
        returned=Portion(np.array([0.04, 0.1, 0.05, 0.0])), return_cost=Amount(20.0, 0.0, 6.0), harvest=Amount(3.0, 0.0, 1.0),
    )  # fmt: skip


def test_a_simulation_unit_by_unit_gives_the_same_law():
    units = np.random.default_rng(6).multinomial(12, [0.4, 0.25, 0.2, 0.15], (4000, 2))
    slow = unit_by_unit(units, two_families(), np.random.default_rng(7))
    quick = lot_values(units, two_families(), seed=8).value
    assert quick.mean() == pytest.approx(slow.mean(), abs=4 * slow.std() / np.sqrt(4000))
    assert quick.std() == pytest.approx(slow.std(), rel=0.05)
    tails = [0.05, 0.1, 0.2, 0.5, 0.9]
    assert np.quantile(quick, tails) == pytest.approx(np.quantile(slow, tails), abs=0.12 * slow.std())


def test_expected_values_of_units_are_those_of_the_draws():
    units = np.random.default_rng(9).multinomial(12, [0.4, 0.25, 0.2, 0.15], (50_000, 2))
    values = lot_values(units, two_families(), seed=10)
    earned, hours = unit_values(two_families(), families=2)
    assert earned.shape == hours.shape == (1, 2, FATES)
    assert values.value.mean() == pytest.approx((units * earned).sum(axis=(1, 2)).mean(), rel=0.002)
    assert values.bench_h.mean() == pytest.approx((units * hours).sum(axis=(1, 2)).mean(), rel=0.002)
    uncertain = replace(two_families(), resale=Amount(np.array([30.0, 28, 29, 0]), np.array([2.0, 2, 2, 0]), 7.0))
    many, _ = unit_values(uncertain, families=2, count=20_000, seed=1)
    assert many.shape == (20_000, 2, FATES)
    assert many[:, 0, 0].std() == pytest.approx(2 * 0.9 * 0.94, rel=0.03)
    assert (many[:, 0, 0] - many[:, 1, 0]).std() == pytest.approx(0, abs=1e-9)


def test_prices_twice_as_high_are_worth_twice_as_much_and_families_may_change_places():
    units = np.random.default_rng(11).multinomial(12, [0.4, 0.25, 0.2, 0.15], (500, 2))
    money = ("resale", "labour_per_h", "part_cost", "consumables", "freight_out", "return_cost", "harvest")
    once, twice = two_families(), two_families()
    twice = replace(twice, **{
        name: Amount(2 * np.asarray(one.mean), 2 * np.asarray(one.mean_se), 2 * np.asarray(one.unit_sd))
        for name in money for one in [getattr(once, name)]
    })  # fmt: skip
    assert lot_values(units, twice, seed=1).value == pytest.approx(2 * lot_values(units, once, seed=1).value)
    turned = replace(once, resale=Amount(once.resale.mean[::-1], 0.0, 7.0), part_cost=Amount(once.part_cost.mean[::-1]))
    assert lot_values(units[:, ::-1], turned, seed=1).value.mean() == pytest.approx(
        lot_values(units, once, seed=1).value.mean(), rel=0.02
    )


def test_a_change_of_one_input_leaves_the_luck_of_the_others():
    units = np.random.default_rng(12).multinomial(12, [0.4, 0.25, 0.2, 0.15], (500, 2))
    base = replace(two_families(), other_fault=Portion(0.06, 50))
    low, high = (replace(base, harvest=one) for one in Amount(3.0).low_high())
    gained = lot_values(units, high, seed=1).value - lot_values(units, low, seed=1).value
    assert (gained >= 0).all()
    assert gained.std() < 3


@pytest.mark.parametrize("name", [one.name for one in fields(LotInputs)])
def test_many_inputs_on_the_same_draws_are_each_worth_what_they_are_alone(name):
    units = np.random.default_rng(13).multinomial(12, [0.4, 0.25, 0.2, 0.15], (300, 2))
    base = replace(two_families(), other_fault=Portion(0.06, 50), resale=Amount(30.0, 1.0, 7.0))
    lot = Valuing(units, seed=3)
    for inputs in (base, *(replace(base, **{name: one}) for one in getattr(base, name).low_high()), base):
        together, alone = lot.of(inputs), lot_values(units, inputs, seed=3)
        for part in fields(alone):
            assert (getattr(together, part.name) == getattr(alone, part.name)).all(), part.name


def test_returns_told_for_all_fates_together_have_the_law_of_those_told_by_fate():
    together, by_fate = (
        lot_values(fixed(20, 15, 5, 0, draws=100_000), plain_inputs(returned=Portion(one), return_cost=Amount(20.0, 0.0, 5.0)),
                   seed=6)
        for one in (0.1, np.array([0.1, 0.1, 0.1, 0.0]))
    )  # fmt: skip
    law = binom(40, 0.1)
    for one in (together, by_fate):
        assert one.returns.mean() == pytest.approx(law.mean(), abs=0.03)
        assert one.returns.var() == pytest.approx(law.var(), rel=0.02)
    assert together.value.std() == pytest.approx(by_fate.value.std(), rel=0.015)


def test_low_and_high_of_what_is_given_and_of_what_is_estimated():
    given = [one.mean for one in Amount(10.0).low_high()] + [one.share for one in Portion(0.9).low_high()]
    assert given == pytest.approx([8, 12, 0.72, 1.0])
    low, high = Amount(10.0, 1.0).low_high()
    assert (float(low.mean), float(high.mean)) == pytest.approx((8.73, 11.27), abs=0.12)
    assert [float(one.share) for one in Portion(0.1, 20).low_high()] == pytest.approx(beta.ppf([0.1, 0.9], 2, 18))


@pytest.mark.parametrize("name", [one.name for one in fields(LotInputs)])
def test_impossible_amounts_and_shares_are_refused_by_name(name):
    is_share = isinstance(getattr(plain_inputs(), name), Portion)
    make = Portion if is_share else Amount
    for bad in (-1.0, np.nan, np.inf, np.ones((3, FATES)), np.ones(7), *([1.2] if is_share else [])):
        with pytest.raises(InputError, match=name):
            lot_values(fixed(1, 1, 1, 1), plain_inputs(**{name: make(bad)}), seed=1)


def test_a_lot_of_which_nothing_is_sold_and_one_of_no_units_are_worth_numbers():
    assert lot_values(fixed(0, 0, 0, 3), plain_inputs(), seed=1).value == pytest.approx(3 * (2 - 6.5))
    assert lot_values(fixed(0, 0, 0, 0), plain_inputs(resale=Amount(30.0, 1.0, 6.0)), seed=1).value == pytest.approx(0)
