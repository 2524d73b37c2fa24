"""The winner's curse: against least squares, made lots of known bias, and what it refuses."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipelines.errors import InputError
from pipelines.estimates.winners_curse import PRIOR_SD, Curse, winners_curse
from pipelines.vocabulary import Because


def lots(rng: np.random.Generator, count: int = 40, *, share: float = 0.0, together: float = 0.0) -> pd.DataFrame:
    """Return lots whose results are off by a share of the forecast, by their own luck, and by luck of their group."""
    forecast, group = rng.uniform(100, 900, count), np.sort(rng.integers(0, 10, count))
    sd = forecast * rng.uniform(0.1, 0.4, count)
    luck = np.sqrt(1 - together) * rng.normal(size=count) + np.sqrt(together) * rng.normal(size=10)[group]
    return pd.DataFrame({"forecast": forecast, "came": (1 + share) * forecast + sd * luck, "sd": sd, "group": group})


def test_the_plain_share_is_that_of_weighted_least_squares():
    rows = lots(np.random.default_rng(1), share=-0.1)
    x, y = rows["forecast"] / rows["sd"], (rows["came"] - rows["forecast"]) / rows["sd"]
    (slope,), _, _, _ = np.linalg.lstsq(x.to_numpy()[:, None], y.to_numpy(), rcond=None)
    found = winners_curse(rows)
    assert found.plain_share == pytest.approx(slope)
    assert 0 < found.share.estimate / slope < 1


def test_with_a_sharp_record_the_limits_are_those_of_students_t():
    """Lots alone in their groups, of one size: the mean error and its standard error, before shrinking."""
    rng = np.random.default_rng(2)
    off = rng.normal(-0.05, 0.01, 30)
    rows = pd.DataFrame({"forecast": 100.0, "came": 100 * (1 + off), "sd": 1e-6, "group": range(30)})
    kept = PRIOR_SD**2 / (PRIOR_SD**2 + off.var(ddof=1) / 30)
    low, high = stats.t.interval(0.95, 29, loc=off.mean(), scale=stats.sem(off))
    found = winners_curse(rows)
    assert found.share.estimate == pytest.approx(kept * off.mean())
    assert found.share.low == pytest.approx(low, abs=1e-4)
    assert found.share.high == pytest.approx(high, abs=1e-4)
    assert found.is_shown


@pytest.mark.parametrize(("share", "together"), [(0.0, 0.0), (0.0, 0.3), (-0.1, 0.0), (-0.1, 0.3), (0.1, 0.3)])
def test_limits_hold_the_true_share(share, together):
    rng, fleets = np.random.default_rng(5), 600
    found = [winners_curse(lots(rng, share=share, together=together)) for _ in range(fleets)]
    held = sum(one.share.low <= share <= one.share.high for one in found)
    assert held >= stats.binom.ppf(0.001, fleets, 0.95)
    if share == 0:
        assert sum(one.is_shown for one in found) <= stats.binom.ppf(0.999, fleets, 0.025)
    if share < 0:
        assert sum(one.is_shown for one in found) > fleets / 2


def test_order_currency_and_names_of_groups_change_nothing():
    rows = lots(np.random.default_rng(3), share=-0.2)
    first = winners_curse(rows)
    other = rows.sample(frac=1, random_state=1).assign(group=lambda frame: frame["group"].map("q{}".format))
    other[["forecast", "came", "sd"]] *= 1000
    found = winners_curse(other)
    assert (found.lots, found.groups) == (first.lots, first.groups)
    for name in ("estimate", "low", "high"):
        assert getattr(found.share, name) == pytest.approx(getattr(first.share, name))


def test_too_few_lots_or_groups_tell_nothing():
    rows = lots(np.random.default_rng(4))
    refused = Because.TOO_FEW_LOTS
    assert winners_curse(rows.head(0)) == Curse(0, 0, None, winners_curse(rows.head(0)).share)
    for few in (rows.head(0), rows.head(7), rows.assign(group=1), rows.assign(forecast=-5.0)):
        found = winners_curse(few)
        assert (found.share.because, found.plain_share, found.is_shown) == (refused, None, False)


def test_results_all_as_forecast_are_no_curse():
    rows = lots(np.random.default_rng(6))
    found = winners_curse(rows.assign(came=rows["forecast"]))
    assert found.share.estimate == 0
    assert found.share.low < 0 < found.share.high


def test_broken_rows_are_refused():
    rows = lots(np.random.default_rng(7))
    for wrong in (rows.assign(sd=0.0), rows.assign(came=np.nan), rows.drop(columns="group")):
        with pytest.raises(InputError):
            winners_curse(wrong)
    with pytest.raises(InputError):
        winners_curse(rows, level=1.0)
