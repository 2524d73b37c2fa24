"""The columns of triage as a table of numbers: standardised readings, and a 0/1 column for each word and for each blank."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.counts import require

READINGS = ("af_rest_offset_pct", "af_jitter_pct", "af_return_spread_pct", "af_reach_pct", "af_linearity_pct")
NUMBERS = (*READINGS, "attempt_number", "failed_tries")
#: So many rows that have two numbers count half for how the two go together; and no mix of numbers varies less than this.
FEW_TOGETHER, LEAST_SPREAD = 10, 0.02
#: Of more words than this in one column the rarest are taken for one.
MOST_WORDS = 60
WORDS = ("family", "sensor_type", "mode", "mechanism", "depth")


@dataclass(frozen=True)
class Number:
    """A column of numbers as cleaned: its mean and SD over the cleans, and its range."""

    name: str
    mean: float
    sd: float
    least: float
    most: float


@dataclass(frozen=True)
class Columns:
    """What the cleans on record had: numbers, the words of each column of words with their place in the table, and the pairs of
    family and sensor type.
    """

    numbers: tuple[Number, ...]
    words: dict[str, dict[object, int]]
    pairs: frozenset
    _correlation: np.ndarray

    @classmethod
    def of(cls, attempts: pd.DataFrame, count: np.ndarray) -> Columns:
        """Read the columns of counts; those that are blank throughout are not used. Raises InputError on a bad number."""
        numbers = []
        for name in (one for one in NUMBERS if one in attempts):
            value = _floats(attempts, name)
            is_read = ~np.isnan(value)
            require(~is_read | ((value >= 0) & (value < np.inf)), f"`{name}` holds a negative or endless number", "Blank it.")
            if is_read.any():
                value, weight = value[is_read], count[is_read]
                mean = float(np.average(value, weights=weight))
                sd = float(np.sqrt(np.average((value - mean) ** 2, weights=weight)))
                numbers.append(Number(name, mean, sd, float(value.min()), float(value.max())))
        told = {name: _words(attempts, name) for name in WORDS if name in attempts}
        words = {name: _placed(found, count) for name, found in told.items()}
        pairs = zip(told["family"], told["sensor_type"], strict=True) if {"family", "sensor_type"} <= set(told) else ()
        apart = _standardised(attempts, numbers)
        return cls(
            tuple(numbers), {name: found for name, found in words.items() if found}, frozenset(pairs), _correlated(apart, count)
        )

    @property
    def names(self) -> tuple[str, ...]:
        return (*self.words, *(one.name for one in self.numbers))

    @property
    def is_family(self) -> np.ndarray:
        """Tell which columns of the table are families."""
        sizes = [(name == "family", max(place.values()) + 2) for name, place in self.words.items()]
        is_family = [is_so for is_so, size in sizes for _ in range(size)]
        return np.array([False, *is_family, *[False] * (2 * len(self.numbers))])

    def table(self, cases: pd.DataFrame) -> np.ndarray:
        """Return (cases, 1 + columns): ones; each word and its blank; the numbers, standardised; their blanks.

        A blank number stands where those read let expect it; or else numbers that go with it would be weighed for both. A
        word that was never cleaned stands at 0 in all: the average of the others.
        """
        parts = [np.ones(len(cases))]
        for name, place in self.words.items():
            blank = max(place.values()) + 1
            number = np.array([place.get(one, -1 if one is not None else blank) for one in _words(cases, name)], dtype=np.int64)
            parts += list(number == np.arange(blank + 1)[:, None])
        apart = _standardised(cases, self.numbers)
        return np.column_stack([*parts, *self._filled(apart).T, *np.isnan(apart).T]).astype(float)

    def _filled(self, apart: np.ndarray) -> np.ndarray:
        is_read, filled = ~np.isnan(apart), np.nan_to_num(apart)
        for pattern in np.unique(is_read, axis=0):
            if pattern.any() and not pattern.all():
                rows = (is_read == pattern).all(axis=1)
                slopes = np.linalg.solve(self._correlation[pattern][:, pattern], self._correlation[pattern][:, ~pattern])
                filled[np.ix_(rows, ~pattern)] = filled[np.ix_(rows, pattern)] @ slopes
        return filled

    def holds(self, cases: pd.DataFrame) -> np.ndarray:
        """Tell which cases lie within what was cleaned; a blank always does."""
        is_held = np.ones(len(cases), dtype=bool)
        for one in self.numbers:
            value = _floats(cases, one.name)
            is_held &= np.isnan(value) | ((value >= one.least) & (value <= one.most))
        told = {name: _words(cases, name) for name in self.words}
        for name, known in self.words.items():
            is_held &= np.array([one is None or one in known for one in told[name]], dtype=bool)
        if self.pairs and {"family", "sensor_type"} <= set(told):
            pairs = zip(told["family"], told["sensor_type"], strict=True)
            # where the log does not say the sensor type of a family, it may be any
            is_held &= np.array([None in pair or {pair, (pair[0], None)} & self.pairs != set() for pair in pairs], dtype=bool)
        return is_held


def _placed(told: list, count: np.ndarray) -> dict[object, int]:
    """Return the place of each word, the commonest first; beyond MOST_WORDS they share the last."""
    total = dict.fromkeys((one for one in told if one is not None), 0)
    for one, much in zip(told, count.tolist(), strict=True):
        if one is not None:
            total[one] += much
    order = sorted(total, key=lambda one: (-total[one], str(one)))
    return {one: min(number, MOST_WORDS - 1) for number, one in enumerate(order)}


def _standardised(frame: pd.DataFrame, numbers: Sequence[Number]) -> np.ndarray:
    """Return (rows, numbers) in SDs from the mean, NaN where blank. A number that never varied tells nothing: 0."""
    found = np.empty((len(frame), len(numbers)))
    for place, one in enumerate(numbers):
        # (what a hand may mistype in a case must not run over)
        value = np.clip(_floats(frame, one.name), -1e9, 1e9)
        found[:, place] = (value - one.mean) / one.sd if one.sd > 1e-12 * max(abs(one.mean), 1) else 0.0 * value
    return found


def _correlated(apart: np.ndarray, count: np.ndarray) -> np.ndarray:
    """Return the correlations of the numbers over the rows that have both, drawn towards 0 where those are few."""
    is_read, value = (~np.isnan(apart)).astype(float), np.nan_to_num(apart)
    both = (is_read.T * count) @ is_read
    found = ((value.T * count) @ value) / (both + FEW_TOGETHER)
    # Taken pair by pair they need not go together: what cannot be is put right.
    size, direction = np.linalg.eigh(found - np.diag(np.diag(found)) + np.eye(len(found)))
    found = (direction * np.maximum(size, LEAST_SPREAD)) @ direction.T
    return found / np.sqrt(np.outer(np.diag(found), np.diag(found)))


def _floats(frame: pd.DataFrame, name: str) -> np.ndarray:
    """Return a column as floats, NaN where blank or lacking."""
    return frame[name].to_numpy(dtype=float, na_value=np.nan) if name in frame else np.full(len(frame), np.nan)


def _words(frame: pd.DataFrame, name: str) -> list:
    """Return a column as plain values, None where blank or lacking."""
    if name not in frame:
        return [None] * len(frame)
    return frame[name].astype(object).where(frame[name].notna(), None).tolist()
