"""Cleaning success: does the stick pass its test the same day, and is it still good at the horizon."""

from __future__ import annotations

import pandas as pd

from pipelines.answers.cleaning_detail import cleaning_detail
from pipelines.answers.clock import HourCheck
from pipelines.answers.frame import answer
from pipelines.answers.groups import group_keys, group_numbers
from pipelines.answers.question import Asked
from pipelines.answers.record import Answer, CleaningGroup, Durable, SameDay
from pipelines.answers.spells import grid_for
from pipelines.estimates.durable import DurableShare, durable
from pipelines.estimates.proportion import share
from pipelines.facts.read import Attempts, Connection, window
from pipelines.vocabulary import Because, Clock
from pipelines.wording import verdict


def cleaning_success(connection: Connection, asked: Asked) -> Answer:
    """Answer whether cleaning works; the histories must stand under the asked settings.

    The clock is that of the horizon: days unless hours are asked for.
    """
    clock = asked.clock or Clock.DAYS
    attempts = Attempts(connection, by=asked.by, where=asked.where)
    grid = grid_for(asked.settings, *attempts.size())
    counts = attempts.counts(is_hours=clock is Clock.HOURS, grid=grid)
    hours = _hour_check(counts)
    because = Because.CLOCK_REFUSED if clock is Clock.HOURS and hours.is_refused else None
    keys = group_keys([counts], asked.by)
    counts = counts.assign(group_no=group_numbers(counts, keys, asked.by))
    held = {one.by[0]: one for one in durable(
        counts, by=["group_no"], horizon=asked.settings.horizon, level=asked.level
    )} if len(counts) else {}  # fmt: skip
    groups = [
        _group(by, counts[counts["group_no"] == number], held.get(number), asked, clock, because)
        for number, by in enumerate(keys)
    ]
    if not asked.is_brief:
        groups = cleaning_detail(connection, attempts, asked, groups)
    return answer(
        connection, asked, window=window(connection), clock=clock, groups=groups,
        of_question={"no_usable_hours": hours.without if clock is Clock.HOURS else 0, "grouping_blank": _blank(counts, asked)},
        settings={**asked.settings.as_plain(), "grid": grid},
        warnings=[_refused_words(hours)] if because else [],
    )  # fmt: skip


def _group(
    by: dict, counts: pd.DataFrame, held: DurableShare | None, asked: Asked, clock: Clock, refused: Because | None
) -> CleaningGroup:
    same_day, worn_track = _same_day(counts, asked.level), _same_day(counts[counts["is_worn_track"]], asked.level)
    horizon = asked.settings.horizon
    if refused or held is None:
        lasting = Durable(horizon, clock, None, None, None, None, refused or Because.NO_ATTEMPTS)
    else:
        lasting = Durable(horizon, clock, held.share, held.low, held.high, held.n_effective, held.because)
    followed = counts.loc[counts["is_followed"].astype(bool), "attempt_count"].sum()
    again = counts.loc[counts["is_failure"].astype(bool), "attempt_count"].sum()
    return CleaningGroup(
        by=by,
        because=same_day.because,
        sentence=verdict.cleaning_sentence(
            passed=same_day.k, attempts=same_day.n, level=asked.level,
            same_day=None if same_day.share is None else (same_day.share, same_day.low, same_day.high),
            horizon=verdict.duration_words(horizon, clock),
            durable=(lasting.share, lasting.low, lasting.high), durable_because=lasting.because,
            worn_passed=worn_track.k, worn_attempts=worn_track.n,
        ),
        counts={"attempts": same_day.n, "passed": same_day.k, "followed": int(followed), "failed_again": int(again)},
        same_day=same_day,
        durable=lasting,
        worn_track=worn_track,
    )  # fmt: skip


def _same_day(counts: pd.DataFrame, level: float) -> SameDay:
    n = int(counts["attempt_count"].sum())
    k = int(counts.loc[counts["is_passed"].astype(bool), "attempt_count"].sum())
    one = share(k, n, level=level)
    return SameDay(one.k, one.n, one.share, one.low, one.high, one.because)


def _hour_check(counts: pd.DataFrame) -> HourCheck:
    """Passed attempts watched in days, by what became of them, and how many of them have no usable hours."""
    is_failure = counts["has_failed_again"].to_numpy(dtype=bool)
    watched = counts["attempt_count"].to_numpy() * counts["is_watched"].to_numpy(dtype=bool)
    without = counts["attempt_count"].to_numpy() * counts["is_without_hours"].to_numpy(dtype=bool)
    return HourCheck(
        survivors=int(watched[~is_failure].sum()), survivors_without=int(without[~is_failure].sum()),
        failures=int(watched[is_failure].sum()), failures_without=int(without[is_failure].sum()),
    )  # fmt: skip


def _refused_words(hours: HourCheck) -> str:
    return verdict.clock_refused_sentence(
        without=hours.without, total=hours.total, survivors_lose_more=hours.is_survivor_biased
    )


def _blank(counts: pd.DataFrame, asked: Asked) -> int:
    if not asked.by:
        return 0
    return int(counts.loc[counts[list(asked.by)].isna().any(axis=1), "attempt_count"].sum())
