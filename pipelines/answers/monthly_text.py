"""A month as text for the terminal, and as tables that screen, page and workbook share."""

from __future__ import annotations

from textwrap import fill

import pandas as pd

from pipelines.answers.monthly_record import Monthly, MonthPart
from pipelines.answers.table import frame_csv, named
from pipelines.answers.text import WIDTH, frame_text
from pipelines.wording import monthly as wording
from pipelines.wording.change import change_limits, exposure_words, rate_words
from pipelines.wording.lots import money_words
from pipelines.wording.verdict import level_words, limits_words

STAR = "* more than chance, judged for all sites together"


def monthly_text(answer: Monthly) -> str:
    """Return the whole answer as text."""
    money = f" · {answer.currency}" if answer.currency else ""
    blocks = [f"{answer.question} · {answer.month} · {level_words(answer.level)} intervals{money}"]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    for frame in (site_table(answer), cost_table(answer), history_table(answer)):
        blocks += [frame_text(frame)] if len(frame) else []
    blocks += [said] if (said := star_note(answer)) else []
    if answer.asked_for:
        wanted = [f"  --set {one.name}=…  [{one.unit}] {one.help}" for one in answer.asked_for]
        blocks.append("\n".join(["To be given:", *(fill(one, WIDTH, subsequent_indent="      ") for one in wanted)]))
    return "\n\n".join(blocks)


def parts(answer: Monthly) -> list[MonthPart]:
    """Return the sites and, last, all of them together."""
    return [*answer.sites, answer.whole]


def star_note(answer: Monthly) -> str:
    """Return what the stars in the table of sites mean; nothing where there is none."""
    if not any(word in ("fewer", "more") for one in parts(answer) for word in (one.change, one.change_from_mean)):
        return ""
    return STAR if answer.sites else STAR.partition(",")[0]


def site_table(answer: Monthly) -> pd.DataFrame:
    """Return one row per site in words: faults, their rate and change, work and hours out of use."""
    rows = [
        (
            wording.site_words(one), f"{one.units:,}", f"{one.exposure:,.0f}", f"{one.faults:,}", rate_words(one.rate.estimate),
            limits_words(one.rate.low, one.rate.high, rate_words), wording.change_cell(one.against_before, one.change),
            wording.change_cell(one.against_mean, one.change_from_mean), f"{one.jobs:,}", f"{one.modules:,}",
            "–" if one.hours_down is None else f"{one.hours_down:,.0f}",
        )
        for one in parts(answer)
    ]  # fmt: skip
    per = exposure_words(answer.clock)
    head = ["site", "controllers", per.removeprefix("1,000 "), "faults", f"for {per}", "interval", "month before",
            f"mean of {answer.months_before} before", "jobs", "modules", "hours out of use"]  # fmt: skip
    return pd.DataFrame(rows, columns=head)


def cost_table(answer: Monthly) -> pd.DataFrame:
    """Return one row per site in words: what the month cost; empty where nothing is told."""
    per = wording.per_words(answer.clock)
    rows = [
        (
            wording.site_words(one), *(_money(amount) for amount in (one.cost.labour, one.cost.parts, one.cost.downtime,
            one.cost.total)),
            wording.cost_per_hour_words(one.cost_per_hour.estimate, None),
            limits_words(one.cost_per_hour.low, one.cost_per_hour.high, lambda amount: wording.cost_per_hour_words(amount, None))
            if one.cost_per_hour.estimate is not None else wording.refused_cost_words(one.because),
            "–" if one.cost_against_mean.estimate is None else change_limits(one.cost_against_mean, less="less"),
        )
        for one in parts(answer)
        if one.cost is not None
    ]  # fmt: skip
    behind = f", {answer.currency}" if answer.currency else ""
    head = [
        "site",
        f"bench{behind}",
        "parts and supplies",
        "out of use",
        "in all",
        per,
        "interval",
        f"against the mean of {answer.months_before}",
    ]
    return pd.DataFrame(rows, columns=head)


def history_table(answer: Monthly) -> pd.DataFrame:
    """Return one row per month in words, the latest first."""
    rows = [
        (
            one.month, f"{one.exposure:,.0f}", f"{one.faults:,}", rate_words(one.rate.estimate), f"{one.jobs:,}",
            f"{one.modules:,}",
            "–" if one.hours_down is None else f"{one.hours_down:,.0f}", wording.cost_per_hour_words(one.cost_per_hour, None),
        )
        for one in reversed(answer.history)
    ]  # fmt: skip
    per = exposure_words(answer.clock)
    head = [
        "month",
        per.removeprefix("1,000 "),
        "faults",
        f"for {per}",
        "jobs",
        "modules",
        "hours out of use",
        wording.per_words(answer.clock),
    ]
    return pd.DataFrame(rows, columns=head)


def monthly_table(answer: Monthly) -> pd.DataFrame:
    """Return one row per site and one of all: all numbers, for files."""
    rows = [
        {
            "month": answer.month, "site": wording.site_words(one), "unit_count": one.units, "fault_count": one.faults,
            f"exposure_{answer.clock}": one.exposure, **named(f"rate_per_1000_{answer.clock}", one.rate),
            **named("against_before", one.against_before), "change": one.change, **named("against_mean", one.against_mean),
            "change_from_mean": one.change_from_mean, "job_count": one.jobs, "module_count": one.modules,
            "down_h": one.hours_down, "other_down_h": one.other_hours_down, "open_stop_count": one.open_stops,
            **{name: None if one.cost is None else getattr(one.cost, name) for name in ("labour", "parts", "downtime", "total")},
            **named("cost_per_hour", one.cost_per_hour), **named("cost_against_mean", one.cost_against_mean), "because":
            one.because,
        }
        for one in parts(answer)
    ]  # fmt: skip
    return pd.DataFrame(rows)


def monthly_csv(answer: Monthly) -> str:
    """Return the table as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(monthly_table(answer))


def monthly_sheets(answer: Monthly) -> dict[str, pd.DataFrame]:
    """Return the sheets of the workbook: the month by site, the months before, and how it was asked."""
    history = pd.DataFrame([
        {
            "month": one.month, f"exposure_{answer.clock}": one.exposure, "fault_count": one.faults,
            **named(f"rate_per_1000_{answer.clock}", one.rate), "job_count": one.jobs, "module_count": one.modules,
            "down_h": one.hours_down, "cost_per_hour": one.cost_per_hour,
        }
        for one in answer.history
    ])  # fmt: skip
    about = {
        "answer": answer.sentence, **{f"note {number}": warning for number, warning in enumerate(answer.warnings, 1)},
        "money": answer.currency, "log": f"{answer.log_start} to {answer.log_end}", "level": answer.level,
        **{f"setting {name}": value for name, value in answer.settings.items() if value is not None},
    }  # fmt: skip
    asked = pd.DataFrame(list(about.items()), columns=["what", "value"]).astype(object)
    return {"month": monthly_table(answer), "months": history, "asked": asked}


def _money(amount: float | None) -> str:
    return "–" if amount is None else money_words(amount, None)
