"""Returns and the warranty they allow as text for the terminal, and as one table."""

from __future__ import annotations

from textwrap import fill

import pandas as pd

from pipelines.answers.table import frame_csv, named
from pipelines.answers.text import WIDTH, aligned
from pipelines.answers.warranty_record import Warranty, WarrantyGroup, Within
from pipelines.wording.label import label
from pipelines.wording.lots import money_words
from pipelines.wording.verdict import level_words, limits_words, log_words, reason_words, share_words


def warranty_text(answer: Warranty) -> str:
    """Return the whole answer as text."""
    money = f" · {answer.currency}" if answer.currency else ""
    blocks = [f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · {level_words(answer.level)} intervals{money}"]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    if answer.by:
        named = (f"{label(group.by)}: {group.sentence}" for group in answer.groups)
        blocks += [fill(one, WIDTH, subsequent_indent="  ") for one in named]
    if answer.groups:
        head = [", ".join(answer.by) or "group", "within", "watched", "came back", "interval", "for a fault", "cost a sale"]
        blocks.append(aligned([head, *(_row(group, one) for group in answer.groups for one in told(group))]))
    if answer.asked_for:
        wanted = [f"  --set {one.name}=…  [{one.unit}] {one.help}" for one in answer.asked_for]
        blocks.append("\n".join(["To be given:", *(fill(one, WIDTH, subsequent_indent="      ") for one in wanted)]))
    return "\n\n".join(blocks)


def warranty_table(answer: Warranty) -> pd.DataFrame:
    """Return one row per group and number of days; shares from 0 to 1."""
    return pd.DataFrame([
        {
            **group.by, "days": one.days, "sale_count": group.counts["sales"], "at_risk": one.at_risk,
            **named("returned_share", one.returned), **named("fault_share", one.returned_for_fault), **named("cost", one.cost),
            "sure_days": group.longest.sure_days, "likely_days": group.longest.likely_days,
            "because": one.returned.because or group.longest.because,
        }
        for group in answer.groups
        for one in group.within
    ])  # fmt: skip


def warranty_csv(answer: Warranty) -> str:
    """Return the table as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(warranty_table(answer))


def told(group: WarrantyGroup) -> list[Within]:
    """Return what can be told; the first of all where nothing can."""
    return [one for one in group.within if one.returned.because is None] or group.within[:1]


def _row(group: WarrantyGroup, one: Within) -> list[str]:
    head = [label(group.by), f"{one.days:,} days", f"{one.at_risk:,}"]
    if one.returned.because is not None:
        return [*head, reason_words(one.returned.because), "–", "–", "–"]
    cost = "–" if one.cost.estimate is None else money_words(one.cost.estimate, None)
    shares = limits_words(one.returned.low, one.returned.high, share_words)
    return [*head, share_words(one.returned.estimate), shares, share_words(one.returned_for_fault.estimate), cost]
