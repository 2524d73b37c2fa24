"""Gaps of module lives, from one clean to the next, as arrays in which each gap knows the one before it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.counts import require, require_columns, times, whole_counts

GAP_COLUMNS = ("module", "gap_number", "cluster", "depth", "entry", "lower", "upper")


@dataclass(frozen=True)
class Gaps:
    """One group's gaps, sorted by gap number, times over `unit`; only unbroken chains from a module's start.

    kinds: the depths of cleans; kind: the place of the opening clean's depth among them, -1 for a first gap.
    layers: the rows of each gap number; parent: the row of the gap before; length: the age gained by the gap's end.
    cause: of a failure, 1 counted, 0 another, -1 not known.
    is_seen: some of the gap was watched; is_exact, is_between: it ended in a failure at a known time, between two times.
    left_out: rows of modules whose start, or a gap before, is unknown.
    """

    kinds: tuple[str, ...]
    layers: tuple[slice, ...]
    parent: np.ndarray
    kind: np.ndarray
    cluster: np.ndarray
    cluster_count: int
    entry: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    cause: np.ndarray
    unit: float
    left_out: int

    @cached_property
    def length(self) -> np.ndarray:
        return np.where(np.isfinite(self.upper), self.upper, self.lower)

    @cached_property
    def is_seen(self) -> np.ndarray:
        return self.length > self.entry

    @cached_property
    def is_exact(self) -> np.ndarray:
        return self.is_seen & (self.lower == self.upper)

    @cached_property
    def is_between(self) -> np.ndarray:
        return self.is_seen & (self.lower < self.upper) & np.isfinite(self.upper)

    @property
    def failures(self) -> int:
        return int((self.is_exact | self.is_between).sum())

    def failures_of(self, cause: int) -> int:
        """Return the number of failures of a cause, as `cause` has it."""
        return int(((self.is_exact | self.is_between) & (self.cause == cause)).sum())

    def only_counted(self) -> Gaps:
        """Return the gaps in which only counted failures are failures; others end the watch, halfway between their bounds."""
        is_other = np.isfinite(self.upper) & (self.cause != 1)
        if not is_other.any():
            return self
        middle = (self.lower + self.upper) / 2
        return replace(
            self, lower=np.where(is_other, middle, self.lower), upper=np.where(is_other, np.inf, self.upper)
        )  # fmt: skip

    def cleans(self) -> np.ndarray:
        """Return the number of watched gaps that a clean of each kind opened."""
        return np.bincount(self.kind[self.is_seen & (self.kind >= 0)], minlength=len(self.kinds))


def checked(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the gaps with times as floats and gap numbers as integers; raises InputError as `restoration` says."""
    require_columns(frame, GAP_COLUMNS)
    for column in ("module", "cluster"):
        require(frame[column].notna().to_numpy(), f"`{column}` is blank", "Name the module and the controller of every gap.")
    number = whole_counts(frame, "gap_number")
    entry, lower, upper = (times(frame, column) for column in ("entry", "lower", "upper"))
    require(
        (entry <= lower) & (lower <= upper) & np.isfinite(lower),
        "A gap ends before it begins",
        "Give 0 <= entry <= lower <= upper, `upper` infinite where no failure was found.",
    )
    require(number >= 1, "`gap_number` is less than 1", "Number the gaps of a module from 1.")
    gaps = frame.assign(gap_number=number, entry=entry, lower=lower, upper=upper)
    if gaps.duplicated(["module", "gap_number"]).any():
        raise InputError("A module has two gaps of one number.", "Number the gaps of a module 1, 2, 3 in order.")
    if len(gaps[["module", "cluster"]].drop_duplicates()) > gaps["module"].nunique():
        raise InputError("A module stands in two clusters.", "Name one controller for each module life.")
    return gaps


def chained(gaps: pd.DataFrame, *, kinds: Sequence[str] = ()) -> Gaps:
    """Chain the checked gaps of one group. kinds: depths to know beforehand, in this order; others follow by name.

    A gap is used where all gaps before it in its module are there, from a first that began with the module (depth
    blank), and where each later one names its clean.
    """
    gaps = gaps.sort_values(["module", "gap_number"], kind="stable", ignore_index=True)
    is_sound = gaps["depth"].isna() == (gaps["gap_number"] == 1)
    place = gaps.groupby("module").cumcount() + 1
    broken = (~is_sound | (place != gaps["gap_number"])).groupby(gaps["module"]).cummax()
    used = gaps[~broken].sort_values(["gap_number", "module"], kind="stable", ignore_index=True)
    names = tuple(dict.fromkeys([*kinds, *sorted(used["depth"].dropna().unique())]))
    module, _ = pd.factorize(used["module"])
    number = used["gap_number"].to_numpy()
    bounds = np.searchsorted(number, np.arange(1, number.max(initial=0) + 2))
    latest = np.full(module.max(initial=-1) + 1, -1)
    parent = np.full(len(used), -1)
    layers = tuple(slice(start, stop) for start, stop in pairwise(bounds.tolist()))
    for layer in layers:
        parent[layer] = latest[module[layer]]
        latest[module[layer]] = np.arange(layer.start, layer.stop)
    cluster, clusters = pd.factorize(used["cluster"])
    entry, lower, upper = (used[name].to_numpy(dtype=float) for name in ("entry", "lower", "upper"))
    unit = max(float(lower.max(initial=0.0)), float(upper[np.isfinite(upper)].max(initial=0.0))) or 1.0
    kind = pd.Index(names).get_indexer(used["depth"]) if names else np.full(len(used), -1)
    cause = np.ones(len(used), dtype=int)
    if "is_counted" in used:
        cause = np.where(used["is_counted"].isna(), -1, used["is_counted"].eq(True))
    return Gaps(
        names, layers, parent, kind, cluster, len(clusters), entry / unit, lower / unit, upper / unit, cause, unit,
        int(broken.sum()),
    )  # fmt: skip
