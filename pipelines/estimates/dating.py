"""What it would do to the answer to date each failure at the visit at which it was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.comparison import ratio
from pipelines.estimates.lives import checked
from pipelines.estimates.weibull import WeibullFit, weibull
from pipelines.vocabulary import Because

#: A B10 or a median off by more than this share misleads.
MISLEADING_SHARE = 0.05


@dataclass(frozen=True)
class Dating:
    """One group's Weibull fits with failures left between their visits (`between`) and put at the finding visit (`at_visit`).

    between_count: failures known only to lie between two visits. b10_ratio, median_ratio, shape_ratio: at the visit over
    between. is_misleading: B10 or median more than 5 % off. Without one of the fits the ratios and the flag are None and
    `because` is its reason.
    """  # fmt: skip

    by: tuple
    because: Because | None
    between_count: int
    between: WeibullFit
    at_visit: WeibullFit
    b10_ratio: float | None
    median_ratio: float | None
    shape_ratio: float | None
    is_misleading: bool | None


def dating(
    spells: pd.DataFrame,
    *,
    by: Sequence[str],
    level: float = 0.95,
    min_failures: int = 6,
    entries: pd.DataFrame | None = None,
    between: Sequence[WeibullFit] | None = None,
) -> list[Dating]:
    """Fit each group twice and say how far dating failures at the finding visit misleads.

    Arguments and errors as in `weibull`; one record per group, in sorted order. between: the fits that `weibull` gives to
    the same spells, where they are made already.
    Source: the two likelihoods, as in `weibull`; the 5 % is a convention of this program.
    """
    kept = checked(spells, by=by, entries=entries)
    between_count = kept.per_group(kept.count * ((kept.lower < kept.upper) & (kept.upper < np.inf)))
    at_visit = spells.assign(lower=np.where(np.isfinite(spells["upper"]), spells["upper"], spells["lower"]))
    if between is None:
        between = weibull(spells, by=by, level=level, min_failures=min_failures, entries=entries)
    late = weibull(at_visit, by=by, level=level, min_failures=min_failures, entries=entries)
    return [_dating(*one) for one in zip(between_count.tolist(), between, late, strict=True)]


def _dating(between_count: int, between: WeibullFit, at_visit: WeibullFit) -> Dating:
    because = between.because or at_visit.because
    b10, median, shape = (ratio(getattr(at_visit, name), getattr(between, name)) for name in ("b10", "median", "shape"))
    is_misleading = None
    if because is None:
        is_misleading = any(one is not None and abs(one - 1) > MISLEADING_SHARE for one in (b10, median))
    return Dating(between.by, because, between_count, between, at_visit, b10, median, shape, is_misleading)
