"""`answer before-after`: are there fewer faults since a programme began, on the same controllers?"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt
from pathlib import Path

import pandas as pd

from pipelines.answers.before_after_record import BeforeAfter, Fair, MeanCounts, Programme, Side, Watched
from pipelines.answers.case import count, known_name
from pipelines.answers.question import Asked
from pipelines.answers.recurrent_detail import curve_points
from pipelines.answers.watched_periods import PER, WatchedPeriods, watched_periods
from pipelines.decisions.change import change_of
from pipelines.errors import SettingError
from pipelines.estimates.before_after import Sides, fair_change, sides
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.mean_cumulative import difference, mean_cumulative
from pipelines.estimates.rate_ratio import halving_power
from pipelines.facts.periods import Periods
from pipelines.facts.read import Connection, choices, window
from pipelines.logs.aliases import Aliases, stored
from pipelines.settings import Settings
from pipelines.vocabulary import Because
from pipelines.wording import before_after as wording


def before_after(connection: Connection, asked: Asked) -> BeforeAfter:
    """Answer from the log. Raises SettingError on a case that the log cannot hold."""
    log = window(connection)
    span = _span(asked, log.log_start, log.log_end)
    found = watched_periods(Periods(connection, [span.before, span.after]))
    units = _both_sides(found)
    program, is_chosen = _programme(asked, span, found.stretches, choices(connection, "life"), stored(connection))
    is_picked, in_fleet = _kind(program, units)
    mine, others = units[is_chosen(units) & in_fleet], units[~is_chosen(units) & in_fleet]
    plain, rest = sides(mine, level=asked.level), sides(others, level=asked.level)
    fair = _fair(mine, others, plain, is_picked=is_picked, level=asked.level)
    verdict = change_of(fair.ratio, fair.halving_power)
    seen = found.stretches[is_chosen(found.stretches)]
    left_out = {
        "one_side_only": int(seen["unit_no"].nunique()) - len(mine), "faults_without_hours": found.faults_left_out,
    }  # fmt: skip
    told = {
        "case": program, "verdict": verdict.value, "watched": _watched(plain), "others": _watched(rest) if len(others) else None,
        "fair": fair, "mean_counts": _mean_counts(found, mine, asked), "left_out": left_out,
    }  # fmt: skip
    because = fair.ratio.because if fair.ratio.high is None else None
    words = {"clock": found.clock, "level": asked.level}
    return BeforeAfter(
        question=asked.question.value, log_start=log.log_start, log_end=log.log_end, settings=asked.settings.as_plain(),
        sentence=wording.sentence(**told, **words), because=because,
        warnings=wording.warnings(**told, **words, known_share=found.known_share, quiet_lag_days=asked.settings.quiet_lag_days),
        **told, **words | {"clock": found.clock.value},
    )  # fmt: skip


@dataclass(frozen=True)
class _Span:
    start: dt.date
    days: int

    @property
    def before(self) -> tuple[dt.date, dt.date]:
        return self.start - dt.timedelta(days=self.days), self.start - dt.timedelta(days=1)

    @property
    def after(self) -> tuple[dt.date, dt.date]:
        return self.start, self.start + dt.timedelta(days=self.days - 1)


def last_day(log_end: str, settings: Settings) -> dt.date:
    """Return the last day of which faults are in: the end of the log less the quiet lag."""
    return dt.date.fromisoformat(log_end) - dt.timedelta(days=settings.quiet_lag_days)


def _span(asked: Asked, log_start: str | None, log_end: str | None) -> _Span:
    """Return the day of the start and the length of both sides. Raises SettingError."""
    if log_start is None or log_end is None:
        raise SettingError("The log holds no day.", "Load jobs first.")
    if "start" not in asked.case:
        raise SettingError("before-after asks for the day on which the programme began.", "Give it as --case start=2026-01-15.")
    try:
        start = dt.date.fromisoformat(asked.case["start"])
    except ValueError as error:
        raise SettingError(f"'{asked.case['start']}' is no date for start.", "Write it as 2026-01-15.") from error
    first, last = dt.date.fromisoformat(log_start), last_day(log_end, asked.settings)
    most = min((start - first).days, (last - start).days + 1)
    if most < 1:
        lag = f", of which the last {asked.settings.quiet_lag_days} days are not used" if asked.settings.quiet_lag_days else ""
        raise SettingError(
            f"{start} leaves no day before or after: the log runs from {log_start} to {log_end}{lag}.", "Give a day inside it."
        )
    days = count("span_days", asked.case["span_days"], low=1) if "span_days" in asked.case else most
    if days > most:
        raise SettingError(f"{days} days do not fit on both sides of {start}.", f"Give at most {most}, or none for all that fit.")
    return _Span(start, days)


def _programme(asked: Asked, span: _Span, stretches: pd.DataFrame, known: Mapping[str, list[str]], aliases: Aliases):
    """Return who is in it, and what tells that of rows with unit_id, site and family; known: the values of the log.

    Raises SettingError.
    """
    case = asked.case
    names = {
        column: known_name(column, case[column], known.get(column, []), aliases.for_column("units", named))
        if column in case
        else None
        for column, named in (("site", "site_id"), ("family", "family"))
    }
    ids = _named_units(case)
    own = set(stretches["unit_id"])
    program = Programme(
        start=span.start.isoformat(), span_days=span.days, before=[one.isoformat() for one in span.before],
        after=[one.isoformat() for one in span.after], **names, units=None if ids is None else len(ids),
        unknown=[] if ids is None else [one for one in ids if one not in own],
    )  # fmt: skip

    def is_chosen(frame: pd.DataFrame) -> pd.Series:
        chosen = pd.Series(True, index=frame.index)
        for column, name in names.items():
            chosen &= True if name is None else frame[column] == name
        return chosen if ids is None else chosen & frame["unit_id"].isin(ids)

    return program, is_chosen


def _named_units(case: dict[str, str]) -> list[str] | None:
    """Return the controllers named one by one; the first cell of each line of a file. Raises SettingError."""
    if "units_file" in case:
        try:
            lines = Path(case["units_file"]).read_text(encoding="utf-8-sig").splitlines()
        except (OSError, UnicodeDecodeError) as error:
            raise SettingError(f"The file {case['units_file']} cannot be read.", "Name a text file, one unit a line.") from error
        cells = [re.split(r"[,;\t]", line)[0] for line in lines]
    elif "units" in case:
        cells = re.split(r"[,;\s]+", case["units"])
    else:
        return None
    named = dict.fromkeys(cell.strip().strip('"') for cell in cells)
    return [one for one in named if one and one.casefold() not in ("unit_id", "unit", "serial")]


def _both_sides(found: WatchedPeriods) -> pd.DataFrame:
    """Return one row per controller watched on both sides, as `estimates.before_after` takes them, with what it is."""
    rows = found.by_unit()
    before, after = (rows[rows["period_no"] == side].set_index("unit_no") for side in (0, 1))
    both = before.join(after[["exposure", "faults"]], rsuffix="_after", how="inner")
    return both.rename(columns={
        "exposure": "before_exposure", "faults": "before_faults", "exposure_after": "after_exposure",
        "faults_after": "after_faults",
    }).reset_index()  # fmt: skip


def _kind(program: Programme, units: pd.DataFrame) -> tuple[bool, pd.Series]:
    """Return whether the units were picked one by one, and of which units they are; a site or family then only narrows these."""
    fleet = pd.Series(True, index=units.index)
    if program.units is None:
        return False, fleet
    for column in ("site", "family"):
        name = getattr(program, column)
        fleet &= True if name is None else units[column] == name
    return True, fleet


def _fair(mine: pd.DataFrame, others: pd.DataFrame, plain: Sides, *, is_picked: bool, level: float) -> Fair:
    if not len(others):  # nothing to compare with: the same rate as before is expected
        expected = plain.before_faults / plain.before_exposure * plain.after_exposure if plain.units else 0.0
        error = sqrt(plain.spread / plain.before_faults) if plain.before_faults else 0.0
        power = halving_power(expected, relative_error=error, level=level, spread=plain.spread)
        return Fair(expected if plain.units else None, None, None, plain.ratio, power)
    told = fair_change(mine, others, is_picked=is_picked, level=level)
    return Fair(told.expected_faults, told.shrunk_share, told.others_change, told.ratio, told.power)


def _watched(one: Sides) -> Watched:
    return Watched(
        one.units, Side(one.before_faults, one.before_exposure, per_thousand(one.before)),
        Side(one.after_faults, one.after_exposure, per_thousand(one.after)), one.ratio,
    )  # fmt: skip


def per_thousand(one: Estimate) -> Estimate:
    """Return a rate for PER hours or days in the place of one."""
    numbers = (None if value is None else PER * value for value in (one.estimate, one.low, one.high))
    return Estimate(*numbers, one.because)


def _mean_counts(found: WatchedPeriods, mine: pd.DataFrame, asked: Asked) -> MeanCounts:
    """Return the mean counts of the units in the programme, on both sides."""
    stretches, events = (
        one[one["unit_no"].isin(mine["unit_no"])].rename(columns={"unit_no": "unit", "period_no": "side"})
        for one in (found.stretches, found.events)
    )
    if not len(stretches):
        return MeanCounts(Because.NO_SPELLS, [], [], None, Estimate.refused(Because.NO_SPELLS), False)
    words = {"by": ["side"], "level": asked.level, "min_at_risk": asked.settings.min_at_risk}
    frames = events[["side", "unit", "at"]], stretches[["side", "unit", "entry", "exit"]]
    before, after = (curve_points(one.curve) for one in mean_cumulative(*frames, **words))
    gap = difference(*frames, **words, first=(0,), second=(1,))
    return MeanCounts(gap.because, before, after, gap.compared_at, gap.overall, gap.is_shown)
