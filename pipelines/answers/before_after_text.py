"""Before and after as text for the terminal, and as tables."""

from __future__ import annotations

from dataclasses import asdict
from textwrap import fill

import pandas as pd

from pipelines.answers.before_after_record import BeforeAfter, Watched
from pipelines.answers.table import frame_csv, named
from pipelines.answers.text import WIDTH, frame_text
from pipelines.wording.before_after import mean_count_sentence
from pipelines.wording.change import change_limits, change_words, exposure_words, rate_words
from pipelines.wording.verdict import level_words, limits_words, log_words

IN, OUT = "in the programme", "the others"


def before_after_text(answer: BeforeAfter) -> str:
    """Return the whole answer as text."""
    blocks = [f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · {level_words(answer.level)} intervals"]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    frame = shown_table(answer)
    if len(frame):
        blocks.append(frame_text(frame))
    if said := mean_count_sentence(answer.mean_counts, answer.clock, answer.level):
        blocks.append(fill(said, WIDTH))
    return "\n\n".join(blocks)


def shown_table(answer: BeforeAfter) -> pd.DataFrame:
    """Return one row per group of units and side, in words."""
    rows = []
    for name, one in groups(answer):
        for when, days, side in (("before", answer.case.before, one.before), ("after", answer.case.after, one.after)):
            rate, ratio = side.rate, one.ratio
            change = f"{change_words(ratio.estimate)} ({change_limits(ratio)})" if ratio.estimate is not None else ""
            rows.append((
                name, when, f"{days[0]} to {days[1]}", f"{one.units:,}", f"{side.exposure:,.0f}",
                f"{side.faults:,}", f"{rate_words(rate.estimate)} ({limits_words(rate.low, rate.high, rate_words)})",
                change if when == "after" else "",
            ))  # fmt: skip
    per = exposure_words(answer.clock)
    head = ["who", "side", "days", "controllers", per.removeprefix("1,000 "), "faults", f"for {per}", "plain change"]
    return pd.DataFrame(rows, columns=head)


def groups(answer: BeforeAfter) -> list[tuple[str, Watched]]:
    """Return the units in the programme and, where there are any, the others."""
    found = [(IN if answer.others else "all controllers", answer.watched)]
    found += [(OUT, answer.others)] if answer.others else []
    return [one for one in found if one[1].units]


def before_after_table(answer: BeforeAfter) -> pd.DataFrame:
    """Return one row per group of units and side: all numbers, for files."""
    rows = [
        {
            "units": name, "side": when, "from_on": days[0], "to_on": days[1], "controller_count": one.units,
            "fault_count": side.faults, f"exposure_{answer.clock}": side.exposure,
            **named(f"rate_per_1000_{answer.clock}", side.rate),
            **(named("plain_ratio", one.ratio) if when == "after" else {}),
            **(_fair(answer) if when == "after" and one is answer.watched else {}),
        }
        for name, one in groups(answer)
        for when, days, side in (("before", answer.case.before, one.before), ("after", answer.case.after, one.after))
    ]  # fmt: skip
    return pd.DataFrame(rows)


def before_after_csv(answer: BeforeAfter) -> str:
    """Return the table as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(before_after_table(answer))


def before_after_sheets(answer: BeforeAfter) -> dict[str, pd.DataFrame]:
    """Return the sheets of the workbook: both sides, the mean counts, and how it was asked."""
    counts = answer.mean_counts
    points = [
        {"side": side, **asdict(one)} for side, some in (("before", counts.before), ("after", counts.after)) for one in some
    ]
    about = {
        "answer": answer.sentence, **{f"note {number}": warning for number, warning in enumerate(answer.warnings, 1)},
        "verdict": answer.verdict, "start": answer.case.start, "days on each side": answer.case.span_days,
        "site": answer.case.site,
        "family": answer.case.family, "units named": answer.case.units, "log": f"{answer.log_start} to {answer.log_end}",
        "level": answer.level, **{f"setting {name}": value for name, value in answer.settings.items() if value is not None},
    }  # fmt: skip
    asked = pd.DataFrame(list(about.items()), columns=["what", "value"]).astype(object)
    return {"sides": before_after_table(answer), "mean counts": pd.DataFrame(points), "asked": asked}


def _fair(answer: BeforeAfter) -> dict[str, object]:
    return {
        "expected_fault_count": answer.fair.expected_faults, **named("fair_ratio", answer.fair.ratio),
        "halving_power": answer.fair.halving_power, "verdict": answer.verdict,
    }  # fmt: skip
