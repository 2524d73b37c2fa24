"""Fleets of cleaning attempts of known chance, for the tests of triage."""

from __future__ import annotations

import numpy as np
import pandas as pd

FAMILIES = 8
#: SD on the logit of what the attempts on one controller share; a controller has up to three.
CONTROLLER_SD = 0.4
NODES, PARTS = np.polynomial.hermite_e.hermegauss(9)
PARTS = PARTS / PARTS.sum()


class Fleet:
    """One invented fleet: families differ by chance, readings go with each other, worse ones pass less often."""

    def __init__(self, rng: np.random.Generator) -> None:
        self._rng = rng
        self.mix = rng.dirichlet(np.full(FAMILIES, 2.0))
        self.family_effect = rng.normal(0, 0.6, FAMILIES)

    def attempts(self, count: int, *, blank_share: float = 0.2) -> pd.DataFrame:
        """Return one row an attempt: the columns of triage, fold, and `chance`, the true one of such a stick.

        blank_share: of the rest offsets, not read.
        """
        rng = self._rng
        unit = np.sort(rng.integers(0, max(count // 2, 1), count))
        family = rng.choice(FAMILIES, count, p=self.mix)[unit]
        severity = rng.normal(size=count)
        offset = np.exp(2 + 0.5 * severity + 0.3 * rng.normal(size=count))
        jitter = np.exp(1 + 0.4 * severity + 0.4 * rng.normal(size=count))
        number = np.minimum(rng.geometric(0.7, count), 4)
        mode = rng.choice(3, count, p=[0.5, 0.3, 0.2])
        logit = (
            1.2 + self.family_effect[family] - 0.12 * (offset - 8) - 0.15 * (jitter - 3) - 0.5 * (number - 1)
            + np.array([0, -0.5, -1.2])[mode]
        )  # fmt: skip
        own = CONTROLLER_SD * rng.normal(size=count)[unit]
        chance = (1 / (1 + np.exp(-logit[:, None] - CONTROLLER_SD * NODES))) @ PARTS
        return pd.DataFrame({
            "family": np.array([f"F{one}" for one in range(FAMILIES)])[family],
            "sensor_type": np.where(family < FAMILIES // 2, "carbon_pot", "hall"),
            "mode": np.array(["jitter", "poor_return", "dead_spot"])[mode],
            "af_rest_offset_pct": np.where(rng.random(count) < blank_share, np.nan, offset),
            "af_jitter_pct": jitter,
            "attempt_number": number,
            "passed_count": (rng.random(count) < 1 / (1 + np.exp(-logit - own))).astype(int),
            "attempt_count": 1,
            "fold": unit % 5,
            "chance": chance,
        })  # fmt: skip
