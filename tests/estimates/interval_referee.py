"""A referee for limits of Turnbull's curve: the likelihood spell by spell on the finest cells, by scipy's SLSQP.

Nothing is shared with the estimator: every time of the log cuts, so no rule about innermost intervals is needed, and the
sum is held by a constraint. The likelihood is concave, so its slopes where the optimiser ends also bound what any other
curve could reach: the answer is two numbers between which the true drop lies.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.optimize import minimize

LARGEST_STEP, SMALLEST_STEP = 45.0, 1e-12


class Referee:
    """The log-likelihood of one group's spells (entry, lower, upper, spell_count) in steps of the cumulative hazard."""

    def __init__(self, spells: pd.DataFrame) -> None:
        entry, lower, upper, count = (spells[one].to_numpy(float) for one in ("entry", "lower", "upper", "spell_count"))
        is_failure = upper < np.inf
        ages = np.unique(np.concatenate([entry, lower, upper[is_failure]]))
        # Two places a time: just before it, where a failure at that very time begins, and just after it.
        begin, end, enter = (
            2 * np.searchsorted(ages, one) + after
            for one, after in ((lower, lower < upper), (np.where(is_failure, upper, lower), 1), (entry, 1))
        )
        cuts = np.unique(np.concatenate([begin, end, enter]))
        begin, end, enter = (np.searchsorted(cuts, one)[:, None] for one in (begin, end, enter))
        cell = np.arange(len(cuts) - 1)
        covers = ((cell >= begin) & (cell < end))[is_failure]
        is_used = covers.any(axis=0)
        self.to_at = ages[cuts[1:] // 2][is_used]
        self.surely = (count @ ((cell >= enter) & (cell < begin)))[is_used]
        self.covers, pair = np.unique(covers[:, is_used].astype(float), axis=0, return_inverse=True)
        self.failed = np.bincount(pair.ravel(), weights=count[is_failure])
        self.bounds = [(SMALLEST_STEP, LARGEST_STEP)] * len(self.to_at)
        self.top = np.full(len(self.to_at), 0.1)
        for _ in range(3):
            found = minimize(
                self.loss, self.top, jac=self.fall, method="L-BFGS-B", bounds=self.bounds,
                options={"maxiter": 20_000, "maxfun": 50_000, "ftol": 1e-15, "gtol": 1e-9, "maxcor": 30},
            )  # fmt: skip
            self.top = found.x

    def loss(self, step: np.ndarray) -> float:
        return float(self.surely @ step - self.failed @ np.log(-np.expm1(-self.covers @ step)))

    def fall(self, step: np.ndarray) -> np.ndarray:
        return self.surely - (self.failed / np.expm1(self.covers @ step)) @ self.covers

    def drops(self, given_at: float, age: float, share: float) -> tuple[float, float]:
        """Return a lower and an upper bound of the drop in log-likelihood where `share` of those at given_at reach the age."""
        is_held = (self.to_at <= age) & (self.to_at > given_at)
        hazard = -np.log(share)
        held = {"type": "eq", "fun": lambda step: step[is_held].sum() - hazard, "jac": lambda step: is_held.astype(float)}
        best = _holding(np.clip(self.top, 1e-6, 20.0), is_held, hazard)
        for _ in range(6):
            found = minimize(
                self.loss, best, jac=self.fall, method="SLSQP", bounds=self.bounds, constraints=[held],
                options={"maxiter": 500, "ftol": 1e-12},
            ).x  # fmt: skip
            found = _holding(np.maximum(found, SMALLEST_STEP), is_held, hazard)
            best = found if self.loss(found) <= self.loss(best) else best
            slope = -self.fall(best)
            most = hazard * slope[is_held].max() + LARGEST_STEP * np.maximum(slope[~is_held], 0.0).sum()
            drop, more = self.loss(best) - self.loss(self.top), most - slope @ best
            if more < 1e-3:
                break
        return drop - more, drop


def _holding(step: np.ndarray, is_held: np.ndarray, hazard: float) -> np.ndarray:
    """Return the steps, those held scaled to sum to the hazard."""
    return np.where(is_held, step * hazard / step[is_held].sum(), step)
