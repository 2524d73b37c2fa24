"""A distribution, told by its quantiles, as a histogram with an edge at 0, so that what lies below 0 can be shown apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

import numpy as np

from pipelines.errors import InputError

#: About so many bins.
BINS = 32


@dataclass(frozen=True)
class Bin:
    """The share from low to high. The outermost bins hold all beyond them too."""

    low: float
    high: float
    share: float


def binned(quantiles: Sequence[float], *, count: int = BINS) -> list[Bin]:
    """Return about `count` bins of equal, round width, in order, with an edge at 0; the shares add up to 1.

    quantiles: at equal steps of probability between 0 and 1, such as those at 1, 2 … 99 %; at least two. Between two of them
    the distribution is taken to be even; what lies beyond the outer ones goes to the outermost bins.
    One that never varies gives one bin. Raises InputError on fewer, unordered or missing numbers.
    """
    at = np.asarray(quantiles, dtype=float)
    if at.ndim != 1 or len(at) < 2 or not np.isfinite(at).all() or (np.diff(at) < 0).any():
        raise InputError("These are no quantiles of a distribution.", "Give at least two numbers in rising order.")
    chance = np.arange(1, len(at) + 1) / (len(at) + 1)
    first, last = at[[0, -1]].tolist()
    if first == last:
        return [Bin(first, last, 1.0)]
    width = _round_up((last - first) / count)
    low, high = floor(first / width), max(ceil(last / width), floor(first / width) + 1)
    edges = np.arange(low, high + 1) * width
    below = np.interp(edges, at, chance)
    below[0], below[-1] = 0.0, 1.0
    return [Bin(*one) for one in zip(edges[:-1].tolist(), edges[1:].tolist(), np.diff(below).tolist(), strict=True)]


def _round_up(rough: float) -> float:
    """Return the next of 1, 2, 2.5, 5 × a power of ten."""
    power = 10 ** floor(log10(rough))
    return next(power * times for times in (1, 2, 2.5, 5, 10) if power * times >= rough * (1 - 1e-9))
