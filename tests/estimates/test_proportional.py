"""The check of proportional hazards: lifelines without entry, simulated truth with it, Holm by hand, and refusals."""

from __future__ import annotations

import lifelines
import numpy as np
import pandas as pd
import pytest
from lifelines.statistics import proportional_hazard_test

from pipelines.estimates import lifelines_start
from pipelines.estimates.climb import climb
from pipelines.estimates.cox_robust import CoxSpells, partial_likelihood, schoenfeld
from pipelines.estimates.proportional import change_test, middle_rank, proportional
from pipelines.vocabulary import Because


def fleet(seed: int, *, spells: int = 300, shapes: tuple[float, float] = (2.0, 2.0), is_late: bool = True) -> pd.DataFrame:
    """Return spells of two families with shapes of their own, so the ratio holds where the shapes agree."""
    rng = np.random.default_rng(seed)
    family = rng.integers(0, 2, spells)
    life = np.where(family == 0, rng.weibull(shapes[0], spells), rng.weibull(shapes[1], spells) * 0.8) + 1e-9
    entry = rng.uniform(0, 0.6, spells) * (rng.random(spells) < 0.5) * is_late
    last = entry + rng.uniform(0.2, 2, spells)
    rows = pd.DataFrame({"family": np.where(family, "B", "A"), "usage": rng.choice(["l", "m", "h"], spells), "entry": entry,
                         "at": np.minimum(life, last), "is_failure": life <= last, "spell_count": 1})  # fmt: skip
    return rows[rows["entry"] < rows["at"]].reset_index(drop=True)


def as_cox(rows: pd.DataFrame) -> CoxSpells:
    x = np.column_stack([rows["family"].eq("B"), rows["usage"].eq("h"), rows["usage"].eq("m")]).astype(float)
    times = (rows["entry"].to_numpy(), rows["at"].to_numpy(), rows["is_failure"].to_numpy())
    return CoxSpells(*times, rows["spell_count"].to_numpy(dtype=float), x, np.zeros(len(rows), dtype=int))


def test_the_residuals_give_the_statistic_of_lifelines_without_entries():
    rows = fleet(1, is_late=False)
    spells = as_cox(rows)
    beta, top = climb(lambda at: partial_likelihood(spells, at), np.zeros(3))
    frame = pd.DataFrame(spells.x, columns=["B", "h", "m"]).assign(at=rows["at"], is_failure=rows["is_failure"])
    fit = lifelines.CoxPHFitter().fit(frame, "at", "is_failure", fit_options={"precision": 1e-12, "r_precision": 1e-15})
    theirs = proportional_hazard_test(fit, frame, time_transform="rank").test_statistic
    variance = np.linalg.inv(top.information)
    rank = middle_rank(spells.events.time, spells.events.failed)
    rank -= rank.mean()
    slope = variance @ (rank @ schoenfeld(spells, beta))
    mine = len(rank) * slope**2 / (np.diag(variance) * (rank @ rank))
    assert mine.tolist() == pytest.approx(np.asarray(theirs).tolist(), rel=1e-6)
    # Of all columns together; one by one they ask different things. The score test sums the variance time by time
    # instead of taking its mean: near, not the same.
    score = rank @ schoenfeld(spells, beta)
    together = len(rank) * score @ variance @ score / (rank @ rank)
    assert change_test(spells, beta, [[0, 1, 2]])[0][0] == pytest.approx(together, rel=0.15)


def test_the_score_test_is_that_of_a_likelihood_with_the_product_of_x_and_rank():
    """By brute force: rows cut at each failure time, a further column x·rank, one score step from the maximum."""
    rows = fleet(2, spells=60)
    spells = as_cox(rows)
    beta, _ = climb(lambda at: partial_likelihood(spells, at), np.zeros(3))
    times, rank = spells.events.time, middle_rank(spells.events.time, spells.events.failed)
    pieces = []
    for number in range(len(rows)):
        for place in range(spells.events.begin[number], spells.events.end[number]):
            fails = spells.is_failure[number] and times[place] == spells.at[number]
            before = times[place - 1] if place else 0.0
            pieces.append((before, times[place], fails, *spells.x[number], spells.x[number, 0] * rank[place]))
    cut = np.array(pieces, dtype=float)
    split = CoxSpells(cut[:, 0], cut[:, 1], cut[:, 2] == 1, np.ones(len(cut)), cut[:, 3:], np.zeros(len(cut), dtype=int))
    at = partial_likelihood(split, np.append(beta, 0.0))
    expected = at.score @ np.linalg.solve(at.information, at.score)
    assert change_test(spells, beta, [[0]])[0][0] == pytest.approx(expected, rel=1e-7)


def test_the_check_is_silent_where_ratios_hold_and_speaks_where_shapes_differ(monkeypatch):
    monkeypatch.setattr(lifelines_start, "ROWS_AT_MOST", 0)
    false = sum(proportional(fleet(seed), factors=["family", "usage"]).factors[0].p_value < 0.05 for seed in range(200))
    found = [proportional(fleet(seed, spells=600, shapes=(1.0, 3.0)), factors=["family", "usage"]) for seed in range(20)]
    assert 3 <= false <= 18
    assert sum(one.factors[0].is_changing for one in found) >= 18
    assert sum(one.factors[1].is_changing for one in found) <= 4


def test_counts_give_the_check_of_rows():
    rows = fleet(3).assign(spell_count=lambda one: 1 + np.arange(len(one)) % 3)
    rows[["entry", "at"]] = np.column_stack([np.floor(rows["entry"] * 10), np.ceil(rows["at"] * 10)])
    spelt = rows.loc[rows.index.repeat(rows["spell_count"])].assign(spell_count=1)
    one, other = (proportional(frame, factors=["family", "usage"]) for frame in (rows, spelt.sample(frac=1, random_state=1)))
    assert [one.statistic for one in one.factors] == pytest.approx([one.statistic for one in other.factors], rel=1e-6)
    assert [one.degrees_of_freedom for one in one.factors] == [1, 2]


def test_rescaled_time_changes_nothing():
    rows = fleet(4)
    other = rows.assign(entry=rows["entry"] * 24, at=rows["at"] * 24)
    one, two = (proportional(frame, factors=["family"]).factors[0].statistic for frame in (rows, other))
    assert one == pytest.approx(two, rel=1e-8)


def test_one_level_and_no_failures_are_reasons():
    rows = fleet(5).assign(site="here")
    beside = proportional(rows, factors=["site", "family"]).factors
    assert (beside[0].because, beside[0].is_changing, beside[1].because) == (Because.ONE_LEVEL, None, None)
    found = proportional(rows.assign(is_failure=False), factors=["family"])
    assert (found.because, found.factors[0].because) == (Because.NO_FAILURES, Because.NO_FAILURES)
    assert proportional(rows.iloc[:0], factors=["family"]).because is Because.NO_SPELLS


def test_one_failure_time_cannot_change():
    rows = fleet(6).assign(entry=0.0, at=1.0, is_failure=lambda one: np.arange(len(one)) % 3 == 0)
    found = proportional(rows, factors=["family"])
    assert (found.factors[0].statistic, found.factors[0].p_value, found.factors[0].is_changing) == (0.0, 1.0, False)
