"""The laws of sticks by kind of spell: against the pooled fit they are made of, and what becomes of kinds with few faults."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.estimates.fault_laws import fault_laws
from pipelines.estimates.pooled_life import pooled_life
from pipelines.vocabulary import Because

COUNT = 2000


def lives(rng, kind: str, family: str, number: int, *, shape: float, scale: float, until: float = 800.0) -> pd.DataFrame:
    life = scale * rng.weibull(shape, number)
    at = np.minimum(life, until)
    return pd.DataFrame({
        "kind": kind, "family": family, "entry": 0.0, "lower": at, "upper": np.where(life < until, at, np.inf), "spell_count": 1,
        "factor": 1.0,
    })  # fmt: skip


@pytest.fixture(scope="module")
def log() -> pd.DataFrame:
    rng = np.random.default_rng(2)
    frames = [
        lives(rng, "first_life", "Nolm", 300, shape=2.0, scale=600), lives(rng, "first_life", "Velm", 300, shape=2.0, scale=900),
        lives(rng, "after_clean", "Nolm", 300, shape=1.0, scale=300),
        lives(rng, "after_clean", "Velm", 300, shape=1.0, scale=500),
        lives(rng, "after_other_repair", "Nolm", 4, shape=1.0, scale=300),
    ]  # fmt: skip
    return pd.concat(frames, ignore_index=True)


def laws_of(log, kinds=("first_life", "after_clean", "after_other_repair"), groups=(("Nolm",), ("Velm",), ("New",))):
    return fault_laws(log, kinds=kinds, groups=groups, by=["family"], count=COUNT, rng=np.random.default_rng(1))


def test_each_kind_and_family_has_its_own_law(log):
    laws = laws_of(log)
    assert laws.because is None
    for (kind, family), (shape, scale) in {
        ("first_life", "Nolm"): (2.0, 600), ("first_life", "Velm"): (2.0, 900),
        ("after_clean", "Nolm"): (1.0, 300), ("after_clean", "Velm"): (1.0, 500),
    }.items():  # fmt: skip
        cell = laws.cells[(kind, family)]
        assert laws.middle_shape[cell] == pytest.approx(shape, rel=0.12)
        assert laws.middle_scale[cell] == pytest.approx(scale, rel=0.15)


def test_the_draws_are_those_of_the_pooled_fit(log):
    mine = log[log["kind"] == "first_life"]
    shape, scale = pooled_life(mine, by=["family"]).draws(COUNT)
    laws = laws_of(log)
    cell = laws.cells[("first_life", "Velm")]
    assert np.sort(np.exp(laws.log_shape[:, cell])) == pytest.approx(np.sort(shape))
    assert np.sort(np.exp(laws.log_scale[:, cell])) == pytest.approx(np.sort(scale[:, 1]))


def test_few_faults_of_a_kind_borrow_the_law_of_all_and_say_so(log):
    laws = laws_of(log)
    assert laws.borrowed == ("after_other_repair",)
    whole = pooled_life(log, by=["family"]).draws(COUNT)[0]
    assert np.exp(np.median(laws.log_shape[:, laws.cells[("after_other_repair", "Nolm")]])) == pytest.approx(np.median(whole))


def test_a_family_never_seen_is_told_by_the_others(log):
    laws = laws_of(log)
    spread = np.std(laws.log_scale, axis=0)
    assert spread[laws.cells[("first_life", "New")]] > 2 * spread[laws.cells[("first_life", "Nolm")]]


def test_expected_faults_are_the_cumulative_hazard_between_two_ages(log):
    laws = laws_of(log)
    cell = np.array([laws.cells[("first_life", "Nolm")]] * 2)
    shape, scale = laws.middle_shape[cell[0]], laws.middle_scale[cell[0]]
    found = laws.expected(cell, np.array([0.0, 100.0]), np.array([300.0, 100.0]))
    assert found == pytest.approx([(300 / scale) ** shape, 0.0])


@pytest.mark.parametrize(("rows", "because"), [(0, Because.NO_SPELLS), (3, Because.NO_FAILURES)])
def test_nothing_watched_or_nothing_failed_is_refused(log, rows, because):
    laws = laws_of(log[np.isinf(log["upper"])].head(rows))
    assert (laws.because, laws.cells) == (because, {})


def test_all_failed_at_once_fixes_no_law():
    once = pd.DataFrame(
        {
            "kind": "first_life",
            "family": "Nolm",
            "entry": 0.0,
            "lower": [50.0],
            "upper": [50.0],
            "spell_count": [40],
            "factor": 1.0,
        }
    )
    assert laws_of(once).because is Because.FIT_FAILED


def test_a_law_is_that_of_a_unit_with_factor_one(log):
    rng = np.random.default_rng(3)
    factor = np.repeat([0.5, 2.0], 400)
    life = 600 * (rng.exponential(1, 800) / factor) ** 0.5
    rows = pd.DataFrame({
        "kind": "first_life", "family": "Nolm", "entry": 0.0, "lower": np.minimum(life, 700),
        "upper": np.where(life < 700, life, np.inf), "spell_count": 1, "factor": factor,
    })  # fmt: skip
    known, blind = (laws_of(one) for one in (rows, rows.assign(factor=1.0)))
    cell = known.cells[("first_life", "Nolm")]
    assert known.middle_shape[cell] == pytest.approx(2.0, rel=0.07)
    assert known.middle_scale[cell] == pytest.approx(600, rel=0.05)
    assert blind.middle_shape[cell] < 1.75
    doubled = laws_of(rows.loc[rows.index.repeat(2)])
    counted = laws_of(rows.assign(spell_count=2))
    assert counted.middle_scale == pytest.approx(doubled.middle_scale)


def test_a_missing_family_is_a_group_of_its_own(log):
    blank = log.assign(family=log["family"].where(log["family"] != "Velm", None))
    laws = laws_of(blank, groups=(("Nolm",), (None,)))
    assert laws.middle_scale[laws.cells[("first_life", None)]] == pytest.approx(900, rel=0.15)
