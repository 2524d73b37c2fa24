"""A cleaning plan as a page to print, without scripts or anything fetched, as a workbook, and as a calendar that is kept."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

from pipelines.answers.cleaning_plan_calendar import plan_calendar
from pipelines.answers.cleaning_plan_record import CleaningPlan
from pipelines.answers.cleaning_plan_text import plan_sheets
from pipelines.answers.files import workbook_bytes
from pipelines.answers.page import page
from pipelines.errors import SettingError
from pipelines.wording.cautions import caution_lines
from pipelines.wording.cleaning_plan import interval_lines, time_words


def plan_html(answer: CleaningPlan) -> bytes:
    """Return the page: day by day, with a box to tick. Whatever comes from the log is shown as it is, never run."""
    days = [(day, list(cleans)) for day, cleans in groupby(answer.cleans, key=lambda one: one.planned_on)]
    return page(
        "plan_sheet.html", sentence=answer.sentence, warnings=answer.warnings, asked_for=[], days=days, time_words=time_words,
        zone=answer.zone if answer.window else None,
        intervals=interval_lines(answer), cautions=caution_lines(), log=f"{answer.log_start} to {answer.log_end}",
    )  # fmt: skip


def plan_workbook(answer: CleaningPlan) -> bytes:
    """Return the workbook: the cleans, how many a day, and how it was asked."""
    return workbook_bytes(plan_sheets(answer))


def write_calendar(answer: CleaningPlan, path: Path) -> None:
    """Write the calendar file; one that is there is brought up to date. Raises SettingError, InputError where it is another's."""
    try:
        path.write_bytes(plan_calendar(answer, path.read_bytes() if path.exists() else None))
    except OSError as error:
        raise SettingError(f"{path} cannot be written: {error.strerror}.", "Name a file in a folder that is there.") from error
