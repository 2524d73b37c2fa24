"""Turnbull's curve against published and recomputed cases; sources in cases.json."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.estimates.turnbull import turnbull
from tests.published.cases import case_ids, load_case

CASES = case_ids("turnbull_")


@pytest.mark.parametrize("case_id", CASES)
def test_the_mass_of_each_interval_comes_out_as_published(case_id):
    case = load_case(case_id)
    curve = turnbull(case.spells, by=[])
    mass = -np.diff(np.append(1.0, curve["surviving_share"]))
    has_mass = mass > 1e-9
    rest = curve["surviving_share"].iloc[-1]
    expected = [one for one, end in zip(case.expected["mass"], case.expected["intervals_right"], strict=True) if end is not None]
    assert mass[has_mass].tolist() == pytest.approx(expected, rel=case.rel_tol)
    assert [*curve.loc[has_mass, "to_at"], *[None] * bool(rest > 1e-9)] == case.expected["intervals_right"]
    assert curve.loc[has_mass, "from_at"].tolist() == case.expected["intervals_left"][: len(expected)]
    for place, one in enumerate(mass[has_mass]):
        if printed := case.published.get(f"mass|{place}"):
            assert one == pytest.approx(printed["value"], abs=printed["abs_tol"])


@pytest.mark.parametrize("case_id", CASES)
def test_the_curve_and_its_likelihood_come_out_as_published(case_id):
    case = load_case(case_id)
    curve = turnbull(case.spells, by=[])

    def share(times):
        after = np.append(1.0, curve["surviving_share"])
        return after[np.searchsorted(curve["to_at"], times, side="right")]

    assert share(case.expected["times"]).tolist() == pytest.approx(case.expected["surv"], rel=case.rel_tol, abs=1e-9)
    lower, upper = case.spells["lower"], case.spells["upper"]
    gone = np.where(upper < np.inf, share(np.minimum(upper, 1e12)), 0.0)
    log_likelihood = float(case.spells["spell_count"] @ np.log(share(lower) - gone))
    assert log_likelihood == pytest.approx(case.expected["loglik"], rel=1e-8)
