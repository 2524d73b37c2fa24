"""A cleaning plan as text for the terminal, and as tables that screen, page and workbook share."""

from __future__ import annotations

from textwrap import fill

import pandas as pd

from pipelines.answers.case import CASE
from pipelines.answers.cleaning_plan_record import CleaningPlan
from pipelines.answers.table import frame_csv
from pipelines.answers.text import WIDTH, frame_text
from pipelines.vocabulary import Because, Question
from pipelines.wording import cleaning_plan as wording
from pipelines.wording.verdict import log_words

_TAKES = CASE[Question.CLEANING_PLAN]


def plan_text(answer: CleaningPlan) -> str:
    """Return the whole answer as text."""
    blocks = [f"{answer.question} · {log_words(answer.log_start, answer.log_end)}"]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    if answer.cleans:
        blocks.append("\n".join(fill(line, WIDTH) for line in wording.interval_lines(answer)))
        shown = shown_table(answer)
        blocks += [frame_text(shown), fill(wording.frame_note(answer), WIDTH)]
    elif answer.because is Because.NOT_GIVEN:
        names = ([] if answer.intervals else ["interval_hours", "interval_days"]) + ([] if answer.capacity else ["capacity"])
        blocks.append("\n".join(["To be given:", *(f"  --case {name}=…  {_TAKES[name]}" for name in names)]))
    return "\n\n".join(blocks)


def shown_table(answer: CleaningPlan) -> pd.DataFrame:
    """Return one row per clean in words, by day and site."""
    rows = [
        (
            one.planned_on, wording.time_words(one), one.unit, one.family or "–", one.site or "–", one.sticks, one.due_on,
            "overdue" if one.is_overdue else "", "late" if one.is_late else "", wording.rests_on_words(one.rests_on),
        )
        for one in answer.cleans
    ]  # fmt: skip
    head = ["day", "time", "controller", "family", "site", "sticks", "due", "overdue", "late", "due by"]
    frame = pd.DataFrame(rows, columns=head)
    return frame if answer.window else frame.drop(columns="time")


def plan_table(answer: CleaningPlan) -> pd.DataFrame:
    """Return one row per clean, with the keys of the JSON."""
    names = ["planned_on", "begins_at", "ends_at", "unit", "family", "site", "sticks", "due_on", "since_on", "is_overdue",
             "is_late", "rests_on", "uid", "number"]  # fmt: skip
    return pd.DataFrame([[getattr(one, name) for name in names] for one in answer.cleans], columns=names)


def plan_csv(answer: CleaningPlan) -> str:
    """Return the table as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(plan_table(answer))


def plan_sheets(answer: CleaningPlan) -> dict[str, pd.DataFrame]:
    """Return the sheets of a workbook: the cleans, how many a day, and how it was asked."""
    days = pd.Series([one.planned_on for one in answer.cleans], dtype=str).value_counts().sort_index()
    about = {
        "question": answer.question, "sentence": answer.sentence, "site": answer.site, "start": answer.start, "end": answer.end,
        "capacity": answer.capacity, "capacity_needed": answer.capacity_needed, "slack_days": answer.slack_days,
        "closed": ", ".join(answer.closed), "window": ", ".join(answer.window), "zone": answer.zone,
        "log_start": answer.log_start, "log_end": answer.log_end,
        **{f"interval {number}": line for number, line in enumerate(wording.interval_lines(answer), 1)},
        **{f"{'cleans' if name == 'late' else 'controllers'} {name}": count for name, count in answer.counts.items()},
        **{f"warning {number}": warning for number, warning in enumerate(answer.warnings, 1)},
    }  # fmt: skip
    return {
        "cleans": plan_table(answer),
        "days": pd.DataFrame({"day": days.index, "cleans": days.to_numpy()}),
        "asked": pd.DataFrame(list(about.items()), columns=["what", "value"]).astype(object),
    }
