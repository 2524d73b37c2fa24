"""Fault rates as text for the terminal, and as tables."""

from __future__ import annotations

from textwrap import fill

import pandas as pd

from pipelines.answers.fault_rates_record import Comparison, FaultRates, Place, Repeated
from pipelines.answers.table import frame_csv
from pipelines.answers.text import WIDTH, aligned
from pipelines.vocabulary import Clock
from pipelines.wording import fault_rates as wording
from pipelines.wording.costs import amount_words
from pipelines.wording.verdict import level_words, limits_words, log_words, share_words

#: More rows than this are left to the CSV.
MOST_ROWS = 12


def fault_rates_text(answer: FaultRates) -> str:
    """Return the whole answer as text."""
    clock = Clock(answer.clock)
    blocks = [f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · clock: {clock} · "
              f"{level_words(answer.level)} intervals"]  # fmt: skip
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    for one in answer.comparisons:
        if one.places:
            blocks.append(_table(one, clock))
    blocks.append(fill(answer.retire_sentence, WIDTH))
    if answer.repeated:
        head = ["controller", "family", "faults", "expected", "against a typical one", "cheaper by", "chance", "what to do"]
        blocks.append(_listed([head, *(_repeated_row(one) for one in answer.repeated[:MOST_ROWS])],
                              len(answer.repeated)))  # fmt: skip
    if answer.asked_for and answer.repeated:
        wanted = [f"  --set {one.name}=…  [{one.unit}] {one.help}" for one in answer.asked_for]
        blocks.append("\n".join(["To be given:", *(fill(one, WIDTH, subsequent_indent="      ") for one in wanted)]))
    return "\n\n".join(blocks)


def places_table(answer: FaultRates) -> pd.DataFrame:
    """Return one row a place of every kind, those that stand out first; shares from 0 to 1, rates per 1,000."""
    return pd.DataFrame([_place_row(one.what, place) for one in answer.comparisons for place in one.places])


def repeated_table(answer: FaultRates) -> pd.DataFrame:
    """Return one row a controller that failed again and again."""
    return pd.DataFrame([
        {
            "unit_id": one.unit, "family": one.family, "site": one.site, "failure_count": one.failures, "expected": one.expected,
            "factor": one.factor.estimate, "factor_low": one.factor.low, "factor_high": one.factor.high,
            "typical_faults_per_week": one.faults_per_week,
            **({} if one.money is None else {
                "keep_cost": one.money.keep_cost, "replace_cost": one.money.replace_cost, "saving": one.money.saving.estimate,
                "saving_low": one.money.saving.low, "saving_high": one.money.saving.high,
                "saves_chance": one.money.saves_chance, "advice": one.money.advice.value,
            }),
            "because": one.because,
        }
        for one in answer.repeated
    ])  # fmt: skip


def fault_rates_csv(answer: FaultRates) -> str:
    """Return the places as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(places_table(answer))


def _place_row(what: str, place: Place) -> dict[str, object]:
    rate, back = place.rate_per_1000, place.back_share
    return {
        "kind": what, "name": place.name, "unit_count": place.units, "failure_count": place.failures,
        "exposure": place.exposure, "expected": place.expected,
        **{f"rate_per_1000{end}": None if rate is None else value
           for end, value in (("", rate and rate.estimate), ("_low", rate and rate.low), ("_high", rate and rate.high))},
        "job_count": place.jobs,
        **{f"back_share{end}": None if back is None else value
           for end, value in (("", back and back.estimate), ("_low", back and back.low), ("_high", back and back.high))},
        "ratio": place.ratio, "luck_low": place.luck_low, "luck_high": place.luck_high, "p_adjusted": place.p_adjusted,
        "is_worse": place.is_worse, "because": place.because,
    }  # fmt: skip


def _table(one: Comparison, clock: Clock) -> str:
    measure = "came back" if one.what == "technician" else wording.per_words(clock)
    seen = "back" if one.what == "technician" else "faults"
    head = [wording.what_words(one.what), seen, "expected", measure, "interval", "times expected", "by luck", ""]
    return _listed([head, *(_row(one.what, place) for place in one.places[:MOST_ROWS])], len(one.places))


def _listed(rows: list[list[str]], count: int) -> str:
    more = f"\n… and {count - MOST_ROWS:,} more (--format csv or json)" if count > MOST_ROWS else ""
    return aligned(rows) + more


def _row(what: str, place: Place) -> list[str]:
    told, say = (place.back_share, share_words) if what == "technician" else (place.rate_per_1000, wording.rate_words)
    is_told = told is not None and told.estimate is not None
    is_compared = place.ratio is not None
    return [
        wording.place_words(what, place.name), f"{place.failures:,}", f"{place.expected:,.1f}",
        say(told.estimate) if is_told else "–", limits_words(told.low, told.high, say) if is_told else "–",
        f"{place.ratio:.2f}" if is_compared else "–",
        f"{place.luck_low:.2f} to {place.luck_high:.2f}" if is_compared else "–", wording.place_note(what, place),
    ]  # fmt: skip


def _repeated_row(one: Repeated) -> list[str]:
    head = [one.unit, one.family or "–", f"{one.failures:,}", f"{one.expected:,.1f}", wording.factor_words(one.factor)]
    if one.money is None:
        return [*head, "–", "–", "–"]
    return [*head, amount_words(one.money.saving.estimate), share_words(one.money.saves_chance),
            wording.advice_words(one.money.advice)]  # fmt: skip
