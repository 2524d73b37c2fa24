"""Many curves in one fit are the same as one lifelines fit for each, and as the product itself."""

from __future__ import annotations

import numpy as np
import pytest
from lifelines import KaplanMeierFitter

from pipelines.estimates.product_limit import product_limits
from tests.estimates.spells import random_spells


def risk_sets(spells) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the distinct exit times of rows of spells, how many are at risk just before each and how many fail."""
    entry, at = spells["entry"].to_numpy(), spells["at"].to_numpy()
    times = np.unique(at)
    at_risk = ((entry < times[:, None]) & (times[:, None] <= at)).sum(axis=1)
    failed = ((times[:, None] == at) & spells["is_failure"].to_numpy()).sum(axis=1)
    return times, at_risk, failed


def test_many_groups_are_fitted_as_lifelines_fits_each():
    parts = [random_spells(seed, spells=60, is_whole=seed % 2 == 0, late_share=0.2) for seed in range(8)]
    sets = [risk_sets(part) for part in parts]
    shares = product_limits([one[1] for one in sets], [one[2] for one in sets])
    for part, (times, _, _), share in zip(parts, sets, shares, strict=True):
        fitter = KaplanMeierFitter().fit(part["at"], part["is_failure"], entry=part["entry"])
        assert share == pytest.approx(fitter.survival_function_at_times(times).to_numpy(), rel=1e-10, abs=1e-14)


def test_a_curve_too_deep_for_one_float_does_not_spoil_the_next():
    """Two hundred halvings in each of nine groups: 2^-1800 has no float, 2^-200 has."""
    at_risk, failed = np.full(200, 2), np.full(200, 1)
    shares = product_limits([at_risk] * 9, [failed] * 9)
    for share in shares:
        assert share == pytest.approx(0.5 ** np.arange(1, 201), rel=1e-10)


def test_a_curve_stays_at_0_once_everyone_at_risk_has_failed():
    shares = product_limits(
        [np.array([3, 2, 5]), np.array([4]), np.array([], int), np.array([2])],
        [np.array([1, 2, 1]), np.array([0]), np.array([], int), np.array([2])],
    )
    assert [share.tolist() for share in shares] == [pytest.approx([2 / 3, 0, 0]), [1.0], [], [0.0]]


def test_no_groups_give_no_curves():
    assert product_limits([], []) == []


def test_groups_without_failures_stay_at_1_and_may_come_first():
    none = np.zeros(2, dtype=int)
    assert [share.tolist() for share in product_limits([np.array([4, 2])], [none])] == [[1.0, 1.0]]
    shares = product_limits([np.array([4, 2]), np.array([2])], [none, np.array([1])])
    assert [share.tolist() for share in shares] == [[1.0, 1.0], pytest.approx([0.5])]


def test_many_groups_take_one_fit_and_only_very_deep_ones_more(monkeypatch):
    fits, fit = [], KaplanMeierFitter.fit
    monkeypatch.setattr(KaplanMeierFitter, "fit", lambda self, *rest, **named: fits.append(1) or fit(self, *rest, **named))
    product_limits([np.array([3, 2])] * 30, [np.array([1, 1])] * 30)
    assert len(fits) == 1
    # Eight hundred halvings are exp(−555): two such curves do not fit into one float.
    product_limits([np.full(800, 2)] * 2, [np.full(800, 1)] * 2)
    assert len(fits) == 3
