"""Cox's partial likelihood from counts: late entry, strata, Efron's ties, and the sandwich by cluster.

lifelines is not exact here: a failing row that counts several spells gets one share of a tie, and its robust error with
entries ignores them. A row at risk enters every sum only through the failure times between its entry and its exit, so
prefix sums over those times do for the whole risk set: nothing grows with rows × times.
Sources: Efron (1977); Lin & Wei (1989); Therneau & Grambsch (2000), Modeling Survival Data, section 7.2 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np


@dataclass(frozen=True)
class CoxSpells:
    """Counted spells as arrays of one length: at risk in (entry, at], x (rows, columns), stratum numbered from 0."""

    entry: np.ndarray
    at: np.ndarray
    is_failure: np.ndarray
    count: np.ndarray
    x: np.ndarray
    stratum: np.ndarray

    @cached_property
    def events(self) -> Events:
        """The failure times, each stratum for itself, and where each row stands among them."""
        values = np.unique(np.concatenate([self.entry, self.at]))
        first = self.stratum * len(values)
        at = first + np.searchsorted(values, self.at)
        keys = np.unique(at[self.is_failure])
        begin = np.searchsorted(keys, first + np.searchsorted(values, self.entry), side="right")
        end = np.searchsorted(keys, at, side="right")
        of_failure = np.searchsorted(keys, at[self.is_failure])
        failed = np.bincount(of_failure, weights=self.count[self.is_failure], minlength=len(keys)).astype(np.int64)
        return Events(values[keys % len(values)] if len(keys) else keys.astype(float), failed, begin, end, of_failure)


class Events(NamedTuple):
    """time, failed: of each failure time; begin, end: which of them a row is at risk at; of_failure: that of each failing row."""

    time: np.ndarray
    failed: np.ndarray
    begin: np.ndarray
    end: np.ndarray
    of_failure: np.ndarray


class Partial(NamedTuple):
    """The log partial likelihood, its slopes and minus its second slopes."""

    value: float
    score: np.ndarray
    information: np.ndarray


class _Sums(NamedTuple):
    """By failure time: sums of x over who is at risk and over who fails; Efron's sums over the tied failures.

    With u = 0, 1/d, … and n(u) = at risk − u·failing: inverse[k] = Σ uᵏ/n, square[k] = Σ uᵏ/n².
    """

    risk: np.ndarray
    at_risk_x: np.ndarray
    failing_x: np.ndarray
    inverse: tuple[np.ndarray, np.ndarray]
    square: tuple[np.ndarray, np.ndarray, np.ndarray]
    log_sum: float


def partial_likelihood(spells: CoxSpells, beta: np.ndarray, *, by_event: np.ndarray | None = None) -> Partial:
    """Return the log partial likelihood at beta (columns,), its score and its information.

    by_event: a weight for each failure time, for score and information; 1 by default.
    """
    events, fails = spells.events, spells.is_failure
    sums = _sums(spells, beta)
    weight = np.ones(len(events.time)) if by_event is None else by_event
    failing, count = spells.x[fails], spells.count[fails]
    value = float(count @ (failing @ beta)) - sums.log_sum
    score = weight @ schoenfeld(spells, beta, sums=sums)
    reach = np.append(0.0, np.cumsum(weight * sums.inverse[0]))
    of_row = reach[events.end] - reach[events.begin]
    of_row[fails] -= (weight * sums.inverse[1])[events.of_failure]
    information = (spells.x * (sums.risk * of_row)[:, None]).T @ spells.x
    s, d, (whole, first, second) = sums.at_risk_x, sums.failing_x, sums.square
    cross = (s * (weight * first)[:, None]).T @ d
    information -= (s * (weight * whole)[:, None]).T @ s - cross - cross.T + (d * (weight * second)[:, None]).T @ d
    return Partial(value, score, information)


def schoenfeld(spells: CoxSpells, beta: np.ndarray, *, sums: _Sums | None = None) -> np.ndarray:
    """Return by failure time the x of who failed less its mean over who was at risk, summed: (times, columns)."""
    sums = sums or _sums(spells, beta)
    fails, of_failure = spells.is_failure, spells.events.of_failure
    seen = _by_event(of_failure, spells.count[fails, None] * spells.x[fails], len(spells.events.time))
    return seen - sums.at_risk_x * sums.inverse[0][:, None] + sums.failing_x * sums.inverse[1][:, None]


def score_residuals(spells: CoxSpells, beta: np.ndarray) -> np.ndarray:
    """Return the share of each row in the score, for one spell of the row: (rows, columns)."""
    events, sums, fails = spells.events, _sums(spells, beta), spells.is_failure
    s, d, (whole, first, second) = sums.at_risk_x, sums.failing_x, sums.square
    one, tied = sums.inverse
    risk = np.exp(spells.x @ beta)[:, None]
    reach = np.append(0.0, np.cumsum(one))
    reach_x = np.vstack([np.zeros(s.shape[1]), np.cumsum(s * whole[:, None] - d * first[:, None], axis=0)])
    residual = -risk * (spells.x * (reach[events.end] - reach[events.begin])[:, None])
    residual += risk * (reach_x[events.end] - reach_x[events.begin])
    mean = (s * one[:, None] - d * tied[:, None]) / events.failed[:, None]
    own = spells.x[fails] * tied[events.of_failure, None] - (s * first[:, None] - d * second[:, None])[events.of_failure]
    residual[fails] += spells.x[fails] - mean[events.of_failure] + risk[fails] * own
    return residual


def sandwich(information: np.ndarray, residuals: np.ndarray, count: np.ndarray, cluster: np.ndarray) -> np.ndarray:
    """Return the covariance of the estimates by summed residuals of each cluster (numbered from 0), without a correction.

    residuals: (rows, columns) for one spell of a row; count: the spells of a row.
    """
    summed = _by_event(cluster, residuals * count[:, None], int(cluster.max(initial=-1)) + 1)
    inverse = np.linalg.inv(information)
    return inverse @ (summed.T @ summed) @ inverse


def _sums(spells: CoxSpells, beta: np.ndarray) -> _Sums:
    events, fails = spells.events, spells.is_failure
    number = len(events.time)
    risk = spells.count * np.exp(spells.x @ beta)
    weighted = np.column_stack([risk, risk[:, None] * spells.x])
    failing = _by_event(events.of_failure, weighted[fails], number)
    steps = _by_event(events.begin, weighted, number + 1) - _by_event(events.end, weighted, number + 1)
    at_risk = np.cumsum(steps, axis=0)[:number]
    # Whoever fails is at risk; the running sum may lose that by a rounding error.
    total = np.maximum(at_risk[:, 0], failing[:, 0])
    start = np.cumsum(events.failed) - events.failed
    owner = np.repeat(np.arange(number), events.failed)
    tie = (np.arange(len(owner)) - start[owner]) / events.failed[owner]
    left = total[owner] - tie * failing[owner, 0]
    terms = (1 / left, tie / left, 1 / left**2, tie / left**2, (tie / left) ** 2)
    one, first, *square = (np.bincount(owner, weights=term, minlength=number) for term in terms)
    return _Sums(risk, at_risk[:, 1:], failing[:, 1:], (one, first), tuple(square), float(np.log(left).sum()))


def _by_event(place: np.ndarray, values: np.ndarray, number: int) -> np.ndarray:
    """Return the sums of the rows of `values` by place: (number, columns)."""
    columns = [np.bincount(place, weights=column, minlength=number) for column in values.T]
    return np.column_stack(columns) if columns else np.zeros((number, 0))
