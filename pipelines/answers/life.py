"""Survival of spells: what time to failure and recurrence have in common, from counts to the answer record."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.answers.clock import HourCheck, check_hours
from pipelines.answers.question import Asked
from pipelines.answers.record import CurvePoint, LifeGroup, LifePart, WeibullPart
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.survival import drawn, quantile, survival
from pipelines.estimates.weibull import WeibullFit, weibull
from pipelines.facts.read import Connection, Spells
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Clock, SpellKind
from pipelines.wording import verdict

#: Above this many spells, times are rounded to steps of about a two-thousandth of the longest, unless `grid` says else.
EXACT_UP_TO = 20_000
STEPS = 2000
#: With more rows of counts than this a Weibull fit takes steps twice as wide: its pairs of bounds are many.
MOST_PAIRS = 60_000
#: A grouping that is blank on more than this share of the censored modules has no denominator.
BLANK_SHARE = 0.20

#: (part, clock, level) → one plain sentence.
Say = Callable[[LifePart, Clock, float], str]


@dataclass(frozen=True)
class Read:
    """The spells of a question on the clock in use: numbers by group, and the hour check that chose the clock."""

    spells: Spells
    numbers: pd.DataFrame
    modules: pd.DataFrame
    clock: Clock
    hours: HourCheck
    grid: float

    settings: Settings
    by: tuple[str, ...]

    @property
    def is_hours_refused(self) -> bool:
        return self.clock is Clock.HOURS and self.hours.is_refused

    @property
    def settings_used(self) -> dict[str, object]:
        """Return the settings as plain words, with the grid that was in fact used."""
        return {**self.settings.as_plain(), "grid": self.grid}

    @property
    def left_out(self) -> dict[str, int]:
        """Return the counts of this question that the clock cannot use."""
        return {
            "no_usable_hours": int(self.numbers["no_hours_count"].sum()) if self.clock is Clock.HOURS else 0,
            "no_length": int(self.numbers["no_length_count"].sum()),
            "grouping_blank": int(self.numbers.loc[self._is_blank(), "spell_count"].sum()),
        }

    def _is_blank(self) -> pd.Series:
        return self.numbers[list(self.by)].isna().any(axis=1)

    @property
    def unknown_age_count(self) -> int:
        """Return how many usable spells belong to modules of unknown age."""
        is_known = self.numbers["is_age_known"].astype(bool)
        return int(self.numbers.loc[~is_known, "spell_count"].sum())


def read_spells(connection: Connection, asked: Asked, kind: SpellKind | None) -> Read:
    """Read the spells of one kind, or of all (None); hours unless refused or days were asked for."""

    clock = asked.clock or Clock.HOURS
    spells = Spells(connection, kind=kind, is_hours=clock is Clock.HOURS, by=asked.by, where=asked.where)
    numbers = spells.numbers()
    hours = check_hours(numbers)
    if asked.clock is None and hours.is_refused:
        clock = Clock.DAYS
        spells.in_days()
        numbers = spells.numbers()
    grid = grid_for(asked.settings, int(numbers["spell_count"].sum()), float(numbers["longest"].max()))
    return Read(spells, numbers, spells.modules(), clock, hours, grid, asked.settings, asked.by)


def grid_for(settings: Settings, count: int, longest: float) -> float:
    """Return the step to which times are rounded: 0 (exact) for up to EXACT_UP_TO spells, unless `grid` is set."""
    if settings.grid is not None:
        return settings.grid
    if count <= EXACT_UP_TO or not longest > 0:
        return 0.0
    step = 10 ** np.floor(np.log10(longest / STEPS))
    return float(max(step * next(times for times in (1, 2, 5, 10) if step * times >= longest / STEPS), 1.0))


def without_denominator(numbers: pd.DataFrame, by: tuple[str, ...]) -> str | None:
    """Return the first grouping that is blank on too many of the censored modules, or None."""
    censored = numbers[~numbers["is_failure"].astype(bool)]
    total = censored["spell_count"].sum()
    for column in by:
        if total and censored.loc[censored[column].isna(), "spell_count"].sum() > BLANK_SHARE * total:
            return column
    return None


def hours_refusal(read: Read) -> tuple[Because, str] | None:
    """Return the reason and the sentence where the clock in use is the hour clock and would mislead, else None."""
    if not read.is_hours_refused:
        return None
    hours = read.hours
    return Because.CLOCK_REFUSED, verdict.clock_refused_sentence(
        without=hours.without, total=hours.total, survivors_lose_more=hours.is_survivor_biased
    )


def clock_warnings(read: Read, asked: Asked) -> list[str]:
    """Return what to say where days are shown because hours would mislead."""
    if asked.clock is None and read.hours.is_refused:
        return [verdict.clock_fallback_warning(without=read.hours.without, total=read.hours.total)]
    return []


@dataclass(frozen=True)
class Known:
    """The spells of known age as counts by `group_no`, the place of their group in `keys`, with what was estimated of them.

    counts, fit_counts: what the curves and what the fits were taken from; curves, fits: by group_no, where there are spells.
    """

    keys: list[dict]
    counts: pd.DataFrame
    fit_counts: pd.DataFrame
    curves: dict[int, pd.DataFrame]
    fits: dict[int, WeibullFit]


@dataclass(frozen=True)
class Lives:
    """The groups of an answer and its warnings; known is None where a reason refused the whole answer."""

    groups: list[LifeGroup]
    warnings: list[str]
    known: Known | None


def life_answer_parts(
    read: Read, asked: Asked, *, refused: tuple[Because, str] | None, say: Say, say_since_seen: Say | None
) -> Lives:
    """Return the groups, refused as a whole where a reason holds for all of them, and the warnings."""
    blank = without_denominator(read.numbers, asked.by)
    refused = refused or hours_refusal(read)
    if refused is None and blank:
        refused = (Because.NO_DENOMINATOR, verdict.no_denominator_sentence(blank))
    if refused:
        return Lives(refused_groups(read, asked, *refused), [], None)
    warnings = clock_warnings(read, asked)
    groups, known = life_groups(read, asked, say=say, say_since_seen=say_since_seen)
    return Lives(groups, warnings, known)


def life_words(
    part: LifePart, clock: Clock, level: float, *, what: str = "stick modules", event: str = "began to drift",
    start: str = "",
) -> str:  # fmt: skip
    """Return the sentence of one curve."""
    b10, median = (part.curve_quantiles[name] for name in ("b10", "median"))
    return verdict.life_sentence(
        modules=part.counts["spells"], failures=part.counts["failures"], clock=clock, level=level,
        b10=(b10.estimate, b10.low, b10.high), median=(median.estimate, median.low, median.high),
        drawn_from=part.drawn_from, what=what, event=event, start=start,
    )  # fmt: skip


def life_groups(
    read: Read, asked: Asked, *, say: Say, say_since_seen: Say | None = None
) -> tuple[list[LifeGroup], Known]:  # fmt: skip
    """Return one LifeGroup per combination of the grouping columns, in sorted order, and what those of known age were.

    `say_since_seen` adds the modules of unknown age as a part of their own; without it there are none.
    """
    counts = read.spells.counts(grid=read.grid)
    keys = group_keys([read.numbers, counts], asked.by)
    known, unknown = (_known(counts, read, keys, asked, is_age_known=is_known) for is_known in (True, False))
    parts, unknown_parts = (
        _parts(one, read, asked, is_age_known=is_known) for one, is_known in ((known, True), (unknown, False))
    )
    groups = []
    for number, by in enumerate(keys):
        part = _said(parts[number], say, read.clock, asked.level)
        since = _said(unknown_parts[number], say_since_seen, read.clock, asked.level) if say_since_seen else None
        if since is not None and since.counts["spells"] == 0:
            since = None
        groups.append(LifeGroup(
            by=by, because=part.because, sentence=part.sentence, counts=part.counts, curve=part.curve,
            drawn_from=part.drawn_from, curve_quantiles=part.curve_quantiles, weibull=part.weibull,
            since_first_seen=since,
        ))  # fmt: skip
    return groups, known


def refused_groups(read: Read, asked: Asked, because: Because, sentence: str) -> list[LifeGroup]:
    """Return the groups with their counts but no estimate, for a reason that holds for all of them."""
    keys = group_keys([read.numbers], asked.by) or [dict.fromkeys(asked.by)]
    refused = {"b10": Estimate.refused(because), "median": Estimate.refused(because)}
    counts = _numbers(read, keys, asked.by, is_age_known=None)
    return [
        LifeGroup(by, because, sentence, counts[number], [], None, refused, _no_weibull(because))
        for number, by in enumerate(keys)
    ]


def _said(part: LifePart, say: Say, clock: Clock, level: float) -> LifePart:
    return LifePart(**{**vars(part), "sentence": say(part, clock, level)})


def group_keys(frames: list[pd.DataFrame], by: tuple[str, ...]) -> list[dict[str, str | int | None]]:
    """Return the combinations of the grouping columns that occur, sorted, blanks last; one empty one without `by`."""
    if not by:
        return [{}]
    frame = pd.concat([one[list(by)].drop_duplicates() for one in frames])
    rows = {_row(row) for row in frame.itertuples(index=False)}
    ordered = sorted(rows, key=lambda row: [(one is None, 0 if one is None else one) for one in row])
    return [dict(zip(by, row, strict=True)) for row in ordered]


def _row(row: tuple) -> tuple:
    return tuple(None if pd.isna(one) else one if isinstance(one, str) else int(one) for one in row)


def group_numbers(frame: pd.DataFrame, keys: list[dict], by: tuple[str, ...]) -> np.ndarray:
    """Return for each row of `frame` the place of its group in `keys`."""
    if not by:
        return np.zeros(len(frame), dtype=np.int64)
    place = {tuple(key.values()): number for number, key in enumerate(keys)}
    code = frame.groupby(list(by), dropna=False, sort=False).ngroup()
    firsts = frame.loc[~code.duplicated(), list(by)]
    return np.array([place[_row(row)] for row in firsts.itertuples(index=False)], dtype=np.int64)[code.to_numpy()]


def _numbers(
    read: Read, keys: list[dict], by: tuple[str, ...], *, is_age_known: bool | None
) -> list[dict[str, int]]:
    numbers, modules = (
        frame if is_age_known is None else frame[frame["is_age_known"].astype(bool) == is_age_known]
        for frame in (read.numbers, read.modules)
    )
    group, module_group = group_numbers(numbers, keys, by), group_numbers(modules, keys, by)
    is_failure = numbers["is_failure"].to_numpy(dtype=bool)
    return [
        {
            "modules": int(modules["module_count"].to_numpy()[module_group == number].sum()),
            "spells": int(numbers["spell_count"].to_numpy()[group == number].sum()),
            "failures": int(numbers["spell_count"].to_numpy()[(group == number) & is_failure].sum()),
            "assumed_failures": int(numbers["assumed_count"].to_numpy()[group == number].sum()),
        }
        for number in range(len(keys))
    ]


def by_group(
    frame: pd.DataFrame, columns: Sequence[str], keys: list[dict], by: tuple[str, ...], *, is_age_known: bool = True
) -> pd.DataFrame:
    """Return `columns` of the counts of known (or unknown) age, and `group_no`, the place of their group in `keys`."""
    is_mine = frame["is_age_known"].to_numpy(dtype=bool) == is_age_known
    mine = frame.loc[is_mine, [*columns, "spell_count"]].reset_index(drop=True)
    return mine.assign(group_no=group_numbers(frame.loc[is_mine, list(by)].reset_index(drop=True), keys, by))


def _known(counts: pd.DataFrame, read: Read, keys: list[dict], asked: Asked, *, is_age_known: bool) -> Known:
    mine = by_group(counts, ["entry", "lower", "upper", "at", "is_failure"], keys, asked.by, is_age_known=is_age_known)
    if not len(mine):
        return Known(keys, mine, mine, {}, {})
    is_many = read.grid and asked.settings.grid is None and len(mine) > MOST_PAIRS
    for_fits = _coarser(mine, step=read.grid * 2) if is_many else mine
    fits = weibull(for_fits, by=["group_no"], level=asked.level, min_failures=asked.settings.min_failures)
    curves = dict(list(survival(mine, by=["group_no"], level=asked.level).groupby("group_no")))
    return Known(keys, mine, for_fits, curves, {fit.by[0]: fit for fit in fits})


def _parts(known: Known, read: Read, asked: Asked, *, is_age_known: bool) -> list[LifePart]:
    numbers = _numbers(read, known.keys, asked.by, is_age_known=is_age_known)
    return [
        _part(one, known.curves.get(number), known.fits.get(number), asked) for number, one in enumerate(numbers)
    ]  # fmt: skip


def _coarser(counts: pd.DataFrame, *, step: float) -> pd.DataFrame:
    """Round entry down and the bounds to the nearest step, at least one step after the entry."""
    entry = np.floor(counts["entry"].to_numpy() / step)
    lower, upper = (np.round(counts[name].to_numpy() / step) for name in ("lower", "upper"))
    is_between = np.isfinite(upper) & (counts["lower"] < counts["upper"]).to_numpy()
    lower = np.where(is_between, np.maximum(lower, entry), np.maximum(lower, entry + 1))
    return counts.assign(entry=entry * step, lower=lower * step, upper=np.maximum(upper, np.maximum(lower, entry + 1)) * step)


def _part(numbers: dict[str, int], curve: pd.DataFrame | None, fit: WeibullFit | None, asked: Asked) -> LifePart:
    if curve is None or fit is None:
        none = Because.NO_SPELLS
        refused = {"b10": Estimate.refused(none), "median": Estimate.refused(none)}
        return LifePart(none, "", numbers, [], None, refused, _no_weibull(none))
    shown = drawn(curve, spell_count=numbers["spells"], min_at_risk=asked.settings.min_at_risk)
    return LifePart(
        because=Because.NO_FAILURES if numbers["failures"] == 0 else None,
        sentence="",
        counts=numbers,
        curve=_points(shown.curve),
        drawn_from=shown.drawn_from,
        curve_quantiles={"b10": quantile(curve, share=0.1), "median": quantile(curve, share=0.5)},
        weibull=WeibullPart(fit.because, fit.shape, fit.scale, fit.b10, fit.median, fit.log_likelihood),
    )


def _no_weibull(because: Because) -> WeibullPart:
    return WeibullPart(because, *[Estimate.refused(because)] * 4, None)


def _points(curve: pd.DataFrame) -> list[CurvePoint]:
    columns = ("at", "surviving_share", "low", "high", "at_risk", "failed", "censored", "is_drawn")
    return [
        CurvePoint(
            float(at), float(share), None if np.isnan(low) else float(low), None if np.isnan(high) else float(high),
            int(at_risk), int(failed), int(censored), bool(is_drawn),
        )
        for at, share, low, high, at_risk, failed, censored, is_drawn in zip(
            *(curve[column].to_numpy() for column in columns), strict=True
        )
    ]  # fmt: skip
