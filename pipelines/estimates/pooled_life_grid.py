"""The posterior of lives that share one Weibull shape, family rates being gamma-distributed: on a grid, without simulation.

H(t) = λ_f t^β with λ_f ~ Gamma(A, A/μ). Given (β, A, μ) a family tells only how many failed, d, and how much it was at
risk, E(β) = Σ t^β − Σ entry^β, and λ_f is Gamma(A + d, A/μ + E): every integral over a family has a closed form. The
three that remain go on a grid over log β, log τ and log μ, τ = 1/√A being the families' coefficient of variation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipelines.estimates.counts import squeezed, tally
from pipelines.estimates.grid import drawn_nodes, margin, narrowed, shares
from pipelines.estimates.life_likelihood import Segments
from pipelines.estimates.lives import LifeSpells

#: Half-normal prior of τ, and the grid of its log: below 0.03 families do not differ, three prior SDs are the most believed.
TAU_SD = 1.0
LOG_TAU = (np.log(0.03), np.log(3.0))
#: A shape out here says that the data fix none.
LOG_SHAPE = (np.log(0.005), np.log(1000.0))
FIRST_SHAPES, SHAPES, TAUS, MEANS = 35, 19, 11, 11
ROUNDS_AT_MOST, STEPS_AT_MOST = 8, 60
#: Nodes below e^−8 of the heaviest are left out: together they hold less than one part in a thousand.
LEAST_LOG_WEIGHT = -8.0
#: Widths between two visits this near, in their logs, are told as one: the shape moves by a millionth.
NEAR = 0.01
#: The same seed in every call: equal counts give equal draws.
SEED = 20_260_102
#: A shape grid that ends above this, by its own top, has not ended: the weight runs on.
ENDED = -6.0


@dataclass(frozen=True)
class FamilyCounts:
    """What each family tells; log times run from `log_unit`, the log of the longest time of all.

    failures: by family; longest_x: log of the family's longest time; x, weight, segments: ends (w > 0) and late entries
    (w < 0) by family, x from the family's longest, so that no power of a time gets lost; exact_count, exact_x: how many
    failed at a known time, and their sum of x; upper_x: the sum of x of the finding visits of failures between two visits;
    width_x, between_count: how far in log time the visits lay apart, and of how many failures; one from age 0 has none.
    """

    log_unit: float
    failures: np.ndarray
    longest_x: np.ndarray
    x: np.ndarray
    weight: np.ndarray
    segments: Segments
    exact_count: float
    exact_x: float
    upper_x: float
    width_x: np.ndarray
    between_count: np.ndarray

    @classmethod
    def of(cls, spells: LifeSpells) -> FamilyCounts:
        """Reduce checked spells to what the posterior needs; a last family that nobody has seen is added.

        A failure between two visits has the chance exp(−λH_lower) − exp(−λH_upper) = 2 exp(−λH) sinh(λΔ/2), H the mean of both
        hazards and Δ their difference; λΔ stands in for 2 sinh(λΔ/2). The error is (λΔ)²/24. Visits 0.2 of the scale apart
        move B10 by 1 %, 0.4 apart by 3 %.
        """
        code, entry_code = spells.groups.codes
        is_between, is_exact = (spells.lower < spells.upper) & (spells.upper < np.inf), spells.lower == spells.upper
        late = spells.entry > 0
        at_risk = tally(
            np.concatenate([code, code[is_between], entry_code[late]]),
            np.concatenate([spells.lower, spells.upper[is_between], spells.entry[late]]),
            [
                np.concatenate(
                    [
                        spells.count * np.where(is_between, 0.5, 1.0),
                        spells.count[is_between] / 2,
                        -spells.entry_count[late].astype(float),
                    ]
                )
            ],
        )
        is_used = (at_risk.value > 0) & (at_risk.sums[0] != 0)
        family, log_time = at_risk.code[is_used], np.log(at_risk.value[is_used])
        log_unit = float(log_time.max())
        longest_x = np.zeros(spells.groups.count + 1)
        # Sorted by family and time.
        last = np.flatnonzero(np.append(np.diff(family) > 0, True))
        longest_x[family[last]] = log_time[last] - log_unit
        lower, upper = spells.lower[is_between], spells.upper[is_between]
        is_from_zero = lower == 0
        width_x = np.log(upper) - np.log(np.where(is_from_zero, upper, lower))
        between = spells.count[is_between]
        exact_count = spells.count[is_exact]
        return cls(
            log_unit,
            np.append(spells.failures, 0),
            longest_x,
            log_time - log_unit - longest_x[family],
            at_risk.sums[0][is_used],
            Segments(family, spells.groups.count + 1),
            float(exact_count.sum()),
            float((exact_count * (np.log(spells.lower[is_exact]) - log_unit)).sum()),
            float((between * (np.log(upper) - log_unit)).sum()),
            *_near(width_x[~is_from_zero], between[~is_from_zero]),
        )

    def log_exposure(self, shape: np.ndarray) -> np.ndarray:
        """Return log E of each family, (shapes, families); −∞ for the one never seen."""
        sums = np.array([self.segments.sum(self.weight * np.exp(one * self.x)) for one in shape])
        with np.errstate(divide="ignore"):
            return np.log(np.maximum(sums, 0)) + shape[:, None] * self.longest_x

    def log_density(self, shape: np.ndarray) -> np.ndarray:
        """Return what the failures say of the shape whatever the rates: Σ log(β t^(β − 1)), Σ log Δ between visits."""
        exact = self.exact_count * np.log(shape) + shape * self.exact_x
        part = np.log(-np.expm1(-shape[:, None] * self.width_x))
        return exact + shape * self.upper_x + (part * self.between_count).sum(axis=1)


def _near(width: np.ndarray, count: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return widths with those near each other told as one, at the mean of their logs, and their counts."""
    if not len(width):
        return width, count
    log_width = np.log(width)
    cell = np.floor(log_width / NEAR).astype(np.int64)
    _, place = squeezed(cell - cell.min())
    total = np.bincount(place, weights=count)
    return np.exp(np.bincount(place, weights=count * log_width) / total), total


@dataclass(frozen=True)
class LifePosterior:
    """Nodes with their weights (which sum to 1), and the gamma distribution of each family's rate there.

    shape: (nodes,); gamma_shape, log_gamma_rate: (nodes, families), the last family one never seen; times over
    exp(log_unit). log_shape_nodes, log_shape_weight: the margin of log β, log weights up to a constant.
    """

    log_unit: float
    weight: np.ndarray
    shape: np.ndarray
    gamma_shape: np.ndarray
    log_gamma_rate: np.ndarray
    log_shape_nodes: np.ndarray
    log_shape_weight: np.ndarray

    def draws(self, count: int) -> tuple[np.ndarray, np.ndarray]:
        """Return draws of the shape, (count,), and of the scales, (count, families), in the clock's unit; the same every time."""
        nodes = drawn_nodes(self.weight, count)
        shape = self.shape[nodes]
        gamma = np.random.default_rng(SEED).standard_gamma(self.gamma_shape[nodes])
        log_rate = np.log(np.maximum(gamma, 1e-300)) - self.log_gamma_rate[nodes]
        return shape, np.exp(np.minimum(self.log_unit - log_rate / shape[:, None], 700))


def life_posterior(counts: FamilyCounts) -> LifePosterior | None:
    """Return the posterior, or None where the failures fix no shape: all at once, for one.

    Priors: log β and the log of a typical life even, so that one family's limits are those of Bayes and of repetition alike
    (the invariant prior of a location and a scale); τ half-normal.
    """
    log_shape, log_tau = np.linspace(*LOG_SHAPE, FIRST_SHAPES), np.linspace(*LOG_TAU, TAUS)
    for _ in range(ROUNDS_AT_MOST):
        value, middle, spread = _peak_over_mean(counts, log_shape, log_tau)
        log_weight = value + np.log(spread)
        by_shape, by_tau = margin(log_weight, 0), margin(log_weight, 1)
        old = log_shape[-1] - log_shape[0], log_tau[-1] - log_tau[0]
        new_shape, new_tau = narrowed(log_shape, by_shape, count=SHAPES), narrowed(log_tau, by_tau, count=TAUS)
        is_settled = new_shape[-1] - new_shape[0] > 0.6 * old[0] and new_tau[-1] - new_tau[0] > 0.6 * old[1]
        log_shape, log_tau = new_shape, new_tau
        if is_settled:
            break
    value, middle, spread = _peak_over_mean(counts, log_shape, log_tau)
    log_mean = middle[..., None] + spread[..., None] * np.linspace(-5, 5, MEANS)
    log_exposure = counts.log_exposure(np.exp(log_shape))
    log_weight = _log_posterior(counts, log_shape[:, None, None], log_tau[:, None], log_mean, log_exposure[:, None, None])
    log_weight = log_weight + np.log(spread)[..., None]
    # The smallest and the largest τ carry weight: the trapezoid rule halves them.
    log_weight[:, [0, -1]] -= np.log(2)
    by_shape = margin(log_weight, 0)
    if max(by_shape[0], by_shape[-1]) > by_shape.max() + ENDED:
        return None
    at_shape, at_tau, at_mean = np.nonzero(log_weight > log_weight.max() + LEAST_LOG_WEIGHT)
    log_a = -2 * log_tau[at_tau]
    prior_rate = log_a - log_mean[at_shape, at_tau, at_mean]
    return LifePosterior(
        counts.log_unit,
        shares(log_weight[at_shape, at_tau, at_mean]),
        np.exp(log_shape[at_shape]),
        np.exp(log_a)[:, None] + counts.failures,
        np.logaddexp(prior_rate[:, None], log_exposure[at_shape]),
        log_shape,
        by_shape,
    )


def _peak_over_mean(
    counts: FamilyCounts, log_shape: np.ndarray, log_tau: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the log posterior at its best log μ, that log μ, and its SD, each (shapes, τs). It is concave in log μ."""
    log_exposure = counts.log_exposure(np.exp(log_shape))
    a = np.exp(-2 * log_tau)[:, None]
    # The best μ lies between the families' own rates, which may be many powers of ten apart at a steep shape.
    has_failed = counts.failures > 0
    rate = np.log(counts.failures[has_failed]) - log_exposure[:, has_failed]
    window = np.concatenate([rate, -log_exposure[:, :-1]], axis=1)
    low, high, log_mean = (
        np.repeat(one[:, None], len(log_tau), axis=1)
        for one in (window.min(axis=1) - 9, window.max(axis=1) + 9, rate.mean(axis=1))
    )
    for _ in range(STEPS_AT_MOST):
        # The share of a family's rate that its prior, not its exposure, fixes.
        borrowed = 1 / (1 + np.exp(np.minimum(log_mean[..., None] - np.log(a) + log_exposure[:, None], 700)))
        slope = ((a + counts.failures) * borrowed - a).sum(axis=2)
        bend = np.maximum(((a + counts.failures) * borrowed * (1 - borrowed)).sum(axis=2), 1e-12)
        low, high = np.where(slope > 0, log_mean, low), np.where(slope < 0, log_mean, high)
        there = log_mean + np.clip(slope / bend, low - log_mean, high - log_mean)
        is_end = (there <= low) | (there >= high)
        there = np.where(is_end & (low < high), (low + high) / 2, there)
        is_done = abs(there - log_mean).max() < 1e-6
        log_mean = there
        if is_done:
            break
    value = _log_posterior(counts, log_shape[:, None], log_tau, log_mean, log_exposure[:, None])
    return value, log_mean, 1 / np.sqrt(bend)


def _log_posterior(
    counts: FamilyCounts, log_shape: np.ndarray, log_tau: np.ndarray, log_mean: np.ndarray, log_exposure: np.ndarray
) -> np.ndarray:
    """Return the log posterior density in (log β, log τ, log μ); the arrays broadcast, families last in log_exposure."""
    from scipy.special import gammaln

    a, d = np.exp(-2 * log_tau), counts.failures
    log_rate = -2 * log_tau - log_mean
    gain = (gammaln(a[..., None] + d) - gammaln(a)[..., None]).sum(axis=-1)
    loss = ((a[..., None] + d) * np.logaddexp(log_rate[..., None], log_exposure)).sum(axis=-1)
    prior = log_tau - np.exp(2 * log_tau) / (2 * TAU_SD**2) - log_shape
    density = counts.log_density(np.exp(log_shape).ravel()).reshape(log_shape.shape)
    return density + len(d) * a * log_rate + gain - loss + prior
