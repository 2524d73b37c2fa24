"""The likelihood of gaps: against numerical integration over the factor of each controller, and its own differences."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import gammaln

from pipelines.estimates.restoration import Memory, log_likelihood
from pipelines.estimates.restoration_gaps import chained, checked
from pipelines.estimates.restoration_likelihood import Likelihood
from tests.estimates.gaps import random_fleet


def late(gaps, entry: float):
    """Every second module is first watched at an age of up to `entry`."""
    is_late = (gaps["gap_number"] == 1) & (gaps["module"] % 2 == 0)
    return gaps.assign(entry=np.where(is_late, np.minimum(gaps["lower"], entry), 0.0))


KINDS = {
    "exact": random_fleet(1, controllers=6).gaps,
    "visited": random_fleet(2, controllers=6, every=100.0).gaps,
    "rarely visited": random_fleet(3, controllers=6, every=400.0).gaps,
    "planned and late": late(random_fleet(4, controllers=6, every=100.0, planned=250.0, kept=(0.2, 0.8)).gaps, 80.0),
}


def integrated(gaps, *, shape: float, scale: float, shares: dict, is_whole: bool, variance: float) -> float:
    """The same likelihood module by module in plain loops, the factor of a controller integrated numerically."""
    total = 0.0
    for _, mine in gaps.groupby("cluster"):
        log_density, failures, at_risk, before_entry, widths = 0.0, 0, 0.0, 0.0, []
        for _, module in mine.sort_values("gap_number").groupby("module"):
            age, gained = 0.0, 0.0
            for gap in module.itertuples():
                if gap.depth is not None:
                    kept = 1 - shares[gap.depth]
                    age = kept * (age + gained) if is_whole else age + kept * gained
                gained = gap.lower if np.isinf(gap.upper) else gap.upper
                hazard = [((age + one) / scale) ** shape for one in (0.0, gap.entry, gap.lower, gap.upper)]
                at_risk += hazard[2] - hazard[0]
                before_entry += hazard[1] - hazard[0]
                if gap.lower == gap.upper:
                    failures += 1
                    log_density += np.log(shape / scale) + (shape - 1) * np.log((age + gap.lower) / scale)
                elif np.isfinite(gap.upper):
                    widths.append(hazard[3] - hazard[2])

        def log_of(y: float) -> float:
            z, inverse = np.exp(y), 1 / variance
            prior = inverse * np.log(inverse) - gammaln(inverse) + inverse * (y - z)
            return prior + failures * y - z * at_risk + np.log(-np.expm1(-z * np.array(widths))).sum()  # noqa: B023

        top = max(log_of(y) for y in np.linspace(-6, 3, 200))
        area = quad(lambda y: np.exp(log_of(y) - top), -40, 5, points=[-6, -3, -1, 0, 1, 2], limit=400, epsabs=0, epsrel=1e-11)[0]  # noqa: B023
        total += log_density + top + np.log(area) + np.log1p(variance * before_entry) / variance
    return total


@pytest.mark.parametrize("memory", Memory)
@pytest.mark.parametrize("variance", [0.05, 0.3, 1.5])
@pytest.mark.parametrize("kind", KINDS)
def test_the_factor_of_each_controller_is_integrated_out(kind, variance, memory):
    gaps, shares = KINDS[kind], {"a": 0.7, "b": 0.3}
    shares = {depth: shares[depth] for depth in gaps["depth"].dropna().unique()}
    found = log_likelihood(gaps, shape=2.2, scale=500.0, restoration_share=shares, memory=memory, variance_between=variance)
    theirs = integrated(gaps, shape=2.2, scale=500.0, shares=shares, is_whole=memory is Memory.WHOLE, variance=variance)
    assert found == pytest.approx(theirs, abs=1e-6)


@pytest.mark.parametrize("kind", KINDS)
def test_a_vanishing_variance_is_one_factor_for_all(kind):
    shares = {depth: 0.5 for depth in KINDS[kind]["depth"].dropna().unique()}
    values = [
        log_likelihood(KINDS[kind], shape=2.2, scale=500.0, restoration_share=shares, variance_between=variance)
        for variance in (0.0, 1e-12, 1e-9)
    ]
    assert values[1:] == pytest.approx([values[0]] * 2, abs=1e-5)


@pytest.mark.parametrize("is_whole", [True, False])
@pytest.mark.parametrize("variance", [1e-7, 1e-3, 0.3, 1.5])
@pytest.mark.parametrize("kind", KINDS)
def test_the_slopes_are_those_of_the_value(kind, variance, is_whole):
    chain = chained(checked(KINDS[kind]))
    likelihood = Likelihood(chain, np.full(len(chain.kinds), is_whole))
    at = np.array([1.5, 2.2, *[0.3, 0.7][: len(chain.kinds)], variance])

    def slopes(x: np.ndarray):
        return likelihood.slopes(x[0], x[1], x[2:-1], x[-1])

    found = slopes(at)
    steps = np.diag(1e-4 * np.maximum(at, 1e-6))
    by_steps = [(slopes(at + step).value - slopes(at - step).value) / (2 * step.sum()) for step in steps[:-1]]
    assert [found.c, found.shape, *found.kept] == pytest.approx(by_steps, rel=1e-4, abs=1e-4)
    if variance >= 1e-3:
        by_step = (slopes(at + steps[-1]).value - slopes(at - steps[-1]).value) / (2 * steps[-1].sum())
        assert found.variance == pytest.approx(by_step, rel=1e-3, abs=1e-3)


def test_a_narrow_interval_is_as_good_as_an_exact_failure():
    gaps, width = KINDS["exact"], 1e-4
    is_failure = np.isfinite(gaps["upper"])
    narrow = gaps.assign(lower=gaps["lower"].where(~is_failure, gaps["lower"] - width))
    given = {"shape": 2.2, "scale": 500.0, "restoration_share": {"a": 0.5}, "variance_between": 0.3}
    assert log_likelihood(narrow, **given) - is_failure.sum() * np.log(width) == pytest.approx(
        log_likelihood(gaps, **given), abs=1e-3
    )
