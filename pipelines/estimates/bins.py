"""Draws as a histogram with an edge at 0, so that what lies below 0 can be shown apart."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, log10

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.weighted import quantile

#: About so many bins, and the share of the draws at each end that the outermost bin takes in.
BINS, TAIL = 36, 0.003


@dataclass(frozen=True)
class Bin:
    """The share of the draws from low up to, but not including, high. The outermost bins hold all beyond them too."""

    low: float
    high: float
    share: float


def binned(values: np.ndarray, *, weights: np.ndarray | None = None, count: int = BINS) -> list[Bin]:
    """Return about `count` bins of equal, round width, in order, with an edge at 0; the shares add up to 1.

    values: (draws,), none missing; weights: of the draws, None for equal ones. Draws that are all alike give one bin.
    Raises InputError on no draws or a draw that is no number.
    """
    draws = np.asarray(values, dtype=float)
    if draws.ndim != 1 or not len(draws) or not np.isfinite(draws).all():
        raise InputError("There are no draws to show, or some are no numbers.", "Draw anew.")
    weight = np.full(len(draws), 1 / len(draws)) if weights is None else np.asarray(weights) / np.sum(weights)
    first, last = (float(quantile(draws, one, weights=weights)) for one in (TAIL, 1 - TAIL))
    if first == last:
        return [Bin(first, last, 1.0)]
    width = _round_up((last - first) / count)
    low, high = floor(first / width), max(ceil(last / width), floor(first / width) + 1)
    place = np.clip(np.floor(draws / width), low, high - 1).astype(np.int64) - low
    # no draw below 0 may be pushed over the edge, nor one above it
    if low < 0 < high:
        place = np.where(draws < 0, np.minimum(place, -low - 1), np.maximum(place, -low))
    shares = np.bincount(place, weights=weight, minlength=high - low)
    return [Bin((low + one) * width, (low + one + 1) * width, float(share)) for one, share in enumerate(shares)]


def _round_up(rough: float) -> float:
    """Return the next of 1, 2, 2.5, 5 × a power of ten."""
    power = 10 ** floor(log10(rough))
    return next(power * times for times in (1, 2, 2.5, 5, 10) if power * times >= rough * (1 - 1e-9))
