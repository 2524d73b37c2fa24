"""Weibull lifetimes by maximum likelihood from counts: late entry, right and interval censoring together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log

import pandas as pd

from pipelines.estimates.estimate import Estimate
from pipelines.estimates.lives import GroupFit, checked, exponential, fitted, share_above
from pipelines.estimates.weibull_likelihood import WeibullCounts
from pipelines.vocabulary import Because

#: Log cumulative hazards: of the scale (1), and where 10 % and 50 % have failed.
SCALE, B10, MEDIAN = 0.0, log(-log(0.9)), log(log(2.0))
#: Beyond this height the share that survives is under 1e-280, and would round to 0.
HIGHEST = 6.47


@dataclass(frozen=True)
class WeibullFit:
    """One group's fit. S(t) = exp(−(t / scale)^shape), t from age 0 in the clock's unit.

    by: the group's values in the order asked for; because: why there is no fit, else None.
    shape has no unit; scale, b10 and median are in the clock's unit; surviving are shares at the ages asked for, in their
    order; all with likelihood-ratio limits.
    log_likelihood: of the densities in the clock's unit, given survival to entry; a failure between two visits counts
    with its probability. None without a fit.
    """

    by: tuple
    spells: int
    failures: int
    because: Because | None
    shape: Estimate
    scale: Estimate
    b10: Estimate
    median: Estimate
    log_likelihood: float | None
    surviving: tuple[Estimate, ...] = ()


def weibull(
    spells: pd.DataFrame,
    *,
    by: Sequence[str],
    level: float = 0.95,
    min_failures: int = 6,
    entries: pd.DataFrame | None = None,
    ages: Sequence[float] = (),
) -> list[WeibullFit]:
    """Fit a Weibull distribution to each group of counted spells.

    spells: counts per `by`, `entry`, `lower`, `upper` (in the clock's unit), `spell_count`. lower == upper: failed then;
    upper infinite: still well at `lower`; else failed in (lower, upper]. entry < lower, but a failure between visits may
    enter at `lower`.
    entries: as in `survival`, for late entries counted apart; `spells` then has no `entry`.
    ages: above 0, in the clock's unit, at which to give the share still free of failure.
    Returns one fit per group, in sorted order. Without a fit `because` and all estimates say `no_failures`,
    `too_few_failures` (under `min_failures`) or `fit_failed` (the data fix no shape: all failed at once, for one).
    A limit that does not exist, or lies more than 10¹² times away, is `limit_not_reached`.
    Raises InputError.   Source: Meeker & Escobar (1998), Statistical Methods for Reliability Data, chapters 8 and 11.
    """
    groups = fitted(
        checked(spells, by=by, entries=entries), WeibullCounts,
        heights=(SCALE, B10, MEDIAN), ages=ages, level=level, min_failures=min_failures,
    )  # fmt: skip
    return [_fit(one, age_count=len(ages)) for one in groups]


def _fit(group: GroupFit, *, age_count: int) -> WeibullFit:
    size, line = (group.by, group.spells, group.failures), group.line
    if isinstance(line, Because):
        refused = Estimate.refused(line)
        return WeibullFit(*size, line, *[refused] * 4, None, (refused,) * age_count)
    numbers = [exponential(triple) for triple in (line.log_shape, *line.log_times)]
    surviving = tuple(share_above(triple, surviving_share) for triple in line.heights)
    return WeibullFit(*size, None, *numbers, line.log_likelihood, surviving)


def surviving_share(height: float) -> float:
    """Return the share that survives where the log cumulative hazard is `height`."""
    return exp(-exp(min(height, HIGHEST)))
