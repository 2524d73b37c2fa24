"""How often controllers fail by their age: the mean number of failures, its trend, and two groups compared."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from pipelines.answers.detail import MeanCumulative, MeanDifference, MeanPoint, TrendPart
from pipelines.answers.groups import group_keys, group_numbers
from pipelines.answers.question import DATES, Asked
from pipelines.answers.record import LifeGroup
from pipelines.answers.spells import Read
from pipelines.estimates.mean_cumulative import MeanCount, difference, mean_cumulative
from pipelines.estimates.trend import Trend, trend
from pipelines.facts.read import MODULE_GROUPINGS, Connection
from pipelines.facts.spells import Recurrent
from pipelines.vocabulary import Clock

#: The columns known of a whole controller, by which its failures can be split.
OF_CONTROLLER = ("family", "usage_class", "site")
#: A curve has about as many points as a screen can show.
MOST_POINTS = 200


def recurrent_detail(
    connection: Connection, read: Read, asked: Asked, groups: list[LifeGroup]
) -> tuple[list[LifeGroup], MeanDifference | None]:
    """Return the groups with the mean number of failures per controller of known age, and the difference of two groups.

    Nothing is added where a column is not of the controller, or a filter not of its sticks. Reads other spells in the place
    of those of `read`, so it comes last.
    """
    if not (set(asked.by) <= set(OF_CONTROLLER) and set(asked.where) <= {*MODULE_GROUPINGS, *DATES}):
        return groups, None
    events, units = _histories(connection, read, asked, groups)
    by, level, settings = ["group_no"], asked.level, asked.settings
    means = mean_cumulative(events, units, by=by, level=level, min_at_risk=settings.min_at_risk)
    trends = trend(events, units, by=by, level=level, min_failures=settings.min_failures)
    parts = {one.by[0]: _part(one, other) for one, other in zip(means, trends, strict=True)}
    found = [replace(one, mean_cumulative=parts.get(number)) for number, one in enumerate(groups)]
    if len(groups) != 2 or not {0, 1} <= set(parts):
        return found, None
    gap = difference(events, units, by=by, first=(0,), second=(1,), level=level, min_at_risk=settings.min_at_risk)
    first, second = (one.by for one in groups)
    return found, MeanDifference(gap.because, first, second, gap.compared_at, gap.overall, gap.is_shown)


def _histories(
    connection: Connection, read: Read, asked: Asked, groups: Sequence[LifeGroup]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the failures and the watched stretches of the controllers of known age, numbered by group."""
    recurrent = Recurrent(connection, is_hours=read.clock is Clock.HOURS, by=asked.by, where=asked.where)
    frames = [one[one["is_age_known"].astype(bool)] for one in (recurrent.ages(), recurrent.units())]
    keys = [one.by for one in groups]
    keys += [one for one in group_keys(frames, asked.by) if one not in keys]
    events, units = (one.assign(group_no=group_numbers(one, keys, asked.by)) for one in frames)
    return events[["group_no", "unit", "at"]], units[["group_no", "unit", "entry", "exit", "is_ended_by_failure"]]


def _part(mean: MeanCount, other: Trend) -> MeanCumulative:
    # (a chance below the smallest number is not none)
    p_value = None if other.p_value is None else max(other.p_value, sys.float_info.min)
    return MeanCumulative(
        mean.overall.because, mean.units, mean.failures, mean.counted_from, mean.drawn_to, mean.overall, curve_points(mean.curve),
        TrendPart(other.because, other.verdict, p_value, other.shape, other.tested),
    )  # fmt: skip


def curve_points(curve: pd.DataFrame) -> list[MeanPoint]:
    """Return about MOST_POINTS rows of a curve, evenly, with both ends and the last drawn one; `failed` since the row before."""
    kept = np.linspace(0, len(curve) - 1, min(len(curve), MOST_POINTS)).round().astype(int)
    kept = np.union1d(kept, np.flatnonzero(curve["is_drawn"].to_numpy())[-1:])
    failed = np.diff(np.cumsum(curve["failed"].to_numpy())[kept], prepend=0)
    columns = ("at", "mean_count", "low", "high", "at_risk", "is_drawn")
    return [
        MeanPoint(
            float(at), float(mean), None if np.isnan(low) else float(low), None if np.isnan(high) else float(high),
            int(at_risk), int(count), bool(is_drawn),
        )
        for at, mean, low, high, at_risk, is_drawn, count in zip(
            *(curve[name].to_numpy()[kept] for name in columns), failed, strict=True
        )
    ]  # fmt: skip
