"""Cox's partial likelihood from counts: against a plain loop, against lifelines on rows, and by its own slopes."""

from __future__ import annotations

import lifelines
import numpy as np
import pandas as pd
import pytest

from pipelines.estimates.climb import climb
from pipelines.estimates.cox_robust import CoxSpells, partial_likelihood, sandwich, schoenfeld, score_residuals

#: lifelines stops far from the top by default.
TIGHT = {"precision": 1e-12, "r_precision": 1e-15}


def random_rows(seed: int, *, rows: int = 120, columns: int = 2, is_late: bool = True, ties: float = 50) -> CoxSpells:
    rng = np.random.default_rng(seed)
    x = rng.normal(size=(rows, columns))
    at = np.ceil(rng.weibull(1.5, rows) * ties * np.exp(-0.3 * x[:, 0])) + 1
    entry = np.floor(rng.uniform(0, 1, rows) * at) * (rng.random(rows) < 0.4) * is_late
    return CoxSpells(entry, at, rng.random(rows) < 0.6, rng.integers(1, 4, rows).astype(float), x, rng.integers(0, 2, rows))


def spelt_out(rows: CoxSpells) -> CoxSpells:
    place = np.repeat(np.arange(len(rows.at)), rows.count.astype(int))
    columns = (getattr(rows, name)[place] for name in ("entry", "at", "is_failure"))
    return CoxSpells(*columns, np.ones(len(place)), rows.x[place], rows.stratum[place])


def by_hand(rows: CoxSpells, beta: np.ndarray) -> float:
    """Return Efron's log partial likelihood by its definition, spell by spell and tie by tie."""
    risk, total = np.exp(rows.x @ beta), 0.0
    for stratum in np.unique(rows.stratum):
        mine = rows.stratum == stratum
        for time in np.unique(rows.at[mine & rows.is_failure]):
            fails = mine & rows.is_failure & (rows.at == time)
            at_risk = mine & (rows.entry < time) & (rows.at >= time)
            for tie in range(fails.sum()):
                total -= np.log(risk[at_risk].sum() - tie / fails.sum() * risk[fails].sum())
            total += (rows.x[fails] @ beta).sum()
    return total


@pytest.mark.parametrize("ties", [4, 50])
def test_the_likelihood_of_counts_is_that_of_rows_by_hand(ties):
    rows, beta = random_rows(1, ties=ties), np.array([0.4, -0.7])
    assert partial_likelihood(rows, beta).value == pytest.approx(by_hand(spelt_out(rows), beta), rel=1e-12)


def test_score_and_information_are_the_slopes_of_the_likelihood():
    rows, beta, step = random_rows(2), np.array([0.4, -0.7]), 1e-5
    here = partial_likelihood(rows, beta)
    for column in range(2):
        move = step * np.eye(2)[column]
        up, down = partial_likelihood(rows, beta + move), partial_likelihood(rows, beta - move)
        assert (up.value - down.value) / (2 * step) == pytest.approx(here.score[column], abs=1e-5)
        assert (down.score - up.score) / (2 * step) == pytest.approx(here.information[column], rel=1e-6, abs=1e-5)


def test_residuals_of_rows_and_of_failure_times_both_add_up_to_the_score():
    rows, beta = random_rows(3, ties=5), np.array([0.4, -0.7])
    score = partial_likelihood(rows, beta).score
    assert rows.count @ score_residuals(rows, beta) == pytest.approx(score, abs=1e-9)
    assert schoenfeld(rows, beta).sum(axis=0) == pytest.approx(score, abs=1e-9)


@pytest.mark.parametrize("is_late", [False, True])
def test_counts_give_the_fit_of_lifelines_on_rows(is_late):
    rows = random_rows(4, rows=200, is_late=is_late, ties=20)
    beta, top = climb(lambda at: partial_likelihood(rows, at), np.zeros(2))
    one = spelt_out(rows)
    frame = pd.DataFrame(one.x, columns=["a", "b"]).assign(at=one.at, fails=one.is_failure, stratum=one.stratum)
    late = {"entry_col": "entry"} if is_late else {}
    frame = frame.assign(entry=one.entry) if is_late else frame
    fit = lifelines.CoxPHFitter().fit(frame, "at", "fails", strata=["stratum"], fit_options=TIGHT, **late)
    assert beta == pytest.approx(fit.params_.to_numpy(), rel=1e-6)
    assert np.linalg.inv(top.information) == pytest.approx(fit.variance_matrix_.to_numpy(), rel=1e-5)
    assert top.value == pytest.approx(fit.log_likelihood_, rel=1e-10)


def test_counts_give_the_sandwich_of_rows():
    rows, beta = random_rows(5, ties=6), np.array([0.2, 0.1])
    cluster = np.arange(len(rows.at)) % 17
    information = partial_likelihood(rows, beta).information
    counted = sandwich(information, score_residuals(rows, beta), rows.count, cluster)
    one = spelt_out(rows)
    spelt = sandwich(information, score_residuals(one, beta), one.count, np.repeat(cluster, rows.count.astype(int)))
    assert counted == pytest.approx(spelt, rel=1e-10)


def test_the_sandwich_covers_where_the_model_error_does_not():
    """Two sticks of a controller share its fate and its family: the spread over fleets is the sandwich's error."""
    rng = np.random.default_rng(6)
    found, robust, model = [], [], []
    for _ in range(150):
        shared = rng.gamma(1.0, 1.0, 80)
        x = np.repeat(np.arange(80) % 2, 4).astype(float)[:, None]
        at = rng.exponential(1.0, 320) / np.repeat(shared, 4) + 1e-9
        rows = CoxSpells(np.zeros(320), np.minimum(at, 3), at < 3, np.ones(320), x, np.zeros(320, dtype=int))
        beta, top = climb(lambda here, rows=rows: partial_likelihood(rows, here), np.zeros(1))
        found.append(beta[0])
        model.append(np.linalg.inv(top.information)[0, 0])
        robust.append(sandwich(top.information, score_residuals(rows, beta), rows.count, np.repeat(np.arange(80), 4))[0, 0])
    assert np.mean(robust) / np.var(found) == pytest.approx(1, abs=0.25)
    assert np.mean(model) / np.var(found) < 0.7
