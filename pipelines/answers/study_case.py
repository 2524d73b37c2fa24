"""The words of `--case` for a study: what it is to show and how it is run, and the life that a test is to show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pipelines.answers import case as read
from pipelines.errors import SettingError
from pipelines.estimates.fixed_shape import LARGEST_SHAPE, LEAST_SHAPE
from pipelines.estimates.study_plan import LARGEST_RATIO, LEAST_RATIO, LEAST_SHARE

#: Days of a month of a study.
MONTH_DAYS = 365.25 / 12
#: The longest study that is looked at, in months.
MOST_MONTHS = 48


@dataclass(frozen=True)
class StudyCase:
    """What was asked about; None: not said. Shares from 0 to 1.

    ratios: how many times as often a worse batch fails; false_alarm: one-sided; new_share: of all modules, those of the new
    batch; modules: in all. life: to be shown, in the unit of the clock; life_share: failed by then; better: how many times as
    long as that modules truly last.
    """

    ratios: list[float]
    power: float
    false_alarm: float
    new_share: float
    enrol_months: float
    lost_per_year: float
    modules_per_controller: int
    hours_per_week: float | None
    months: float | None
    modules: int | None
    life: float | None
    life_share: float
    shape: float | None
    confidence: float
    better: float
    test_time: float | None


def study_case(words: Mapping[str, str]) -> StudyCase:
    """Return the study that `--case` describes. Raises SettingError on what cannot be."""

    def number(name: str, default: float, low: float, high: float) -> float:
        return read.number(name, words[name], low=low, high=high) if name in words else default

    def wanted(name: str, low: float, high: float) -> float | None:
        return read.number(name, words[name], low=low, high=high) if name in words else None

    ratios = [
        read.number("ratio", one.strip(), low=LEAST_RATIO, high=LARGEST_RATIO, write="ratio=1.5,2")
        for one in words.get("ratio", "1.5,2").split(",")
    ]  # fmt: skip
    enrol = number("enrol_months", 0.0, 0.0, MOST_MONTHS - 1)
    months = wanted("months", 0.1, MOST_MONTHS)
    if months is not None and months <= enrol:
        raise SettingError(
            f"A study of {months:g} months ends before its last module is fitted, after {enrol:g}.",
            "Give more months, or let them be fitted in fewer.",
        )
    return StudyCase(
        sorted(set(ratios)), number("power", 0.8, 0.5, 0.999), number("false_alarm", 0.05, 0.0001, 0.25),
        number("new_share", 0.5, LEAST_SHARE, 1 - LEAST_SHARE), enrol, number("lost_per_year", 0.0, 0.0, 0.99),
        2 if number("modules_per_controller", 2, 1, 2) > 1 else 1, wanted("hours_per_week", 0.1, 168), months,
        read.count("modules", words["modules"], low=2) if "modules" in words else None, wanted("life", 0.001, 1e6),
        number("life_share", 0.1, 0.001, 0.999), wanted("shape", LEAST_SHAPE, LARGEST_SHAPE),
        number("confidence", 0.9, 0.5, 0.999), number("better", 2.0, 1.0, 100.0), wanted("test_time", 0.001, 1e6),
    )  # fmt: skip
