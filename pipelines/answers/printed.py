"""Any answer as text or as CSV, whatever its record."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from textwrap import fill

from pipelines.answers.record import Answer
from pipelines.answers.table import csv_text
from pipelines.answers.text import WIDTH, answer_text
from pipelines.errors import SettingError
from pipelines.vocabulary import Question
from pipelines.wording.cautions import caution_words

#: Questions whose answer tells somebody to clean, solder, scrap or swap.
_WORK = (
    Question.LOT_BID, Question.CLEAN_OR_REPLACE, Question.FAULT_RATES, Question.CLEANING_INTERVAL, Question.CLEANING_PLAN,
    Question.BATCH_CONTAINMENT,
)  # fmt: skip


def text_of(answer) -> str:
    """Return an answer as text for the terminal; under what advises work stands what can hurt."""
    said = answer_text(answer) if isinstance(answer, Answer) else _of_a_case(answer)[0](answer)
    return f"{said}\n\n{fill(caution_words(), WIDTH)}" if answer.question in _WORK else said


def csv_of(answer) -> str:
    """Return an answer as one table in CSV."""
    return csv_text(answer) if isinstance(answer, Answer) else _of_a_case(answer)[1](answer)


def write_sheet_of(answer, path: Path) -> None:
    """Write an answer as a sheet to keep, as the file's ending says. Raises SettingError, also where there is no such sheet."""
    from pipelines.answers.cleaning_plan_sheet import plan_html, plan_workbook, write_calendar
    from pipelines.answers.files import write_sheet
    from pipelines.answers.lot_sheet import sheet_html, sheet_workbook
    from pipelines.answers.monthly_sheet import month_html, month_workbook

    makers = {
        Question.LOT_BID: (sheet_html, sheet_workbook), Question.MONTHLY: (month_html, month_workbook),
        Question.CLEANING_PLAN: (plan_html, plan_workbook),
    }  # fmt: skip
    if answer.question not in makers:
        raise SettingError(f"There is no sheet of {answer.question}.", f"Leave --sheet out; it is for {', '.join(makers)}.")
    if answer.question == Question.CLEANING_PLAN and path.suffix.lower() == ".ics":
        return write_calendar(answer, path)
    write_sheet(answer, path, *makers[answer.question])


def write_list_of(answer, path: Path) -> None:
    """Write the modules of a batch as FILE.csv or FILE.xlsx. Raises SettingError."""
    from pipelines.answers.batch_containment_text import write_list

    write_list(answer, path)


def _of_a_case(answer) -> tuple[Callable, Callable]:
    """Return what prints the answer to a question of a case: as text, and as CSV."""
    from pipelines.answers import (
        bench_text,
        cleaning_interval_text,
        cleaning_plan_text,
        lot_text,
        next_failures_text,
        past_lots_text,
        ranking_text,
        shelf_text,
        warranty_text,
    )
    from pipelines.answers.batch_alarm_text import batch_alarm_csv, batch_alarm_text
    from pipelines.answers.batch_containment_text import containment_csv, containment_text
    from pipelines.answers.batch_exhibit_text import exhibit_csv, exhibit_text
    from pipelines.answers.batch_inspection_text import inspection_csv, inspection_text
    from pipelines.answers.batch_pattern_text import batch_pattern_csv, batch_pattern_text
    from pipelines.answers.batch_verdict_text import batch_verdict_csv, batch_verdict_text
    from pipelines.answers.before_after_text import before_after_csv, before_after_text
    from pipelines.answers.fault_rates_text import fault_rates_csv, fault_rates_text
    from pipelines.answers.monthly_text import monthly_csv, monthly_text
    from pipelines.answers.study_plan_text import study_plan_csv, study_plan_text
    from pipelines.answers.tester_study_text import study_csv, study_text

    return {
        Question.LOT_BID: (lot_text.bid_text, lot_text.bid_csv),
        Question.FAMILY_RANKING: (ranking_text.ranking_text, ranking_text.ranking_csv),
        Question.PAST_LOTS: (past_lots_text.past_lots_text, past_lots_text.past_lots_csv),
        Question.WARRANTY: (warranty_text.warranty_text, warranty_text.warranty_csv),
        Question.CLEAN_OR_REPLACE: (bench_text.bench_text, bench_text.bench_csv),
        Question.FAULT_RATES: (fault_rates_text, fault_rates_csv),
        Question.CLEANING_INTERVAL: (cleaning_interval_text.interval_text, cleaning_interval_text.interval_csv),
        Question.CLEANING_PLAN: (cleaning_plan_text.plan_text, cleaning_plan_text.plan_csv),
        Question.NEXT_FAILURES: (next_failures_text.next_failures_text, next_failures_text.next_failures_csv),
        Question.SHELF: (shelf_text.shelf_text, shelf_text.shelf_csv),
        Question.BEFORE_AFTER: (before_after_text, before_after_csv),
        Question.MONTHLY: (monthly_text, monthly_csv),
        Question.BATCH_ALARM: (batch_alarm_text, batch_alarm_csv),
        Question.STUDY_PLAN: (study_plan_text, study_plan_csv),
        Question.BATCH_CONTAINMENT: (containment_text, containment_csv),
        Question.BATCH_VERDICT: (batch_verdict_text, batch_verdict_csv),
        Question.BATCH_PATTERN: (batch_pattern_text, batch_pattern_csv),
        Question.TESTER_STUDY: (study_text, study_csv),
        Question.BATCH_INSPECTION: (inspection_text, inspection_csv),
        Question.BATCH_EXHIBIT: (exhibit_text, exhibit_csv),
    }[answer.question]
