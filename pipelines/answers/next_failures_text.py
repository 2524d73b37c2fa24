"""What will fail next as text for the terminal, and as tables."""

from __future__ import annotations

from textwrap import fill

import pandas as pd

from pipelines.answers.next_failures_record import NextFailures
from pipelines.answers.table import frame_csv, named
from pipelines.answers.text import WIDTH, aligned
from pipelines.wording.outlook import ahead_words, count_words, since_words, tried_sentence
from pipelines.wording.verdict import level_words, limits_words, log_words, share_words

#: Sticks that the terminal lists.
MOST_STICKS = 20


def next_failures_text(answer: NextFailures) -> str:
    """Return the whole answer as text."""
    blocks = [f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · {level_words(answer.level)} intervals"]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    if answer.sticks:
        head = ["", "controller", "stick", "family", "site", "age", "", "faults so far", f"fault within {answer.days} days",
                "interval"]  # fmt: skip
        blocks.append(aligned([head, *(_stick_row(one) for one in answer.sticks[:MOST_STICKS])]))
        if len(answer.sticks) > MOST_STICKS:
            blocks.append(f"{len(answer.sticks) - MOST_STICKS:,} more: --format csv lists them all.")
        coming = [one for one in answer.groups if len(one.by) < 2]
        blocks.append(aligned([["the next 13 weeks", "sticks", "faults", "jobs", "new modules"], *map(_ahead_row, coming)]))
    if answer.tried is not None:
        blocks.append(fill(tried_sentence(answer.tried, answer.days), WIDTH))
    return "\n\n".join(blocks)


def age_words(stick) -> str:
    """Return the age of a stick on its clock."""
    return f"{stick.age:,.0f} days" if stick.hours_per_week is None else f"{stick.age:,.0f} h"


def _stick_row(one) -> list[str]:
    return [
        f"{one.rank}", one.unit_id, one.stick, one.family, one.site or "–", age_words(one), since_words(one.since),
        f"{one.faults_before:,}", share_words(one.chance.estimate), limits_words(one.chance.low, one.chance.high, share_words),
    ]  # fmt: skip


def _ahead_row(one) -> list[str]:
    return [ahead_words(one.by), f"{one.sticks:,}", *(count_words(part) for part in (one.faults, one.jobs, one.modules))]


def stick_table(answer: NextFailures) -> pd.DataFrame:
    """Return one row per stick in service, the likeliest to fail first; chances from 0 to 1."""
    columns = ("rank", "unit_id", "stick", "family", "site", "usage_class", "since", "since_on")
    return pd.DataFrame([
        {
            **{name: getattr(one, name) for name in columns}, "age_days": one.age if one.hours_per_week is None else None,
            "age_h": None if one.hours_per_week is None else one.age, "hours_per_week": one.hours_per_week,
            "faults_before": one.faults_before, **named("chance", one.chance),
        }
        for one in answer.sticks
    ])  # fmt: skip


def ahead_table(answer: NextFailures) -> pd.DataFrame:
    """Return one row per site, family, family at a site, and all: the coming 13 weeks."""
    return pd.DataFrame([
        {
            "site": one.by.get("site", "all"), "family": one.by.get("family", "all"), "sticks": one.sticks,
            **named("faults", one.faults), **named("jobs", one.jobs), **named("modules", one.modules),
        }
        for one in answer.groups
    ])  # fmt: skip


def next_failures_csv(answer: NextFailures) -> str:
    """Return the sticks as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(stick_table(answer))
