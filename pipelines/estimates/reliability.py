"""Whether predicted chances come true: reliability by bands, calibration slope, Brier score and log loss; out of sample."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.counts import require, require_columns, whole_counts
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile, wilson
from pipelines.estimates.ridge_logistic import ridge_logistic
from pipelines.estimates.triage import LEAST_ATTEMPTS, triage
from pipelines.vocabulary import Because

#: Chances this near to 0 or 1 are taken as that near, so that one surprise does not cost an endless loss.
EDGE = 1e-6

BAND_COLUMNS = ["chance", "k", "n", "share", "low", "high"]


@dataclass(frozen=True)
class Reliability:
    """Predicted chances held against results.

    bands: up to ten equal parts of the attempts by predicted chance, a row each: mean `chance`, `k` passed of `n`, `share`
    with Wilson's limits. slope, intercept: of logit P = intercept + slope · logit(chance); 1 and 0 are right, a slope under 1
    means too bold. brier, log_loss: mean over the attempts; plain_*: had each been given the plain share. Where nothing
    can be said `because` tells why, all else is None and there are no bands.
    """

    attempts: int
    bands: pd.DataFrame
    slope: Estimate
    intercept: Estimate
    brier: float | None
    plain_brier: float | None
    log_loss: float | None
    plain_log_loss: float | None
    because: Because | None = None


def reliability(
    chance: np.ndarray, k: np.ndarray, n: np.ndarray, *, plain: np.ndarray | None = None, bands: int = 10, level: float = 0.95
) -> Reliability:
    """Hold chances (0–1) against k passed of n; fractions are allowed as weights.

    plain: the plain share as known beforehand, by row; by default that of these attempts.
    Bands part at the quantiles of the chances over the attempts (type 7 of Hyndman & Fan 1996), closed on the right.
    No attempts give `no_attempts`; slope and intercept are refused as `one_result` where all passed or none did, and as
    `separated` where the chances part the passed from the failed or are all alike. Their limits are Wald's.
    Raises InputError unless 0 <= k <= n and 0 <= chance <= 1.
    Source: Brier (1950); Cox (1958), Biometrika 45:562–565; Hosmer & Lemeshow (1980) (all from memory).
    """
    z = normal_quantile(level)
    chance, k, n = (np.asarray(one, dtype=float) for one in (chance, k, n))
    require((k >= 0) & (k <= n) & np.isfinite(n), "`k` of `n` is not a share", "Count the passed among the attempts.")
    require((chance >= 0) & (chance <= 1), "A chance lies outside 0 to 1", "Give chances as shares.")
    plain = np.full(len(n), k.sum() / n.sum() if n.sum() else 0.5) if plain is None else np.asarray(plain, dtype=float)
    chance, k, n, plain = (one[n > 0] for one in (chance, k, n, plain))
    if not len(n):
        return _refused(0, Because.NO_ATTEMPTS)
    scores = [_mean_loss(loss, one, k, n) for loss in (_square, _surprise) for one in (chance, plain)]
    return Reliability(round(n.sum()), _banded(chance, k, n, bands, level), *_line(chance, k, n, z), *scores)


def out_of_sample(attempts: pd.DataFrame, *, level: float = 0.95) -> Reliability:
    """Predict each clean from the others, and hold the chances against what happened.

    attempts: counts as in `triage`, with `fold`: a number that all cleans of one controller share, so that none is predicted
    from its own other cleans. Each fold is predicted from all others, and so is its plain share.
    Refused as `too_few_attempts` like `triage`, and as `too_few_clusters` where there is one fold only.
    """
    require_columns(attempts, ["fold", "passed_count", "attempt_count"])
    n, k = (whole_counts(attempts, name).astype(float) for name in ("attempt_count", "passed_count"))
    if n.sum() < LEAST_ATTEMPTS:
        return _refused(int(n.sum()), Because.TOO_FEW_ATTEMPTS)
    chance, plain = np.zeros(len(n)), np.zeros(len(n))
    fold = attempts["fold"].to_numpy()
    for one in np.unique(fold[n > 0]):
        held = fold == one
        if not n[~held].sum():
            return _refused(int(n.sum()), Because.TOO_FEW_CLUSTERS)
        chance[held] = triage(attempts[~held], least_attempts=1).predicted(attempts[held])
        plain[held] = k[~held].sum() / n[~held].sum()
    return reliability(chance, k, n, plain=plain, level=level)


def _refused(attempts: int, because: Because) -> Reliability:
    none = Estimate.refused(because)
    return Reliability(attempts, pd.DataFrame(columns=BAND_COLUMNS), none, none, None, None, None, None, because)


def _square(error: np.ndarray) -> np.ndarray:
    return error**2


def _surprise(error: np.ndarray) -> np.ndarray:
    return -np.log(np.clip(1 - error, EDGE, 1.0))


def _mean_loss(loss, chance: np.ndarray, k: np.ndarray, n: np.ndarray) -> float:
    """Return the mean loss by how far the chance given to what happened lies from 1."""
    return float((k @ loss(1 - chance) + (n - k) @ loss(chance)) / n.sum())


def _banded(chance: np.ndarray, k: np.ndarray, n: np.ndarray, bands: int, level: float) -> pd.DataFrame:
    order = np.argsort(chance, kind="stable")
    chance, k, n = chance[order], k[order], n[order]
    # Attempts up to and with each row; the quantile of type 7 lies between two of them.
    until, last = np.cumsum(n), n.sum() - 1
    place = np.linspace(0, 1, bands + 1)[1:-1] * last
    below, above = (
        chance[np.minimum(np.searchsorted(until, one, side="right"), len(n) - 1)] for one in (place // 1, place // 1 + 1)
    )
    band = np.searchsorted(below + (place % 1) * (above - below), chance)
    rows = []
    for one in np.unique(band):
        mine = band == one
        size, passed = float(n[mine].sum()), float(k[mine].sum())
        share = wilson(passed, size, level=level)
        rows.append((float(chance[mine] @ n[mine] / size), passed, size, share.estimate, share.low, share.high))
    return pd.DataFrame(rows, columns=BAND_COLUMNS)


def _line(chance: np.ndarray, k: np.ndarray, n: np.ndarray, z: float) -> list[Estimate]:
    """Return slope and intercept of the results on the logit of the chances."""
    if k.sum() in (0, n.sum()):
        return [Estimate.refused(Because.ONE_RESULT)] * 2
    inner = np.clip(chance, EDGE, 1 - EDGE)
    logit = np.log(inner / (1 - inner))
    x = np.column_stack([np.ones(len(n)), logit])
    fit = ridge_logistic(x, k, n, prior_sd=np.full(2, np.inf)) if np.ptp(logit) > 1e-9 else None
    if fit is None:
        return [Estimate.refused(Because.SEPARATED)] * 2
    value, error = fit.coefficient, np.sqrt(np.diag(fit.covariance))
    return [Estimate(*(float(value[one] + side * z * error[one]) for side in (0, -1, 1))) for one in (1, 0)]
