"""The study of the tester as text for the terminal, and as tables."""

from __future__ import annotations

from dataclasses import asdict
from textwrap import fill

import pandas as pd

from pipelines.answers.table import frame_csv, named
from pipelines.answers.tester_study_record import TesterStudy
from pipelines.answers.text import WIDTH, frame_text
from pipelines.wording.tester_study import estimate_words, part_words, reading_words, unit_words
from pipelines.wording.verdict import level_words, log_words, share_words


def study_text(answer: TesterStudy) -> str:
    """Return the whole answer as text."""
    blocks = [f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · {level_words(answer.level)} intervals"]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    for frame in (shown_parts(answer), shown_persons(answer)):
        if len(frame):
            blocks.append(frame_text(frame))
    return "\n\n".join(blocks)


def shown_parts(answer: TesterStudy) -> pd.DataFrame:
    """Return one row per part of the spread, in words."""
    if not answer.components:
        return pd.DataFrame()
    head = ["spread", f"standard deviation, {unit_words(answer.case.measure)}", "share of the spread"]
    rows = [
        (part_words(one.name), estimate_words(one.sd), estimate_words(one.spread_share, share_words)) for one in answer.components
    ]
    return pd.DataFrame(rows, columns=head)


def shown_persons(answer: TesterStudy) -> pd.DataFrame:
    """Return one row per person, in words."""
    if not answer.persons:
        return pd.DataFrame()
    rows = [(one.name, reading_words(one.mean), estimate_words(one.difference)) for one in answer.persons]
    return pd.DataFrame(rows, columns=["person", "mean reading", "against all persons"])


def parts_table(answer: TesterStudy) -> pd.DataFrame:
    """Return one row per part of the spread: all numbers, for files."""
    rows = [
        {"measure": answer.case.measure, "part": one.name, **named("sd_pct", one.sd), **named("spread_share", one.spread_share)}
        | {"stick_count": answer.size.sticks, "person_count": answer.size.persons, "repeat_count": answer.size.repeats}
        for one in answer.components
    ]
    return pd.DataFrame(rows or [{"measure": answer.case.measure, "because": answer.because}])


def study_csv(answer: TesterStudy) -> str:
    """Return the parts of the spread as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(parts_table(answer))


def study_sheets(answer: TesterStudy) -> dict[str, pd.DataFrame]:
    """Return the sheets of the workbook but how it was asked: parts, analysis of variance, persons, chances to pass."""
    persons = [{"person": one.name, "mean": one.mean, **named("difference", one.difference)} for one in answer.persons]
    curve = [] if answer.at_limit is None else [asdict(one) for one in answer.at_limit.curve]
    sheets = {
        "parts": parts_table(answer), "analysis": pd.DataFrame([asdict(one) for one in answer.analysis]),
        "persons": pd.DataFrame(persons), "chance to pass": pd.DataFrame(curve),
    }  # fmt: skip
    return {name: frame for name, frame in sheets.items() if len(frame)}
