"""Pooled shares: against the posterior integrated without approximation, against known truth, and at their edges."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.errors import InputError
from pipelines.estimates.pooled_share import CELL_SD, FAMILY_SD, pooled_share
from pipelines.estimates.pooled_share_modes import METHOD_SD
from pipelines.estimates.proportion import wilson
from pipelines.vocabulary import Because


def cells(*rows: tuple) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["method", "family", "k", "n"])


def numbers(pooled) -> np.ndarray:
    return np.array([(one.share.low, one.share.estimate, one.share.high, one.mean_share) for one in pooled.cells])


def fleet(rng: np.random.Generator, *, families: int = 12, methods: int = 3, attempts: int) -> pd.DataFrame:
    """Return cells of known truth `p`, the attempts spread unevenly over them."""
    method, family = (one.ravel() for one in np.meshgrid(np.arange(methods), np.arange(families)))
    logit = rng.normal(0.8, 0.6, methods)[method] + rng.normal(0, 0.6, families)[family] + rng.normal(0, 0.3, len(method))
    p = 1 / (1 + np.exp(-logit))
    n = rng.multinomial(attempts, rng.dirichlet(np.ones(len(p))))
    return pd.DataFrame({"method": method, "family": family, "k": rng.binomial(n, p), "n": n, "p": p})


def exact_limits(k: list, n: list, *, families: list, ask: int) -> list[float]:
    """Return low, median, high of one cell's share by summing the whole posterior of one method's cells on a fine grid.

    The logits of one method are jointly normal given the two standard deviations: no mode, no Laplace.
    """
    axis = np.linspace(-8, 8, 121)
    logits = np.stack(np.meshgrid(*[axis] * len(k), indexing="ij"), axis=-1).reshape(-1, len(k))
    fit = (np.array(k) * logits - np.array(n) * np.logaddexp(0, logits)).sum(axis=1)
    same = np.equal.outer(families, families)
    density = np.zeros(len(logits))
    nodes = (np.arange(24) + 0.5) / 24 * 4
    for family_sd in nodes * FAMILY_SD:
        for cell_sd in nodes * CELL_SD:
            covariance = METHOD_SD**2 + family_sd**2 * same + cell_sd**2 * np.eye(len(k))
            prior = -0.5 * (logits @ np.linalg.inv(covariance) * logits).sum(axis=1) - 0.5 * np.linalg.slogdet(covariance)[1]
            density += np.exp(fit - fit.max() + prior - (family_sd / FAMILY_SD) ** 2 / 2 - (cell_sd / CELL_SD) ** 2 / 2)
    margin = density.reshape([len(axis)] * len(k)).sum(axis=tuple(one for one in range(len(k)) if one != ask))
    below = (np.cumsum(margin) - margin / 2) / margin.sum()
    return list(1 / (1 + np.exp(-np.interp([0.025, 0.5, 0.975], below, axis))))


@pytest.mark.parametrize(
    ("k", "n", "within"),
    [([0], [5], 0.045), ([5], [5], 0.045), ([1], [2], 0.005), ([3], [10], 0.01), ([40], [50], 0.006)],
)
def test_one_cell_has_the_limits_of_the_whole_posterior(k, n, within):
    # The normal distribution nearest to a leaning posterior: its limits err to the safe side where none or all passed.
    ours = numbers(pooled_share(cells((None, "F", k[0], n[0]))))[0, :3]
    assert ours == pytest.approx(exact_limits(k, n, families=["F"], ask=0), abs=within)


@pytest.mark.parametrize("ask", [0, 1])
def test_two_families_borrow_as_the_whole_posterior_says(ask):
    k, n = [2, 30], [5, 34]
    ours = numbers(pooled_share(cells(("flush", "F", 2, 5), ("flush", "G", 30, 34))))[ask, :3]
    assert ours == pytest.approx(exact_limits(k, n, families=["F", "G"], ask=ask), abs=0.007)


def test_a_family_never_cleaned_borrows_and_says_so_as_the_whole_posterior_says():
    pooled = pooled_share(cells(("flush", "F", 2, 5), ("flush", "G", 0, 0)))
    assert [one.is_borrowed for one in pooled.cells] == [False, True]
    assert numbers(pooled)[1, :3] == pytest.approx(exact_limits([2, 0], [5, 0], families=["F", "G"], ask=1), abs=0.007)


@pytest.mark.parametrize(("attempts", "of_wilson"), [(90, 0.75), (1000, 0.72), (5000, 0.80)])
def test_limits_cover_the_truth_and_are_narrower_than_those_of_single_cells(attempts, of_wilson):
    # Reference: covers .974/.951/.943 of cells, width .66/.54/.57 of Wilson's, in another made fleet.
    rng = np.random.default_rng(attempts)
    covered, width, wilsons = [], [], []
    for _ in range(60):
        made = fleet(rng, attempts=attempts)
        low, _, high, _ = numbers(pooled_share(made)).T
        truth = made.sort_values(["method", "family"])
        covered.append((low <= truth["p"]) & (truth["p"] <= high))
        width.append(high - low)
        each = [wilson(k, n) for k, n in zip(truth["k"], truth["n"], strict=True)]
        wilsons.append([1.0 if one.low is None else one.high - one.low for one in each])
    # 2,160 cells in 60 fleets; cells of one fleet are not independent.
    assert 0.93 <= np.mean(covered) <= 0.975
    assert np.mean(width) < of_wilson * np.mean(wilsons)


def test_the_cell_picked_as_the_best_is_better_on_average_than_the_one_with_the_best_raw_share():
    rng = np.random.default_rng(4)
    regret, raw_regret = [], []
    for _ in range(80):
        made = fleet(rng, methods=1, attempts=120)
        pooled = numbers(pooled_share(made))[:, 3]
        raw = (made["k"] / made["n"].where(made["n"] > 0)).fillna(0.0)
        regret.append(made["p"].max() - made["p"].iloc[pooled.argmax()])
        raw_regret.append(made["p"].max() - made["p"].iloc[raw.to_numpy().argmax()])
    assert np.mean(regret) < 0.75 * np.mean(raw_regret)


def test_very_many_attempts_leave_nothing_to_borrow():
    pooled = pooled_share(cells(("flush", "F", 60_000, 100_000), ("flush", "G", 20, 30), ("flush", "H", 0, 3)))
    own = wilson(60_000, 100_000)
    assert pooled.cells[0].share.estimate == pytest.approx(0.6, abs=2e-4)
    assert (pooled.cells[0].share.low, pooled.cells[0].share.high) == pytest.approx((own.low, own.high), abs=2e-4)
    assert 0 < pooled.cells[2].share.low < pooled.cells[2].share.estimate


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 2), st.integers(0, 4), st.integers(0, 30), st.integers(0, 30)), min_size=1, max_size=12))
def test_failures_mirror_successes_and_every_number_is_in_order(rows):
    table = cells(*((method, family, min(k, n), n) for method, family, k, n in rows))
    pooled, mirrored = pooled_share(table), pooled_share(table.assign(k=table["n"] - table["k"]))
    for one, other in zip(pooled.cells, mirrored.cells, strict=True):
        if one.share.because:
            assert (one.share.because, one.mean_share) == (Because.NO_ATTEMPTS, None)
            continue
        assert 0 < one.share.low < one.share.estimate < one.share.high < 1
        assert one.share.low < one.mean_share < one.share.high
        assert one.share.low == pytest.approx(1 - other.share.high, abs=1e-6)
        assert one.mean_share == pytest.approx(1 - other.mean_share, abs=1e-6)


def test_permuted_split_and_renamed_rows_give_the_same_cells():
    made = fleet(np.random.default_rng(8), attempts=400)
    plain = pooled_share(made)
    shuffled = pooled_share(made.sample(frac=1, random_state=2))
    half = made.assign(k=made["k"] / 2, n=made["n"] / 2)
    split = pooled_share(pd.concat([half, half]))
    turned = pooled_share(made.assign(family=-made["family"]))
    assert numbers(shuffled) == pytest.approx(numbers(plain), abs=1e-9)
    assert numbers(split) == pytest.approx(numbers(plain), abs=1e-9)
    by_name = {(one.method, -one.family): one.share.estimate for one in turned.cells}
    assert [by_name[one.method, one.family] for one in plain.cells] == pytest.approx(list(numbers(plain)[:, 1]), abs=1e-7)
    assert np.array_equal(shuffled.draws(50), plain.draws(50))


def test_draws_come_from_the_posterior_of_the_limits_and_are_the_same_in_every_call():
    pooled = pooled_share(fleet(np.random.default_rng(9), attempts=300))
    draws = pooled.draws(20_000)
    low, median, high = np.quantile(draws, [0.025, 0.5, 0.975], axis=0)
    assert np.column_stack([low, median, high]) == pytest.approx(numbers(pooled)[:, :3], abs=0.01)
    assert draws.mean(axis=0) == pytest.approx(numbers(pooled)[:, 3], abs=0.006)
    assert np.array_equal(pooled.draws(), pooled.draws())


def test_cells_of_one_family_move_together():
    pooled = pooled_share(cells(("air", "F", 1, 2), ("flush", "F", 2, 3), ("air", "G", 9, 20), ("flush", "G", 1, 20)))
    (air_f, _), (flush_f, flush_g) = np.split(np.arange(4), 2)
    between = np.corrcoef(pooled.draws(20_000).T)
    assert between[air_f, flush_f] > between[air_f, flush_g] + 0.05


def test_a_wider_level_gives_wider_limits():
    made = fleet(np.random.default_rng(10), attempts=300)
    narrow, wide = numbers(pooled_share(made, level=0.8)), numbers(pooled_share(made, level=0.99))
    assert (wide[:, 0] < narrow[:, 0]).all()
    assert (narrow[:, 2] < wide[:, 2]).all()


def test_without_rows_there_are_no_cells_and_without_attempts_there_is_a_reason():
    empty = pooled_share(cells())
    assert empty.cells == []
    assert empty.draws(10).shape == (10, 0)
    none = pooled_share(cells(("air", "F", 0, 0), ("flush", "F", 3, 4)))
    assert [one.share.because for one in none.cells] == [Because.NO_ATTEMPTS, None]
    assert not none.cells[0].is_borrowed


def test_thousands_of_cells_all_get_a_number():
    made = fleet(np.random.default_rng(11), families=1000, methods=2, attempts=9000)
    assert np.isfinite(numbers(pooled_share(made))).all()


@pytest.mark.parametrize(("k", "n"), [(3, 2), (-1, 2), (np.nan, 2), (1, np.nan), (1, np.inf)])
def test_an_impossible_share_is_refused(k, n):
    with pytest.raises(InputError, match="is not a share"):
        pooled_share(cells(("air", "F", 1, 2), ("air", "G", k, n)))


def test_a_missing_column_and_an_impossible_level_are_refused():
    with pytest.raises(InputError, match="lack the column method"):
        pooled_share(cells(("air", "F", 1, 2)).drop(columns="method"))
    with pytest.raises(InputError, match="not a probability"):
        pooled_share(cells(("air", "F", 1, 2)), level=95)
