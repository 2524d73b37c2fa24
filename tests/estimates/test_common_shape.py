"""One shape for all or one each: against the separate fits, against scipy, and against simulated truth."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.estimates.common_shape import common_shape
from pipelines.estimates.lives import checked
from pipelines.estimates.weibull import weibull
from pipelines.vocabulary import Because
from tests.estimates.spells import random_spells, visited


def compared(spells: pd.DataFrame, *, min_failures: int = 6):
    return common_shape(checked(spells, by=["group"], entries=None), min_failures=min_failures)


def log_likelihood(spells: pd.DataFrame, shape: float, scale: float) -> float:
    entry, lower, upper = ((spells[name].to_numpy(dtype=float) / scale) ** shape for name in ("entry", "lower", "upper"))
    is_exact, is_well = lower == upper, np.isinf(upper)
    density = np.log(shape / scale) + (shape - 1) * np.log(np.maximum(spells["lower"] / scale, 1e-300)) - lower
    between = np.log(np.maximum(np.exp(-lower) - np.exp(-upper), 1e-300))
    return float((np.where(is_exact, density, np.where(is_well, -lower, between)) + entry).sum())


@pytest.mark.parametrize("every", [None, 150.0])
def test_the_ratio_is_that_of_separate_fits_to_the_best_common_one(every):
    from scipy.optimize import minimize_scalar

    spells = random_spells(3, spells=120, groups=3, late_share=0.2 if every is None else 0.0)
    spells = spells if every is None else visited(spells, every=every)
    groups = [rows for _, rows in spells.groupby("group")]

    def at_one_shape(shape: float) -> float:
        return sum(
            minimize_scalar(lambda b, rows=rows: -log_likelihood(rows, shape, np.exp(b)), bounds=(4, 10), method="bounded",
                            options={"xatol": 1e-9}).fun for rows in groups)  # fmt: skip

    best = minimize_scalar(at_one_shape, bounds=(0.5, 5), method="bounded", options={"xatol": 1e-7}).fun
    separate = sum(fit.log_likelihood for fit in weibull(spells, by=["group"]))
    found = compared(spells)
    assert found.ratio == pytest.approx(2 * (separate + best), abs=1e-4)
    assert (found.families, found.degrees_of_freedom) == (3, 2)


@pytest.mark.parametrize("failures", [6, 20])
def test_families_of_one_shape_are_seldom_said_to_differ(failures):
    rng = np.random.default_rng(failures)
    p = []
    for _ in range(150):
        times = 500 * rng.weibull(2.0, (8, failures))
        rows = pd.DataFrame({"group": np.repeat(np.arange(8), failures), "lower": times.ravel(), "upper": times.ravel()})
        p.append(compared(rows.assign(entry=0.0, spell_count=1)).p)
    # The binomial 99.9 % bounds of 150 at 5 % and at 1 %.
    assert np.mean(np.array(p) < 0.05) <= 0.12
    assert np.mean(np.array(p) < 0.01) <= 0.047


def test_families_of_two_shapes_are_said_to_differ():
    early, late = random_spells(6, spells=300, shape=1.0), random_spells(7, spells=300, shape=3.0)
    assert compared(pd.concat([early, late.assign(group=1)])).is_plausible is False
    assert compared(pd.concat([late, random_spells(8, spells=300, shape=3.0).assign(group=1)])).is_plausible is True


def test_with_one_family_or_too_few_failures_there_is_a_reason():
    for spells in (random_spells(9, spells=50), random_spells(9, spells=12, groups=5), random_spells(9, spells=12).head(0)):
        found = compared(spells)
        assert (found.is_plausible, found.ratio, found.because) == (None, None, Because.TOO_FEW_FAILURES)
