"""What is expected of units against the gamma-Poisson model by plain quadrature; order of rows and unit of time do not matter."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import integrate, optimize, stats

from pipelines.errors import InputError
from pipelines.estimates import expected_after as module
from pipelines.estimates.expected_after import VARIATIONS, expected_after


def units(count: int = 60, *, seed: int = 1, variation: float = 0.6, mean: float = 3.0) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    own = rng.gamma(variation**-2, variation**2, count) * mean
    before, after = rng.uniform(0.5, 2, (2, count))
    return pd.DataFrame({
        "before_faults": rng.poisson(own * before), "before_exposure": before,
        "after_faults": rng.poisson(own * after), "after_exposure": after,
    })  # fmt: skip


@pytest.mark.parametrize("node", [5, 12, 25])
def test_each_node_is_the_posterior_mean_of_a_gamma_poisson_fleet(node):
    """Against scipy: the mean rate by a bounded search, the expectation by integrating over the rate of each unit."""
    frame = units()
    n, h, later = (frame[name].to_numpy() for name in ("before_faults", "before_exposure", "after_exposure"))
    a = VARIATIONS[node] ** -2.0
    mean = optimize.minimize_scalar(
        lambda m: -stats.nbinom.logpmf(n, a, a / (a + m * h)).sum(), bounds=(0.1, 20), method="bounded", options={"xatol": 1e-10}
    ).x
    expected = []
    for count, hours, ahead in zip(n, h, later, strict=True):

        def told(rate, count=count, hours=hours):
            return stats.gamma.pdf(rate, a, scale=mean / a) * stats.poisson.pmf(count, rate * hours)

        weight = integrate.quad(told, 0, 60, limit=200)[0]
        expected.append(ahead * integrate.quad(lambda rate, told=told: rate * told(rate), 0, 60, limit=200)[0] / weight)
    assert expected_after([frame]).faults[node, 0] == pytest.approx(sum(expected), rel=1e-5)


def test_nodes_are_weighed_by_the_negative_binomial_likelihood():
    frame = units(20)
    found = expected_after([frame])
    n, h = frame["before_faults"].to_numpy(), frame["before_exposure"].to_numpy()
    told = []
    for variation in VARIATIONS:
        a = variation**-2.0
        best = optimize.minimize_scalar(
            lambda m, a=a: -stats.nbinom.logpmf(n, a, a / (a + m * h)).sum(), bounds=(0.1, 30), method="bounded"
        )
        told.append(-best.fun - (variation / module.VARIATION_SD) ** 2 / 2)
    weight = np.exp(np.array(told) - max(told))
    assert found.weight == pytest.approx(weight / weight.sum(), abs=1e-6)


def test_units_all_alike_are_expected_to_have_the_mean_and_very_different_ones_their_own():
    frame = units(variation=1e-3, count=400)
    worst = frame["before_faults"] / frame["before_exposure"] > 6
    found = expected_after([frame[worst], frame[~worst]])
    mean = frame["before_faults"].sum() / frame["before_exposure"].sum()
    assert np.exp(found.log(0)[0]) == pytest.approx(mean * frame.loc[worst, "after_exposure"].sum(), rel=0.15)
    apart = pd.DataFrame({"before_faults": [900, 100] * 20, "before_exposure": 1.0, "after_faults": 1, "after_exposure": 1.0})
    own = expected_after([apart.iloc[::2], apart.iloc[1::2]])
    assert np.exp(own.log(0)[0]) == pytest.approx(900 * 20, rel=0.01)


def test_order_of_rows_and_unit_of_time_do_not_matter():
    frame = units()
    parts = [frame.iloc[:20], frame.iloc[20:]]
    one = expected_after(parts)
    shuffled = expected_after([part.sample(frac=1, random_state=1) for part in parts])
    hours = expected_after([part.assign(before_exposure=part["before_exposure"] * 70, after_exposure=part["after_exposure"] * 70)
                            for part in parts])  # fmt: skip
    for other in (shuffled, hours):
        assert other.log(0, against=1) == pytest.approx(one.log(0, against=1))


def test_nobody_failed_and_bad_frames():
    frame = units(5)
    assert expected_after([frame.assign(before_faults=0)]) is None
    with pytest.raises(InputError):
        expected_after([frame.assign(before_exposure=0.0)])
    with pytest.raises(InputError):
        expected_after([frame, frame.iloc[:0]])
    with pytest.raises(InputError):
        expected_after([frame.drop(columns="after_faults")])
