"""Sellers against each other: who is worse beyond doubt, and how seldom that is said of one who is not."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipelines.decisions.sellers import Against, standings
from pipelines.estimates.crossed_share import crossed_share


def lots(rng: np.random.Generator, sellers: dict[str, float], *, each: int = 8, units: int = 40, sd: float = 0.3) -> pd.DataFrame:
    """Return lots of sellers whose logits are shifted by so much."""
    rows = []
    for seller, shift in sellers.items():
        for number in range(each):
            p = 1 / (1 + np.exp(-(0.3 + shift + sd * rng.normal())))
            rows.append(("untested", "Nolm", seller, f"{seller}{number}", rng.binomial(units, p), units))
    return pd.DataFrame(rows, columns=["condition", "family", "seller", "lot", "k", "n"])


def test_a_far_worse_seller_is_named_and_stands_first():
    sellers = {"Alder": 0.1, "Birch": 0.0, "Cedar": -1.6, "Doum": 0.0, "Elder": 0.2}
    found = standings(crossed_share(lots(np.random.default_rng(1), sellers)))
    assert found[0].effect.name == "Cedar"
    assert found[0].against is Against.WORSE
    assert [one.effect.odds_ratio.estimate for one in found] == sorted(one.effect.odds_ratio.estimate for one in found)


def test_of_many_equal_sellers_hardly_one_is_called_worse_or_better():
    """Thirty sellers alike: a plain 95 % of each would name some in most fleets."""
    rng, named = np.random.default_rng(2), 0
    for _ in range(20):
        found = standings(crossed_share(lots(rng, dict.fromkeys(map("S{:02d}".format, range(30)), 0.0), each=3)))
        named += any(one.against is not Against.CANNOT_TELL for one in found)
    assert named <= 3


def test_the_limits_shown_are_of_one_seller_alone():
    shares = crossed_share(lots(np.random.default_rng(3), {"Alder": 0.4, "Birch": -0.4}))
    alone = {one.name: one.odds_ratio for one in shares.sellers(level=0.9)}
    assert {one.effect.name: one.effect.odds_ratio for one in standings(shares, level=0.9)} == alone


def test_without_sellers_there_is_nobody_to_name():
    rows = lots(np.random.default_rng(4), {"Alder": 0.0}).assign(seller=None)
    assert standings(crossed_share(rows)) == []
