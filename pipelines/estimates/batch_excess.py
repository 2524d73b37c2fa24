"""What a batch that fails more often has cost: failures beyond those of others of its age, so far and still to come."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipelines.estimates.coming_faults import total_of
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile
from pipelines.vocabulary import Because

DRAWS, SEED = 20_000, 20261125


@dataclass(frozen=True)
class Coming:
    """First failures to come: all, in whole numbers, and those beyond what others of the same age would have (a mean)."""

    failures: Estimate
    excess: Estimate


def excess_failures(expected: float, ratio: Estimate) -> Estimate:
    """Return the failures beyond those that others of the same age, watched as long, would have had.

    expected: as many as these (`BatchRatio.of_others`); ratio: of the batch's failures to them, with limits. Limits are those of
    the ratio: what the others did is taken as known beside what the batch did. Under 0: fewer. Refused as the ratio is.
    """
    if ratio.estimate is None:
        return Estimate.refused(ratio.because or Because.NO_SPELLS)
    low, high = (None if one is None else expected * (one - 1) for one in (ratio.low, ratio.high))
    return Estimate.within(expected * (ratio.estimate - 1), low, high)


def coming_failures(
    modules: int, per_day: float, ratio: Estimate, *, days: float, alike: float = 1.0, level: float = 0.95, of_level: float = 0.9
) -> Coming:  # fmt: skip
    """Return the first failures within so many days of modules that have not failed so far.

    modules: of the batch, still watched; per_day: failures a day that others of their age have. ratio: as in `excess_failures`,
    its limits at `level`; alike: how many times as large the variance of a count is because modules share controllers.
    A module that failed is not there to fail again: of n modules n(1 − exp(−x / n)) are left of x. The ratio is drawn from its
    limits (normal on either side, on the log), the count from a Poisson law, or a negative binomial one where `alike` is over 1.
    Limits at `of_level`. Refused as the ratio is, without limits of the ratio (`limit_not_reached`), and where no other of their
    age failed (`too_few_failures`).
    """
    because = ratio.because if ratio.estimate is None else Because.NO_FAILURES if ratio.estimate == 0 else None
    if because is None and (ratio.low is None or ratio.high is None):
        because = Because.LIMIT_NOT_REACHED
    if because is None and modules and per_day <= 0:
        because = Because.TOO_FEW_FAILURES
    if because is not None or not modules:
        refused = Estimate.refused(because or Because.NOTHING_IN_SERVICE)
        return Coming(refused, refused)
    rng, z = np.random.default_rng(SEED), normal_quantile(level)
    drawn = rng.normal(size=DRAWS)
    middle, low, high = np.log([ratio.estimate, ratio.low, ratio.high])
    ratios = np.exp(middle + drawn * np.where(drawn < 0, middle - low, high - middle) / z)
    due = per_day * days

    def failing(times: np.ndarray | float) -> np.ndarray:
        return modules * -np.expm1(-times * due / modules)

    means, plain = failing(ratios), float(failing(1.0))
    counts = rng.poisson(means * rng.gamma(means / (alike - 1), (alike - 1) / means) if alike > 1 else means)
    excess = np.quantile(means - plain, [(1 - of_level) / 2, (1 + of_level) / 2])
    return Coming(
        total_of(np.minimum(counts, modules), level=of_level),
        Estimate(float(means.mean()) - plain, float(excess[0]), float(excess[1])),
    )  # fmt: skip
