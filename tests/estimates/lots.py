"""Made lots of known truth, for the tests of what lots turn into and are worth."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipelines.estimates.lot_fate import FATES
from pipelines.estimates.lot_inputs import Amount, LotInputs, Portion

COLUMNS = ["condition", "family", "seller", "lot", "k", "n"]


def lines(*rows: tuple) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=COLUMNS)


def made_lines(rng: np.random.Generator, *, lots: int, families: int = 12, sellers: int = 6, conditions: int = 3) -> pd.DataFrame:
    """Return lots of one to three families, 8 to 50 units of each."""
    by_condition, by_family = rng.normal(0.3, 0.6, conditions), rng.normal(0, 0.6, families)
    by_seller, luck = rng.normal(0, 0.3, sellers), rng.normal(0, 0.5, lots)
    rows = []
    for lot in range(lots):
        condition, seller = rng.integers(conditions), rng.integers(sellers)
        for family in rng.choice(families, min(rng.integers(1, 4), families), replace=False):
            n = rng.integers(8, 51)
            p = 1 / (1 + np.exp(-(by_condition[condition] + by_family[family] + by_seller[seller] + luck[lot])))
            rows.append((condition, family, seller, lot, rng.binomial(n, p), n))
    return lines(*rows)


def made_fates(rng: np.random.Generator, **sizes: int) -> pd.DataFrame:
    """Return the fates of made lots, in the long form: three lines' worth of shares, one after another."""
    made = made_lines(rng, **sizes)
    left, parts = made["n"].to_numpy(), []
    for chance, fate in zip((None, 0.6, 0.7), FATES, strict=False):
        units = made["k"].to_numpy() if chance is None else rng.binomial(left, chance)
        parts.append(made.assign(fate=fate, units=units))
        left = left - units
    return pd.concat([*parts, made.assign(fate=FATES[-1], units=left)]).drop(columns=["k", "n"])


def plain_inputs(**changed: Amount | Portion) -> LotInputs:
    """Return inputs that are known for certain and the same for all units, apart from what is changed."""
    plain = {
        "resale": Amount(30.0), "other_fault": Portion(0.0), "bench_h": Amount(0.5), "labour_per_h": Amount(12.0),
        "parts_per_unit": Amount(np.array([0.0, 0.0, 1.0, 0.0])), "part_cost": Amount(4.0), "consumables": Amount(0.5),
        "selling_fee": Portion(0.1), "freight_out": Amount(3.0), "returned": Portion(0.0), "return_cost": Amount(20.0),
        "harvest": Amount(2.0),
    }  # fmt: skip
    return LotInputs(**(plain | changed))
