"""A batch to be contained as text for the terminal, and as tables."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from textwrap import fill

import pandas as pd

from pipelines.answers.batch_containment_record import BatchContainment, HeldModule
from pipelines.answers.files import write_tables
from pipelines.answers.record import plain
from pipelines.answers.table import frame_csv
from pipelines.answers.text import WIDTH, aligned, frame_text
from pipelines.vocabulary import Whereabouts
from pipelines.wording.batch_containment import excess_words, hold_words, money_words, state_words
from pipelines.wording.verdict import level_words, limits_words, log_words

#: More rows than this are left to the file.
MOST_ROWS = 20


def containment_text(answer: BatchContainment) -> str:
    """Return the whole answer as text."""
    blocks = [f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · {level_words(answer.level)} intervals"]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    claim = shown_claim(answer)
    if len(claim):
        blocks.append(aligned(claim.astype(str).to_numpy().tolist()))
    frame = shown_modules(answer)
    serving = frame[[one.state is Whereabouts.IN_SERVICE for one in answer.modules]]
    if len(serving):
        blocks.append(frame_text(serving, most=MOST_ROWS, rest="--out FILE.csv or FILE.xlsx has all"))
    if answer.asked_for:
        wanted = [f"  --set {one.name}=…  [{one.unit}] {one.help}" for one in answer.asked_for]
        blocks.append("\n".join(["To be given for the cost (or fault_cost, all told):",
                                 *(fill(one, WIDTH, subsequent_indent="      ") for one in wanted)]))  # fmt: skip
    return "\n\n".join(blocks)


def shown_claim(answer: BatchContainment) -> pd.DataFrame:
    """Return what a claim rests on, in words: what, and how much."""
    excess, coming, cost = answer.excess, answer.to_come, answer.cost
    if excess.because is not None:
        return pd.DataFrame(columns=["what", "amount"])
    rows = [
        ("first failures so far", f"{excess.observed:,}"),
        ("others of the same age would have had", f"{excess.expected:,.1f}"),
        ("times as often", f"{excess.ratio.estimate:.2f} ({limits_words(excess.ratio.low, excess.ratio.high, _two)})"),
        ("excess so far", excess_words(excess.so_far)),
        (f"first failures within {answer.case.days} days, 90\u00a0%", excess_words(coming.failures)),
        ("excess among them", excess_words(coming.excess)),
        ("cost of the excess so far", money_words(cost.so_far, answer.currency)),
        ("cost of the excess to come", money_words(cost.to_come, answer.currency)),
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=["what", "amount"])


def shown_modules(answer: BatchContainment) -> pd.DataFrame:
    """Return one row per module that is or may be of the batch, in words, those in service first."""
    return pd.DataFrame([_shown(one) for one in answer.modules])


def _shown(one: HeldModule) -> dict[str, object]:
    return {
        "controller": one.unit_id, "stick": one.stick, "family": one.family or "–", "site": one.site or "–",
        "seat": one.station or "–", "batch written": one.label or "–", "is it of the batch": hold_words(one.hold),
        "where": state_words(one.state), "fitted": one.fitted_on or "–",
        "age, days": "–" if one.age_days is None else f"{one.age_days:,.0f}",
        "hours": "–" if one.age_h is None else f"{one.age_h:,.0f}", "failed": one.failures,
        "warranty to": one.warranty_to or "–",
    }  # fmt: skip


def modules_table(answer: BatchContainment) -> pd.DataFrame:
    """Return one row per module that is or may be of the batch: the list for a recall or a claim."""
    return pd.DataFrame([plain(one) for one in answer.modules], columns=list(HeldModule.__dataclass_fields__))


def claim_table(answer: BatchContainment) -> pd.DataFrame:
    """Return what a claim rests on: number, limits, and why there is none."""
    told = {
        "ratio": answer.excess.ratio, "excess_so_far": answer.excess.so_far, "failures_to_come": answer.to_come.failures,
        "excess_to_come": answer.to_come.excess, "cost_so_far": answer.cost.so_far, "cost_to_come": answer.cost.to_come,
    }  # fmt: skip
    counts = {
        "received": answer.stock.received, "fitted": answer.stock.fitted, "left_in_stock": answer.stock.left,
        "first_failures": answer.excess.failures, "first_failures_compared": answer.excess.observed,
        "cost_of_a_failure": answer.cost.per_failure,
    }  # fmt: skip
    rows = [{"what": name, "estimate": value} for name, value in counts.items()]
    return pd.DataFrame([*rows, *({"what": name, **plain(asdict(one))} for name, one in told.items())])


def containment_sheets(answer: BatchContainment) -> dict[str, pd.DataFrame]:
    """Return the tables of a file: the list of modules, and what a claim rests on."""
    return {"modules": modules_table(answer), "claim": claim_table(answer)}


def containment_csv(answer: BatchContainment) -> str:
    """Return the list of modules as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(modules_table(answer))


def write_list(answer: BatchContainment, out: Path) -> None:
    """Write the list of modules to FILE.csv, or with what a claim rests on to FILE.xlsx. Raises SettingError."""
    write_tables(containment_sheets(answer), out)


def _two(value: float) -> str:
    return f"{value:.2f}"
