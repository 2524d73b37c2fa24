"""Random fleets of sticks that are cleaned again and again, with a known truth, for the tests of restoration."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd


@dataclass(frozen=True)
class Fleet:
    """gaps: as `restoration` takes them; the age at each gap's start and the factor of its controller are the truth."""

    gaps: pd.DataFrame
    age: np.ndarray
    factor: np.ndarray
    shape: float
    scale: float

    def holding_share(self, depth: str, *, horizon: float) -> float:
        """Return the chance, averaged over the watched cleans of a depth, to be still good at the horizon."""
        mine = ((self.gaps["depth"] == depth) & (self.gaps[["lower", "upper"]].replace(np.inf, 0).max(axis=1) > 0)).to_numpy()
        start, end = (self.age[mine] / self.scale) ** self.shape, ((self.age[mine] + horizon) / self.scale) ** self.shape
        return float(np.exp(-self.factor[mine] * (end - start)).mean())


def random_fleet(
    seed: int,
    *,
    controllers: int = 60,
    shape: float = 2.5,
    scale: float = 500.0,
    kept: tuple[float, ...] = (0.5,),
    variance: float = 0.3,
    end: float = 1500.0,
    is_whole: bool = True,
    every: float | None = None,
    planned: float | None = None,
) -> Fleet:
    """Return a fleet of controllers with two sticks each, watched for half to one and a half times `end` hours.

    kept: the share of age that a clean of depth "a", "b", … leaves; every failure is cleaned, at a depth by chance;
    every: failures are found, and cleaned, only at visits so far apart; planned: cleans after so long without a failure.
    """  # fmt: skip
    rng = np.random.default_rng(seed)
    rows, ages, factors = [], [], []
    for controller in range(controllers):
        factor = rng.gamma(1 / variance, variance) if variance else 1.0
        for stick in range(2):
            age, now, number, depth = 0.0, 0.0, 1, None
            stop = end * rng.uniform(0.5, 1.5)
            while now < stop:
                failed = now + scale * ((age / scale) ** shape + rng.exponential() / factor) ** (1 / shape) - age
                visit = np.ceil(failed / every) * every if every else failed
                before = max(visit - every, now) if every else failed
                plan = now + planned if planned else np.inf
                cut = min(stop, plan)
                if every and plan >= stop:
                    cut = max(np.floor(stop / every) * every, now)
                is_failure = visit <= cut
                upto = visit if is_failure else cut
                ages.append(age)
                factors.append(factor)
                bounds = (before - now, visit - now) if is_failure else (cut - now, np.inf)
                rows.append((2 * controller + stick, number, controller, depth, 0.0, *bounds))
                if not is_failure and plan >= stop:
                    break
                choice = rng.integers(len(kept))
                gained, depth = upto - now, "abcdef"[choice]
                age = kept[choice] * (age + gained) if is_whole else age + kept[choice] * gained
                now, number = upto, number + 1
    columns = ["module", "gap_number", "cluster", "depth", "entry", "lower", "upper"]
    return Fleet(pd.DataFrame(rows, columns=columns), np.array(ages), np.array(factors), shape, scale)
