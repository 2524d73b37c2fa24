"""How often each batch fails against others of the same age in the same strata: cells in, ratios with limits out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipelines.estimates.batch_cells import Cells
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile
from pipelines.vocabulary import Because

#: Rows of a batch whose odds differ by less than this share are put together.
LIKE_ODDS = 0.05
#: A ratio is sought between e^−RANGE and e^RANGE, in so many halvings.
RANGE, HALVINGS = 12.0, 27
#: So close to the estimate the normal law of the signed root needs no correction.
NEAR = 1e-3


@dataclass(frozen=True)
class Matched:
    """Batches beside others: by row its batch, the odds of its exposure to the others', the failures of both together, and those
    of the others.

    Only cells (stratum and age step) in which both were watched and something failed. observed: of each batch there;
    expected: of them, were it like the others (as the log-rank test has it); of_failures: all its failures, beside others or not;
    is_beside: whether others of its strata were watched at all.
    """

    batch: np.ndarray
    odds: np.ndarray
    failures: np.ndarray
    others: np.ndarray
    observed: np.ndarray
    expected: np.ndarray
    of_failures: np.ndarray
    is_beside: np.ndarray

    def information(self, ratio: float) -> np.ndarray:
        """Return how many failures each batch would have to be expected to have, held against a known law, to show this ratio as
        surely as it does beside these others: by the signed root of the likelihood ratio where the ratio is true.
        """
        if_like = self.odds / (1 + self.odds)
        if_worse = ratio * self.odds / (1 + ratio * self.odds)
        apart = if_worse * np.log(if_worse / if_like) + (1 - if_worse) * np.log((1 - if_worse) / (1 - if_like))
        drop = np.bincount(self.batch, self.others * (1 + ratio * self.odds) * apart, len(self.observed))
        return drop / (ratio * np.log(ratio) - ratio + 1)


def matched(cells: Cells, is_reference: np.ndarray) -> Matched:
    """Hold each batch against all batches of the reference but itself. is_reference: by batch."""
    size = cells.batch_count
    batch, cell, exposure, failures = cells.watched
    count = int(cell.max(initial=-1)) + 1
    use = is_reference[batch]
    others, other_exposure = (np.bincount(cell, use * values, count)[cell] - use * values for values in (failures, exposure))
    kept = (other_exposure > 1e-9 * exposure) & (failures + others > 0)
    batch, failures, others, odds = batch[kept], failures[kept], others[kept], exposure[kept] / other_exposure[kept]
    expected = np.bincount(batch, (failures + others) * odds / (1 + odds), size)
    rows = _together(batch, odds, failures + others, others, size)
    return Matched(
        *rows, np.bincount(batch, failures, size), expected,
        np.bincount(cells.batch, cells.failures.sum(axis=1), size), has_others(cells, is_reference),
    )  # fmt: skip


def has_others(cells: Cells, is_reference: np.ndarray) -> np.ndarray:
    """Tell by batch whether another of the reference was watched in one of its strata."""
    use = is_reference[cells.batch]
    beside = np.bincount(cells.stratum, use)[cells.stratum] - use
    return np.bincount(cells.batch, beside > 0, cells.batch_count) > 0


def _together(
    batch: np.ndarray, odds: np.ndarray, failures: np.ndarray, others: np.ndarray, size: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:  # fmt: skip
    """Put rows of a batch with like odds together; the chance that a failure is the batch's stays the same on average."""
    if not len(batch):
        return batch, odds, failures, others
    level = np.round(np.log(odds) / LIKE_ODDS).astype(np.int64)
    low, span = level.min(), int(np.ptp(level)) + 1
    place = batch * span + level - low
    total, chance, rest = (np.bincount(place, values, size * span) for values in (failures, failures * odds / (1 + odds), others))
    used = np.flatnonzero(total)
    chance = chance[used] / total[used]
    return used // span, chance / (1 - chance), total[used], rest[used]


@dataclass(frozen=True)
class BatchRatio:
    """One batch: how many times as often it fails as the others of its age, with limits; the chance of so much by luck.

    observed, expected: as in `Matched`; of_failures: all of its failures.
    information: as in `Matched`, less what shared controllers take. because: why there is no
    ratio (`no_comparison`: nothing beside it; `no_failures`: nothing failed there), or `no_failures` with an upper limit alone,
    one-sided.
    """

    observed: int
    expected: float
    of_failures: int
    information: float
    ratio: Estimate
    p_value: float | None
    because: Because | None

    @property
    def of_others(self) -> float:
        """The failures that others would have had in its place, so that observed over these is the ratio; of none observed, those
        expected (none of its own are among these)."""
        if self.ratio.estimate:
            return self.observed / self.ratio.estimate
        return 0.0 if self.observed else self.expected


def batch_ratios(
    found: Matched, alike: np.ndarray, *, level: float = 0.95, noticed: float = 2.0
) -> list[BatchRatio]:  # fmt: skip
    """Estimate the ratio of each batch. alike: by batch, how many times as large the variance is as that of independent modules;
    noticed: the ratio of which the information tells.

    Given the failures of a cell, those of the batch are binomial in the share of its exposure; over all cells that is a family of
    laws in one ratio, whose signed root of the likelihood ratio, corrected to third order, is close to a normal deviate and its
    tail to the exact mid-p value. For modules that share controllers the deviate is divided by the root of `alike`.
    Sources: conditional likelihood of grouped times, Breslow & Day (1987), ch. 4; the deviate, Barndorff-Nielsen (1986),
    Biometrika 73:307–322; mid-p, Pierce & Peters (1992), JRSS B 54:701–737 (all from memory).
    Raises InputError on a level outside 0 to 1.
    """
    q = normal_quantile(level)
    law = _Law(found, np.sqrt(alike))
    centre, is_told, is_none, is_all = law.centre, law.is_told, law.centre == -np.inf, law.centre == np.inf
    low = law.solved(lambda beta: q - law.deviate(beta), high=np.where(np.isfinite(centre), centre, RANGE))
    high = law.solved(lambda beta: -q - law.deviate(beta), low=np.where(np.isfinite(centre), centre, -RANGE))
    one_sided = normal_quantile(2 * level - 1) if level > 0.5 else 0.0
    none_high = law.solved(lambda beta: -one_sided * law.root - _normal_tail(law.log_none(beta)))
    all_low = law.solved(lambda beta: one_sided * law.root + _normal_tail(law.log_all(beta)))
    p, information = law.p_values(), found.information(noticed) / alike
    rows = []
    for one in range(len(found.observed)):
        sizes = int(found.observed[one]), float(found.expected[one]), int(found.of_failures[one])
        size = float(information[one])
        if not is_told[one]:
            because = Because.NO_FAILURES if found.is_beside[one] else Because.NO_COMPARISON
            rows.append(BatchRatio(*sizes, size, Estimate.refused(because), None, because))
        elif is_none[one]:
            ratio = Estimate(0.0, 0.0, _exp(none_high[one]), None)
            rows.append(BatchRatio(*sizes, size, ratio, float(p[one]), Because.NO_FAILURES))
        elif is_all[one]:
            ratio = Estimate(None, _exp(all_low[one]), None, Because.LIMIT_NOT_REACHED)
            rows.append(BatchRatio(*sizes, size, ratio, float(p[one]), None))
        else:
            ratio = Estimate.within(_exp(centre[one]), _exp(low[one]), _exp(high[one]))
            rows.append(BatchRatio(*sizes, size, ratio, float(p[one]), None))
    return rows


def luck(found: Matched, alike: np.ndarray) -> np.ndarray:
    """Return the p-value of each batch as in `batch_ratios`, above 0 for more failures than the others and below 0 for fewer; nan
    where nothing stands beside it."""
    law = _Law(found, np.sqrt(alike))
    return np.where(law.is_told, np.copysign(law.p_values(), law.centre), np.nan)


def _exp(value: float) -> float | None:
    return None if abs(value) > RANGE - 0.01 else float(np.exp(value))


def _normal_tail(log_chance: np.ndarray) -> np.ndarray:
    """Return the normal deviate below which the chance e^log_chance lies."""
    from scipy.special import ndtri_exp

    return ndtri_exp(np.minimum(log_chance, -1e-12))


class _Law:
    """The law of each batch's failures as its log ratio beta moves: by batch, (batches,)."""

    def __init__(self, found: Matched, root: np.ndarray) -> None:
        self._found, self.root = found, root
        self._log_odds = np.log(found.odds) if len(found.odds) else found.odds
        self._size = len(found.observed)
        total = self._sum(found.failures)
        self.is_told = total > 0
        inner = self.solved(lambda beta: self.mean(beta) - found.observed)
        is_none, is_all = self.is_told & (found.observed == 0), self.is_told & (found.observed >= total)
        #: log of the ratio at its maximum; infinite where none of the failures, or all of them, are the batch's
        self.centre = np.where(is_none, -np.inf, np.where(is_all, np.inf, inner))

    def _sum(self, values: np.ndarray) -> np.ndarray:
        return np.bincount(self._found.batch, values, self._size)

    def _chance(self, beta: np.ndarray) -> np.ndarray:
        return 1 / (1 + np.exp(-np.clip(self._log_odds + beta[self._found.batch], -700, 700)))

    def mean(self, beta: np.ndarray) -> np.ndarray:
        return self._sum(self._found.failures * self._chance(beta))

    def variance(self, beta: np.ndarray) -> np.ndarray:
        chance = self._chance(beta)
        return self._sum(self._found.failures * chance * (1 - chance))

    def log_sum(self, beta: np.ndarray) -> np.ndarray:
        return self._sum(self._found.failures * np.logaddexp(0.0, self._log_odds + beta[self._found.batch]))

    def log_none(self, beta: np.ndarray) -> np.ndarray:
        """Return the log of the chance that none of the failures is the batch's."""
        return -self.log_sum(beta)

    def log_all(self, beta: np.ndarray) -> np.ndarray:
        """Return the log of the chance that all of the failures are the batch's."""
        return -self._sum(self._found.failures * np.logaddexp(0.0, -self._log_odds - beta[self._found.batch]))

    def deviate(self, beta: np.ndarray) -> np.ndarray:
        """Return the corrected signed root at beta over `root`, above 0 where beta lies below the estimate; of finite centres."""
        there = np.where(np.isfinite(self.centre), self.centre, 0.0)
        drop = self._found.observed * (there - beta) - self.log_sum(there) + self.log_sum(beta)
        w = np.sign(there - beta) * np.sqrt(2 * np.maximum(drop, 0.0))
        # (of counts: halfway between the tails with and without the one observed)
        u = 2 * np.tanh((there - beta) / 2) * np.sqrt(self.variance(there))
        is_far = abs(w) > NEAR
        safe = np.where(is_far, w, 1.0)
        more = np.where(is_far, np.log(np.where(is_far, u / safe, 1.0)) / safe, 0.0)
        return (w + more) / self.root

    def p_values(self) -> np.ndarray:
        """Return the two-sided chance of so much by luck, were each batch like the others."""
        from scipy.special import ndtr

        zero = np.zeros(self._size)
        z, centre = self.deviate(zero), self.centre
        half = np.log(2.0)
        z = np.where(centre == -np.inf, _normal_tail(self.log_none(zero) - half) / self.root, z)
        z = np.where(centre == np.inf, _normal_tail(self.log_all(zero) - half) / self.root, z)
        return np.minimum(2 * ndtr(-abs(z)), 1.0)

    def solved(self, rising, *, low: np.ndarray | float = -RANGE, high: np.ndarray | float = RANGE) -> np.ndarray:
        """Return where a function that rises with beta is 0, by halving between low and high."""
        low, high = (np.broadcast_to(one, self._size).astype(float).copy() for one in (low, high))
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            is_above = rising(middle) > 0
            high, low = np.where(is_above, middle, high), np.where(is_above, low, middle)
        return (low + high) / 2
