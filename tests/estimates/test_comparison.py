"""Weibull against lognormal: the right law on known truth, and refusals."""

from __future__ import annotations

from dataclasses import replace

import lifelines
import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.comparison import BetterLaw, comparison
from pipelines.estimates.lognormal import lognormal
from pipelines.estimates.weibull import weibull
from pipelines.vocabulary import Because
from tests.estimates.spells import random_spells, table


def compared(spells, **options):
    return comparison(weibull(spells, by=[], **options)[0], lognormal(spells, by=[], **options)[0])


def complete(life: np.ndarray) -> pd.DataFrame:
    return pd.DataFrame({"entry": 0.0, "lower": life, "upper": life, "spell_count": 1})


def test_the_difference_is_that_of_lifelines():
    spells = random_spells(7, spells=400)
    aic = [
        fitter.fit(spells["at"], spells["is_failure"], entry=spells["entry"]).AIC_
        for fitter in (lifelines.WeibullFitter(), lifelines.LogNormalFitter())
    ]
    found = compared(spells)
    assert found.aic_difference == pytest.approx(aic[0] - aic[1], abs=1e-4)


@pytest.mark.parametrize("seed", range(5))
def test_a_large_fleet_shows_the_law_it_was_drawn_from(seed):
    rng = np.random.default_rng(seed)
    assert compared(complete(900 * rng.weibull(2.0, 500))).better is BetterLaw.WEIBULL
    assert compared(complete(900 * np.exp(0.7 * rng.standard_normal(500)))).better is BetterLaw.LOGNORMAL


def test_small_fleets_are_mostly_too_close_and_the_ratios_say_what_the_law_alone_does():
    close = 0
    for seed in range(10):
        spells = random_spells(seed, spells=25)
        found = compared(spells)
        assert (found.better is BetterLaw.TOO_CLOSE) == (abs(found.aic_difference) < 2)
        fits = weibull(spells, by=[])[0], lognormal(spells, by=[])[0]
        assert found.b10_ratio == fits[1].b10.estimate / fits[0].b10.estimate
        assert found.median_ratio == fits[1].median.estimate / fits[0].median.estimate
        close += found.better is BetterLaw.TOO_CLOSE
    assert close >= 5


@pytest.mark.parametrize(
    ("log_likelihood", "better"),
    [(-9.0, BetterLaw.LOGNORMAL), (-9.01, BetterLaw.TOO_CLOSE), (-10.99, BetterLaw.TOO_CLOSE), (-11.0, BetterLaw.WEIBULL)],
)
def test_a_difference_of_exactly_two_is_clear_and_one_under_it_is_not(log_likelihood, better):
    spells = random_spells(3, spells=40)
    fits = weibull(spells, by=[])[0], lognormal(spells, by=[])[0]
    assert comparison(replace(fits[0], log_likelihood=-10.0), replace(fits[1], log_likelihood=log_likelihood)).better is better


def test_the_unit_of_time_and_the_order_of_rows_change_nothing():
    spells = random_spells(6, spells=80)
    scaled = spells.sample(frac=1, random_state=2).assign(**{one: spells[one] / 24 for one in ("entry", "lower", "upper")})
    one, other = compared(spells), compared(scaled)
    assert other.aic_difference == pytest.approx(one.aic_difference, abs=1e-7)
    assert (other.b10_ratio, other.median_ratio) == pytest.approx((one.b10_ratio, one.median_ratio), rel=1e-8)


@pytest.mark.parametrize(
    ("rows", "because"),
    [
        ("0 500 inf 40", Because.NO_FAILURES),
        ("0 300 300 2", Because.TOO_FEW_FAILURES),
        ("0 300 300 9", Because.FIT_FAILED),
    ],
)
def test_without_a_fit_there_is_a_reason_and_no_verdict(rows, because):
    found = compared(table("entry lower upper spell_count\n" + rows))
    assert found.because is because
    assert (found.aic_difference, found.better, found.b10_ratio, found.median_ratio) == (None,) * 4


def test_fits_of_different_spells_are_refused():
    with pytest.raises(InputError, match="same spells"):
        comparison(weibull(random_spells(5, spells=25), by=[])[0], lognormal(random_spells(6, spells=80), by=[])[0])
