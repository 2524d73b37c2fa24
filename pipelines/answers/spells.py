"""The spells of a question as read: which clock they are on, how far they are rounded, and why they may be refused."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.answers.clock import HourCheck, check_hours
from pipelines.answers.question import Asked
from pipelines.facts.read import Connection
from pipelines.facts.spells import Spells
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Clock, SpellKind
from pipelines.wording import verdict

#: Above this many spells, times are rounded to steps of about a two-thousandth of the longest, unless `grid` says else.
EXACT_UP_TO = 20_000
#: Failures without a length are said in a warning where they are more than this share of all.
NO_LENGTH_SHARE = 0.01
STEPS = 2000
#: A grouping that is blank on more than this share of the censored modules has no denominator.
BLANK_SHARE = 0.20


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


def no_length_warnings(read: Read) -> list[str]:
    """Return what to say where many failures have no length on the clock in use."""
    numbers = read.numbers[read.numbers["is_failure"].astype(bool)]
    without = int(numbers["no_length_count"].sum())
    failures = without + int(numbers["spell_count"].sum())
    if without <= NO_LENGTH_SHARE * failures:
        return []
    return [verdict.no_length_warning(without=without, failures=failures)]
