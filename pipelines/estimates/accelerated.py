"""The likelihood of a Weibull life whose log scale is linear in x, from counts; its slopes row by row.

With eta = x·coefficients and s = log shape, H(t) = exp(z), z = exp(s)·(log t − eta). lifelines fits the same model, but has
no clusters; for those the score of each row is needed.
Source: Kalbfleisch & Prentice (2002), sections 3.6 and 5 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from pipelines.estimates.cox_robust import Partial

#: So that the logarithm of a chance and its square exist at a trial point that the likelihood then rejects.
SMALLEST_HAZARD = 1e-80


@dataclass(frozen=True)
class LifeSpells:
    """Counted spells as arrays of one length: failed in (lower, upper], at lower == upper, or well at lower (upper infinite).

    x: (rows, columns), the first of them 1 for the intercept.
    """

    entry: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    count: np.ndarray
    x: np.ndarray

    def take(self, rows: np.ndarray) -> LifeSpells:
        """Return some of the rows."""
        return LifeSpells(*(getattr(self, name)[rows] for name in ("entry", "lower", "upper", "count", "x")))


class _Slopes(NamedTuple):
    """A value of each row, and its slopes in eta and s."""

    value: np.ndarray
    eta: np.ndarray
    s: np.ndarray
    eta_eta: np.ndarray
    eta_s: np.ndarray
    s_s: np.ndarray

    def plus(self, other: _Slopes, sign: float = 1.0) -> _Slopes:
        return _Slopes(*(one + sign * two for one, two in zip(self, other, strict=True)))


def life_likelihood(spells: LifeSpells, theta: np.ndarray) -> Partial:
    """Return the log-likelihood at theta = (coefficients, log shape), its score and its information."""
    rows, x = _rows(spells, theta), spells.x
    count = spells.count
    score = np.append((count * rows.eta) @ x, count @ rows.s)
    size = x.shape[1]
    information = np.empty((size + 1, size + 1))
    information[:size, :size] = -(x * (count * rows.eta_eta)[:, None]).T @ x
    information[size, :size] = information[:size, size] = -(count * rows.eta_s) @ x
    information[size, size] = -(count @ rows.s_s)
    return Partial(float(count @ rows.value), score, information)


def life_residuals(spells: LifeSpells, theta: np.ndarray) -> np.ndarray:
    """Return the share of each row in the score, for one spell of the row: (rows, columns + 1)."""
    rows = _rows(spells, theta)
    return np.column_stack([spells.x * rows.eta[:, None], rows.s])


def _rows(spells: LifeSpells, theta: np.ndarray) -> _Slopes:
    eta, s = spells.x @ theta[:-1], theta[-1]
    is_exact = spells.lower == spells.upper
    is_between = ~is_exact & (spells.upper < np.inf)
    rows = _hazard(spells.entry, eta, s).plus(_hazard(spells.lower, eta, s), -1.0)
    if is_exact.any():
        shape, log_time = np.exp(s), np.log(np.where(is_exact, spells.lower, 1.0))
        z = shape * (log_time - eta)
        flat = np.zeros(len(eta))
        density = _Slopes(s + z - log_time, flat - shape, 1 + z, flat, flat - shape, z)
        rows = rows.plus(_Slopes(*(np.where(is_exact, part, 0.0) for part in density)))
    if is_between.any():
        upper = np.where(is_between, spells.upper, 1.0)
        a = _hazard(upper, eta, s).plus(_hazard(spells.lower, eta, s), -1.0)
        gone = np.where(is_between, np.maximum(a.value, SMALLEST_HAZARD), 1.0)
        pull = np.exp(-gone) / -np.expm1(-gone)
        bend = pull * (1 + pull)
        chance = _Slopes(
            np.log(-np.expm1(-gone)),
            pull * a.eta,
            pull * a.s,
            pull * a.eta_eta - bend * a.eta**2,
            pull * a.eta_s - bend * a.eta * a.s,
            pull * a.s_s - bend * a.s**2,
        )
        rows = rows.plus(_Slopes(*(np.where(is_between, part, 0.0) for part in chance)))
    return rows


def _hazard(time: np.ndarray, eta: np.ndarray, s: float) -> _Slopes:
    """Return the cumulative hazard with its slopes; 0 at time 0."""
    shape = np.exp(s)
    z = shape * (np.log(np.where(time > 0, time, 1.0)) - eta)
    # Beyond e^100 the likelihood rejects the point anyhow.
    h = np.where(time > 0, np.exp(np.minimum(z, 100.0)), 0.0)
    return _Slopes(h, -shape * h, z * h, shape**2 * h, -shape * h * (1 + z), z * h * (1 + z))
