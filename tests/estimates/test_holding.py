"""How long cleans hold: the share of known fleets, also where what a clean gives back cannot be told."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom, t

from pipelines.estimates.restoration import restoration
from pipelines.vocabulary import Because
from tests.estimates.gaps import random_fleet


@pytest.mark.parametrize(
    "truth",
    [
        {"shape": 2.5, "kept": (0.3, 0.8)},
        {"shape": 1.3, "kept": (0.3, 0.8)},
        {"shape": 1.3, "kept": (0.3, 0.8), "every": 100.0, "variance": 0.0},
    ],
)
def test_the_true_share_lies_within_the_limits(truth):
    # The two depths of a fleet share its fit, so they count as one: 0.1 % of such sets of fleets would cover less often if
    # every limit held 95 %. The middle of the errors is as near to 0 as their own spread lets it, at the same odds.
    fleets = 30
    covered, gone_wrong = [], []
    for seed in range(9100, 9100 + fleets):
        fleet = random_fleet(seed, controllers=40, **truth)
        parts = [(effect.holding_share, fleet.holding_share(effect.depth, horizon=150.0))
                 for effect in restoration(fleet.gaps, by=[], horizon=150.0)[0].effects]  # fmt: skip
        covered.append(np.mean([share.low <= true <= share.high for share, true in parts]))
        gone_wrong.append(np.mean([share.estimate - true for share, true in parts]))
    assert np.sum(covered) >= binom.ppf(0.001, fleets, 0.95)
    assert abs(np.mean(gone_wrong)) < t.ppf(0.9995, fleets - 1) * np.std(gone_wrong, ddof=1) / fleets**0.5


def test_a_horizon_beyond_any_watch_is_refused_and_a_longer_one_holds_less():
    gaps = random_fleet(9, controllers=20).gaps
    shares = [restoration(gaps, by=[], horizon=horizon)[0].effects[0].holding_share for horizon in (50.0, 150.0, 1e6)]
    assert shares[0].estimate > shares[1].estimate
    assert (shares[2].estimate, shares[2].because) == (None, Because.NO_FOLLOW_UP)


def test_the_same_log_gives_the_same_limits():
    gaps = random_fleet(9, controllers=20).gaps
    one, other = (restoration(gaps, by=[], horizon=100.0)[0].effects[0].holding_share for _ in range(2))
    assert one == other


def test_a_wider_level_gives_wider_limits():
    gaps = random_fleet(9, controllers=20).gaps
    narrow, wide = (restoration(gaps, by=[], horizon=100.0, level=level)[0].effects[0].holding_share for level in (0.8, 0.99))
    assert wide.low < narrow.low < narrow.high < wide.high
