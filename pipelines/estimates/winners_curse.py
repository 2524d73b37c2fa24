"""Whether lots that were bought come out worse than they looked: the mean error of their forecasts, shrunk."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.counts import require, require_columns
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because

#: Fewer lots, or groups of lots forecast from the same record, do not tell a habit from luck.
LEAST_LOTS, LEAST_GROUPS = 8, 4
#: SD of the prior of the share, around 0: a bias of over a third would be rare.
PRIOR_SD = 0.15


@dataclass(frozen=True)
class Curse:
    """How much more (below 0: less) won lots brought than forecast, as a share of the forecast, with limits.

    plain_share: the same before it is shrunk. is_shown: the limits lie below 0.
    """

    lots: int
    groups: int
    plain_share: float | None
    share: Estimate

    @property
    def is_shown(self) -> bool:
        return self.share.high is not None and self.share.high < 0


def winners_curse(rows: pd.DataFrame, *, level: float = 0.95) -> Curse:
    """Estimate by which share the results of bought lots differ from their forecasts.

    rows: a lot each: `forecast` (money, the expected value before the price), `came` (the same, as it came), `sd` of the
    forecast's distribution (> 0), `group`: lots of one group were forecast from one record, so their errors go together.
    Lots of which the forecast is not over 0 are left out. Fewer than 8 lots or 4 groups: `too_few_lots`.
    came = (1 + share) · forecast + error by weighted least squares, error SD ∝ sd; the variance is the larger of that of
    independent lots, that of independent groups (sums of score residuals), and that which the forecasts state; Student's t with
    groups − 1 degrees of freedom; then shrunk with a prior share ~ N(0, 0.15²).
    Errors of a forecast that learns from all lots before it are uncorrelated with those of the lots before, so groups suffice.
    Raises InputError on missing numbers or an sd that is not over 0.
    Source: Capen, Clapp & Campbell (1971), J. Petroleum Technology 23:641–653, for the curse; Liang & Zeger (1986), Biometrika
    73:13–22, for the variance (both from memory).
    """
    if not 0 < level < 1:
        raise InputError(f"A level of {level} is not a probability.", "Give a level between 0 and 1, such as 0.95.")
    require_columns(rows, ["forecast", "came", "sd", "group"])
    numbers = rows[["forecast", "came", "sd"]].to_numpy(dtype=float)
    require(np.isfinite(numbers).all(axis=1) & (numbers[:, 2] > 0), "a forecast is missing or has no sd", "Give all three.")
    is_used = numbers[:, 0] > 0
    forecast, came, sd = numbers[is_used].T
    group = pd.factorize(rows.loc[is_used, "group"])[0]
    lots, groups = len(forecast), int(group.max(initial=-1)) + 1
    if lots < LEAST_LOTS or groups < LEAST_GROUPS:
        return Curse(lots, groups, None, Estimate.refused(Because.TOO_FEW_LOTS))
    from scipy.stats import t

    pull = forecast / sd**2
    information = float((pull * forecast).sum())
    plain = float((pull * (came - forecast)).sum()) / information
    left = came - (1 + plain) * forecast
    of_lots = float(((left / sd) ** 2).sum()) / (lots - 1) / information
    of_groups = float((np.bincount(group, weights=pull * left) ** 2).sum()) * groups / (groups - 1) / information**2
    variance = max(of_lots, of_groups, 1 / information)
    kept = PRIOR_SD**2 / (PRIOR_SD**2 + variance)
    away = float(t.ppf((1 + level) / 2, groups - 1)) * sqrt(kept * variance)
    return Curse(lots, groups, plain, Estimate(plain * kept, plain * kept - away, plain * kept + away))
