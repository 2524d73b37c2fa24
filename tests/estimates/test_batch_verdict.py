"""Many batches together, in simulated fleets of known truth: false discovery, power, and a bad batch among the others."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.estimates.batch_law import alikeness, shared_law
from pipelines.estimates.batch_verdict import compare_batches
from pipelines.estimates.equal_age import batch_ratios, matched
from pipelines.estimates.study_plan import needed_if_known
from tests.estimates.cells import cells_of, made_spells, steps_of


def compared(spells: pd.DataFrame, *, batches: int, reference: np.ndarray | None = None):
    candidate = np.ones(batches, dtype=bool) if reference is None else reference
    return compare_batches(
        cells_of(spells, steps_of(spells, 32)), np.ones(batches), is_candidate=candidate, false_discovery_share=0.1,
        is_fixed=reference is not None,
    )  # fmt: skip


def test_false_discovery_stays_under_its_share_and_bad_batches_are_found():
    shares, found, bad = [], 0, np.zeros(30, dtype=bool)
    bad[[4, 15, 22]] = True
    for seed in range(40):
        spells = made_spells(np.random.default_rng(seed), batches=30, modules=3000, ratios=np.where(bad, 2.5, 1.0))
        named = np.array([p is not None and p <= 0.1 for p in compared(spells, batches=30).p_adjusted])
        shares.append((named & ~bad).sum() / max(named.sum(), 1))
        found += (named & bad).sum()
    assert np.mean(shares) <= 0.1 + 2 * np.std(shares) / 40**0.5
    assert found / (40 * 3) > 0.9


def test_where_all_is_luck_few_fleets_name_any_and_limits_hold():
    any_named, held = 0, []
    for seed in range(40):
        spells = made_spells(np.random.default_rng(900 + seed), batches=20, modules=1500)
        whole = compared(spells, batches=20)
        any_named += any(p is not None and p <= 0.1 for p in whole.p_adjusted)
        held += [one.ratio.low <= 1 <= one.ratio.high for one in whole.ratios if one.observed and one.ratio.high]
    assert any_named <= 9  # of 40 at 10 %: more than 9 would come about in 1 of 200 tries
    assert np.mean(held) == pytest.approx(0.95, abs=0.02)


def doubled(rng: np.random.Generator, is_bad: np.ndarray, modules: int) -> pd.DataFrame:
    """Return lives of so many modules each of batches of one age, of which the bad ones fail twice as often."""
    batch = np.repeat(np.arange(len(is_bad)), modules)
    stratum = rng.integers(0, 6, len(batch))
    hazard = np.exp(rng.normal(0, 0.4, 6))[stratum] * np.where(is_bad, 2.0, 1.0)[batch]
    life = 700.0 * (rng.exponential(size=len(batch)) / hazard) ** (1 / 1.6)
    watched = rng.uniform(50, 400, len(batch))
    return pd.DataFrame({
        "stratum_no": stratum, "batch_no": batch, "entry": 0.0, "at": np.minimum(life, watched), "is_failure": life <= watched
    })  # fmt: skip


def test_with_as_many_failures_as_needed_four_of_five_doubled_batches_among_forty_are_named():
    is_bad = np.isin(np.arange(40), [3, 14, 25, 36])
    known, wanted, found = [], [], []
    for seed in range(150):
        whole = compared(doubled(np.random.default_rng([31, seed]), is_bad, 122), batches=40)
        named = np.array([p <= 0.1 and one.p_value <= 0.05 for p, one in zip(whole.p_adjusted, whole.ratios, strict=True)])
        assert whole.false_alarm == pytest.approx(min(0.1 * (named.sum() + 1) / 40, 0.05) / 2)
        for batch in np.flatnonzero(is_bad):
            # named at this level or not, given how many of the other batches are
            level = min(0.1 * (named.sum() - named[batch] + 1) / 40, 0.05) / 2
            known.append(whole.ratios[batch].information)
            wanted.append(needed_if_known(2.0, false_alarm=level))
            found.append(named[batch])
    assert np.mean(known) == pytest.approx(np.mean(wanted), rel=0.03)
    assert np.mean(found) == pytest.approx(0.8, abs=0.05)


def test_a_bad_batch_is_taken_out_from_among_the_others_and_does_not_make_them_look_better():
    ratios = np.array([1.0, 1.0, 1.0, 5.0])
    spells = made_spells(np.random.default_rng(3), batches=4, modules=2400, ratios=ratios)
    whole = compared(spells, batches=4)
    assert whole.is_reference.tolist() == [True, True, True, False]
    cells = cells_of(spells, steps_of(spells, 32))
    naive = batch_ratios(matched(cells, np.ones(4, dtype=bool)), np.ones(4))
    for fair, mixed in zip(whole.ratios[:3], naive[:3], strict=True):
        assert fair.ratio.estimate > mixed.ratio.estimate
        assert fair.ratio.low < 1 < fair.ratio.high
    assert whole.ratios[3].ratio.low < 5 < whole.ratios[3].ratio.high


def test_a_chosen_reference_stays_whatever_is_found():
    spells = made_spells(np.random.default_rng(4), batches=3, modules=1200, ratios=np.array([4.0, 1.0, 1.0]))
    whole = compared(spells, batches=3, reference=np.array([True, False, False]))
    assert whole.is_reference.tolist() == [True, False, False]
    assert whole.p_adjusted[0] is None
    assert all(one.ratio.high < 1 for one in whole.ratios[1:])


def test_the_law_is_that_of_lives_which_it_made():
    rng = np.random.default_rng(6)
    spells = made_spells(rng, batches=4, modules=8000, ratios=np.array([1, 2.0, 1, 1]), strata=4, shape=1.0, scale=500.0)
    steps = steps_of(spells)
    strata = pd.DataFrame(
        {"family": ["a", "a", "b", "b"], "usage_class": None, "site": ["x", "y", "x", "y"], "fitting_period": 1}
    )
    # the strata of the fleet are a product of family and site
    spells = spells[spells["stratum_no"] < 4]
    law = shared_law(cells_of(spells, steps), strata, steps)
    assert law.factor[1] / law.factor[0] == pytest.approx(2, rel=0.12)
    table = law.table()
    assert (len(table), table["until_step"].min()) == (4 * (len(steps) - 1), 0)
    last = table[table["step"] == len(steps) - 2].iloc[0]
    assert last["until_step"] == pytest.approx((law.hazard[0] * np.diff(steps))[:-1].sum())


def test_alikeness_is_the_design_effect_of_pairs():
    rng = np.random.default_rng(7)
    shared = rng.normal(size=20_000)
    pairs = np.sqrt(0.4) * shared[:, None] + np.sqrt(0.6) * rng.normal(size=(20_000, 2))
    by_unit, by_module = np.array([(pairs.sum(axis=1) ** 2).sum()]), np.array([(pairs**2).sum()])
    assert alikeness(by_unit, by_module)[0] == pytest.approx(1.4, abs=0.03)
    assert alikeness(np.array([5.0]), np.array([10.0])).tolist() == [1.0]
