"""Which fault ends the lives of a group, and whether one comes at another pace in some groups."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipelines.answers.detail import FailedPoint, Mechanism, MechanismTest
from pipelines.answers.groups import by_group
from pipelines.answers.life import Known
from pipelines.answers.question import Asked
from pipelines.answers.spells import Read
from pipelines.estimates.competing import cumulative_incidence
from pipelines.estimates.gray import gray_test
from pipelines.estimates.survival import drawn
from pipelines.vocabulary import Because

#: Points of one curve that a figure can show apart.
MOST_POINTS = 200
#: Gray's test takes time with the failure times and the square of the groups: some 0.05 s a mechanism at this product.
MOST_WORK = 200_000


def by_mechanism(
    known: Known, read: Read, asked: Asked
) -> tuple[dict[int, list[Mechanism]], list[MechanismTest] | None]:  # fmt: skip
    """Return the cumulative incidence of each mechanism by group, and the tests across the groups; None with one group."""
    counts = by_group(
        read.spells.counts_by_mechanism(grid=read.grid), ["entry", "at", "is_failure", "failed_by"], known.keys, asked.by
    ).rename(columns={"failed_by": "mechanism"})  # fmt: skip
    curves = cumulative_incidence(counts, by=["group_no"], level=asked.level)
    found = {number: _mechanisms(part, known, number, asked) for number, part in curves.groupby("group_no")}
    return found, _tests(counts) if counts["group_no"].nunique() > 1 else None


def _mechanisms(curves: pd.DataFrame, known: Known, number: int, asked: Asked) -> list[Mechanism]:
    """Return the mechanisms seen in one group, the most frequent first."""
    names = curves["mechanism"].unique()
    width = len(curves) // len(names)
    shown = drawn(
        curves.iloc[:width], spell_count=known.fits[number].spells, min_at_risk=asked.settings.min_at_risk
    ).curve["is_drawn"].to_numpy()  # fmt: skip
    columns = [
        curves[name].to_numpy().reshape(-1, width) for name in ("at", "failed_share", "low", "high", "at_risk", "failed")
    ]  # fmt: skip
    failed = columns[-1].sum(axis=1)
    return [
        Mechanism(str(names[row]), int(failed[row]), _points([one[row][shown] for one in columns]))
        for row in np.argsort(-failed, kind="stable")
        if failed[row]
    ]


def _points(columns: list[np.ndarray]) -> list[FailedPoint]:
    """Return the rows where the share changes, and both ends; evenly many of them where there are too many."""
    failed = columns[-1]
    if not len(failed):
        return []
    kept = np.unique(np.concatenate([[0], np.flatnonzero(failed), [len(failed) - 1]]))
    kept = kept[np.linspace(0, len(kept) - 1, min(len(kept), MOST_POINTS)).round().astype(int)]
    return [
        FailedPoint(at, share, None if np.isnan(low) else low, None if np.isnan(high) else high, int(at_risk), int(count), True)
        for at, share, low, high, at_risk, count in zip(*(one[kept].tolist() for one in columns), strict=True)
    ]


def _tests(counts: pd.DataFrame) -> list[MechanismTest]:
    """Return Gray's test of each mechanism, of the spells watched from the start, which is all it is defined for."""
    is_late = (counts["entry"] > 0).to_numpy()
    late, tested = int(counts.loc[is_late, "spell_count"].sum()), counts[~is_late]
    names = sorted(counts["mechanism"].dropna().unique())
    if tested["group_no"].nunique() ** 2 * tested.loc[tested["is_failure"], "at"].nunique() > MOST_WORK:
        return [MechanismTest(name, Because.TOO_LARGE, None, None, None, 0, late) for name in names]
    found = ((name, gray_test(tested, group="group_no", mechanism=name)) for name in names)
    return [
        MechanismTest(name, one.because, one.statistic, one.degrees_of_freedom, one.p_value, one.failures, late)
        for name, one in found
    ]
