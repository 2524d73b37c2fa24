"""What was asked, checked: question, grouping, filter, clock, level and settings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from pipelines.answers.case import words_of_case
from pipelines.errors import SettingError
from pipelines.settings import Settings
from pipelines.vocabulary import OF_A_CASE, Clock, Question

_MODULE = ("family", "usage_class", "site", "stick", "sensor_type", "batch")
_CLEAN = (*_MODULE, "depth", "mechanism", "attempt_number")

#: The columns each question of the fleet can be split by (`--by`) and filtered by (`--where`); `--by` of factors names the
#: factors. Those of a case are asked otherwise: `pipelines.answers.case`.
BY: dict[Question, tuple[str, ...]] = {
    Question.CLEANING_SUCCESS: _CLEAN,
    Question.TIME_TO_FAILURE: _MODULE,
    Question.RECURRENCE: _CLEAN,
    Question.RESTORATION: _MODULE,
    Question.FACTORS: _CLEAN,
}
#: The columns that questions of a case can be split by.
BY_OF_A_CASE: dict[Question, tuple[str, ...]] = {
    Question.WARRANTY: ("family", "grade"),
    Question.CLEANING_INTERVAL: ("family", "usage_class"),
    Question.CLEANING_PLAN: ("family", "usage_class"),
    Question.STUDY_PLAN: _MODULE,
}
#: The columns that questions of a case can be filtered by which cannot be split.
WHERE_OF_A_CASE: dict[Question, tuple[str, ...]] = {Question.BATCH_VERDICT: _MODULE, Question.BATCH_PATTERN: _MODULE}
#: Questions of a case that take `--where` and `--clock` too, as those of the fleet do.
FILTERED = (Question.STUDY_PLAN, *WHERE_OF_A_CASE)
#: The level of intervals where none is asked for; a bid shows the middle 80 % throughout.
LEVEL, LEVEL_OF_A_BID = 0.95, 0.8
#: Forecasts are usually told with 90 %.
LEVEL_OF_A_FORECAST, FORECASTS = 0.9, (Question.NEXT_FAILURES, Question.SHELF)
#: Filters on the day a spell began or a job came in, besides the grouping columns.
DATES = ("from_on", "to_on")
#: The job log's own names for the same columns are understood too.
_LOG_NAME = {"site_id": "site", "failure_mechanism": "mechanism", "part_batch": "batch", "usage": "usage_class"}


@dataclass(frozen=True)
class Asked:
    """A question whose words have been checked."""

    question: Question
    by: tuple[str, ...]
    where: dict[str, list[str]]
    clock: Clock | None
    level: float
    settings: Settings
    is_brief: bool = False
    case: dict[str, str] = field(default_factory=dict)


def asked(
    question: str, *, by: Sequence[str], where: Mapping[str, Sequence[str]],
    clock: str | None, level: float | None, settings: Settings, is_brief: bool = False, case: Mapping[str, str] | None = None,
) -> Asked:  # fmt: skip
    """Check the words of a question. Raises SettingError naming the word and what is allowed."""
    known = _question(question)
    given = words_of_case(known, case or {})
    if known in OF_A_CASE and known not in FILTERED:
        _require_no_filter(known, where, clock)
    level = _level(known, level)
    columns = tuple(dict.fromkeys(_column(known, name, "--by") for name in by))
    filters = {_column(known, name, "--where"): [str(value) for value in values] for name, values in where.items()}
    for name in DATES:
        for value in filters.get(name, []):
            _require_date(name, value)
    return Asked(known, columns, filters, _clock(clock), level, settings, is_brief, given)


def _level(question: Question, level: float | None) -> float:
    if question is Question.LOT_BID:
        if level not in (None, LEVEL_OF_A_BID):
            raise SettingError("A bid gives 80 % intervals throughout.", "Leave --level out.")
        return LEVEL_OF_A_BID
    if level is None:
        level = LEVEL_OF_A_FORECAST if question in FORECASTS else LEVEL
    if not 0 < level < 1:
        raise SettingError(f"A level of {level} is not a probability.", "Give a level between 0 and 1, such as 0.95.")
    return level


def _require_no_filter(question: Question, where: Mapping[str, Sequence[str]], clock: str | None) -> None:
    if where:
        raise SettingError(f"{question} takes no --where.", "Say what it is about with --case NAME=VALUE.")
    if clock is not None:
        raise SettingError(f"{question} has no clock.", "Leave --clock out.")


def _question(name: str) -> Question:
    try:
        return Question(name)
    except ValueError as error:
        names = ", ".join(Question)
        raise SettingError(f"There is no question '{name}'.", f"Ask one of: {names}.") from error


def _clock(name: str | None) -> Clock | None:
    if name is None:
        return None
    try:
        return Clock(name)
    except ValueError as error:
        raise SettingError(f"There is no clock '{name}'.", "Use --clock hours or --clock days.") from error


def _column(question: Question, name: str, option: str) -> str:
    column = _LOG_NAME.get(name.strip(), name.strip())
    allowed = BY.get(question, BY_OF_A_CASE.get(question, ()))
    if option == "--where":
        allowed = (allowed or WHERE_OF_A_CASE.get(question, ())) + DATES
    if column not in allowed:
        more = f"Use one of: {', '.join(allowed)}." if allowed else f"Leave {option} out."
        raise SettingError(f"{question} has no column '{name}' for {option}.", more)
    return column


def _require_date(name: str, value: str) -> None:
    try:
        dt.date.fromisoformat(value)
    except ValueError as error:
        raise SettingError(f"'{value}' is no date for {name}.", "Write it as 2026-04-30.") from error
