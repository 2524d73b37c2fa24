"""Random fleets in which dirt and wear both end stretches in service, for the tests of restoration by mechanism."""

from __future__ import annotations

import numpy as np
import pandas as pd

#: The share of the dirt that a clean of depth "a", "b", "c" takes off.
TRUTH = (0.35, 0.65, 0.92)


def two_mechanism_fleet(
    seed: int,
    *,
    controllers: int = 300,
    dirt: tuple[float, float] = (2.2, 600.0),
    wear: tuple[float, float] = (2.6, 1100.0),
    kept: tuple[float, ...] = tuple(1 - share for share in TRUTH),
    variance: float = 0.2,
    end: float = 1500.0,
    worn_pass: float = 0.3,
    worn_again: float = 90.0,
    named: float = 0.7,
    wrong: float = 0.0,
) -> pd.DataFrame:
    """Return gaps as `restoration` takes them, and `failed_by`: contamination, track_wear, not_recorded, None (not failed).

    dirt, wear: shape and scale; kept: the share of the dirt's age that a clean of depth "a", "b", … leaves; it leaves wear as
    it is. A worn track passes a clean by chance and is back after about `worn_again` hours; else it is replaced. A share
    `named` of the causes is recorded, of which a share `wrong` is the other one.
    """
    rng = np.random.default_rng(seed)
    rows = []
    for controller in range(controllers):
        factor = rng.gamma(1 / variance, variance) if variance else 1.0
        for stick in range(2):
            module, stop = 10 * (2 * controller + stick), end * rng.uniform(0.5, 1.5)
            age, now, number, depth = 0.0, 0.0, 1, None
            worn_at = wear[1] * (rng.exponential() / factor) ** (1 / wear[0])
            while now < stop:
                dirty_at = now + dirt[1] * ((age / dirt[1]) ** dirt[0] + rng.exponential() / factor) ** (1 / dirt[0]) - age
                is_worn, failed = worn_at < dirty_at, min(worn_at, dirty_at)
                if failed >= stop:
                    rows.append((module, number, controller, depth, 0.0, stop - now, np.inf, None))
                    break
                named_as = ("contamination", "track_wear")[int(is_worn) ^ int(rng.random() < wrong)]
                failed_by = named_as if rng.random() < named else "not_recorded"
                rows.append((module, number, controller, depth, 0.0, failed - now, failed - now, failed_by))
                if is_worn and rng.random() > worn_pass:
                    break
                choice = rng.integers(len(kept))
                depth, age = "abcdef"[choice], kept[choice] * (age + failed - now)
                worn_at = failed + rng.exponential(worn_again) if is_worn else worn_at
                now, number = failed, number + 1
    columns = ["module", "gap_number", "cluster", "depth", "entry", "lower", "upper", "failed_by"]
    return pd.DataFrame(rows, columns=columns)
