"""Merging very many intervals: what the cells keep, and fits that stay where the intervals themselves put them."""

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize
from scipy.stats import lognorm, norm, weibull_min

from pipelines.estimates.life_merging import MOST_INTERVALS, merged
from pipelines.estimates.lognormal import lognormal
from pipelines.estimates.weibull import weibull


def visited(law, *, size: int = 60_000, seed: int = 3) -> pd.DataFrame:
    """Return counts of spells whose failures lie between visits of their own, of very many distinct bounds."""
    rng = np.random.default_rng(seed)
    life, last = law.rvs(size, random_state=rng), rng.uniform(100, 1500, size)
    width = rng.integers(10, 300, size).astype(float)
    begin = np.floor(rng.random(size) * width)
    lower = np.maximum(np.floor((life - begin) / width) * width + begin, 0)
    upper = np.floor((life - begin) / width) * width + begin + width
    is_failure = upper <= last
    rows = pd.DataFrame(
        {"entry": 0.0, "lower": np.where(is_failure, lower, np.ceil(last)), "upper": np.where(is_failure, upper, np.inf)}
    )
    return rows.groupby(["entry", "lower", "upper"]).size().rename("spell_count").reset_index()


def by_rows(spells: pd.DataFrame, law, start: list[float]) -> np.ndarray:
    """Return shape and scale by scipy's own optimiser over every interval."""
    lower, upper, count = (spells[name].to_numpy(float) for name in ("lower", "upper", "spell_count"))

    def loss(at: np.ndarray) -> float:
        of = law(np.exp(at[0]), scale=np.exp(at[1]))
        return -float(count @ np.log(of.sf(lower) - of.sf(upper))) / count.sum()

    return np.exp(minimize(loss, np.log(start), method="Nelder-Mead", options={"xatol": 1e-7, "fatol": 1e-13}).x)


@pytest.mark.parametrize("shape", [0.7, 1.8, 4.0])
def test_a_weibull_fit_stays_where_every_interval_puts_it(shape):
    spells = visited(weibull_min(shape, scale=900))
    (fit,) = weibull(spells, by=[])
    expected = by_rows(spells, weibull_min, [shape, 900.0])
    assert [fit.shape.estimate, fit.scale.estimate] == pytest.approx(expected, rel=1e-4)


def test_a_lognormal_fit_stays_where_every_interval_puts_it():
    spells = visited(lognorm(0.6, scale=700))
    (fit,) = lognormal(spells, by=[])
    log_sd, median = by_rows(spells, lognorm, [0.6, 700.0])
    assert [fit.log_sd.estimate, fit.median.estimate] == pytest.approx([log_sd, median], rel=1e-5)
    assert fit.b10.estimate == pytest.approx(median * np.exp(log_sd * norm.ppf(0.1)), rel=1e-5)


def test_groups_with_few_intervals_keep_them_and_others_keep_their_moments():
    rng = np.random.default_rng(4)
    code = np.repeat([0, 2], [MOST_INTERVALS, 5_000])
    middle, half = rng.normal(0, 0.5, len(code)), rng.uniform(0.001, 0.2, len(code)) * (rng.random(len(code)) < 0.95)
    count = rng.integers(1, 5, len(code))
    found = merged(code, middle, half, count, size=3)
    is_few = found[0] == 0
    assert all((one[is_few] == old[code == 0]).all() for one, old in zip(found, (code, middle, half, count), strict=True))
    assert (~is_few).sum() < 2_000
    for old, new in ((code == 2, found[0] == 2), ((code == 2) & (half == 0), (found[0] == 2) & (found[2] == 0))):
        assert found[3][new].sum() == pytest.approx(count[old].sum(), rel=1e-12)
        for power in (1, 2):
            assert found[3][new] @ found[1][new] ** power == pytest.approx(count[old] @ middle[old] ** power, rel=1e-10)
    old, new = (code == 2) & (half > 0), (found[0] == 2) & (found[2] > 0)
    assert found[3][new] @ np.log(found[2][new]) == pytest.approx(count[old] @ np.log(half[old]), rel=1e-12)
    assert found[3][new] @ found[2][new] ** 2 == pytest.approx(count[old] @ half[old] ** 2, rel=1e-12)


def test_equal_intervals_stay_one():
    code, middle, half = np.zeros(1_000, dtype=np.int64), np.repeat([1.0, 2.0], 500), np.repeat([0.1, 0.3], 500)
    found = merged(code, middle, half, np.ones(1_000), size=1)
    assert found[1] == pytest.approx([1, 2])
    assert found[2] == pytest.approx([0.1, 0.3])
    assert found[3].tolist() == [500, 500]
