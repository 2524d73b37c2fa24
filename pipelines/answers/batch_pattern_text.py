"""What kind of worse a batch is, as text for the terminal, and as tables."""

from __future__ import annotations

from dataclasses import asdict
from textwrap import fill

import pandas as pd

from pipelines.answers.batch_pattern_record import BatchPattern, MechanismRow
from pipelines.answers.table import frame_csv, named
from pipelines.answers.text import WIDTH, frame_text
from pipelines.vocabulary import Clock
from pipelines.wording import batch_pattern as wording
from pipelines.wording.batches import ratio_words, span_words
from pipelines.wording.verdict import duration_words, level_words, limits_words, log_words, share_words

#: Ages at which the text gives both curves.
TEXT_ROWS = 8


def batch_pattern_text(answer: BatchPattern) -> str:
    """Return the whole answer as text."""
    clock = Clock(answer.clock)
    blocks = [f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · clock: {clock} · "
              f"{level_words(answer.level)} intervals"]  # fmt: skip
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    for frame in (shown_curves(answer, clock), shown_mechanisms(answer)):
        if len(frame):
            blocks.append(frame_text(frame))
    counts = [f"  {count:,} {wording.count_words(key)}" for key, count in answer.counts.items() if count]
    blocks.append("\n".join(["Counted:", *counts]))
    return "\n\n".join(blocks)


def batch_pattern_csv(answer: BatchPattern) -> str:
    """Return both curves as CSV."""
    return frame_csv(curves_table(answer))


def sheets(answer: BatchPattern) -> dict[str, pd.DataFrame]:
    """Return the tables to keep: both curves, mechanisms, their shares by age, and the numbers of the pattern."""
    return {
        "curves": curves_table(answer), "mechanisms": mechanisms_table(answer), "mechanism shares": _shares_table(answer),
        "pattern": pattern_table(answer),
    }  # fmt: skip


def curves_table(answer: BatchPattern) -> pd.DataFrame:
    """Return one row an age: the shares still free of failure and their difference, with limits; ages in the clock's unit."""
    return pd.DataFrame([asdict(one) for one in answer.curves.points])


def mechanisms_table(answer: BatchPattern) -> pd.DataFrame:
    """Return one row a mechanism, the largest excess first."""
    return pd.DataFrame([
        {
            "mechanism": row.mechanism, "failure_count": row.failures, "expected": row.expected,
            "rest_failure_count": row.rest_failures, **named("ratio", row.ratio), **named("excess", row.excess),
            "p_adjusted": row.p_adjusted, "gray_p_adjusted": row.gray_p_adjusted, "is_source": row.is_source,
        }
        for row in answer.mechanisms.rows
    ])  # fmt: skip


def pattern_table(answer: BatchPattern) -> pd.DataFrame:
    """Return the numbers of the pattern, one a row, with limits."""
    pattern, early = answer.pattern, answer.early
    found = {
        "ratio": answer.ratio, "batch_shape": pattern.batch_shape, "rest_shape": pattern.rest_shape,
        "shape_change": pattern.change, "early_ratio": pattern.early_ratio, "late_ratio": pattern.late_ratio,
        "rates_cross": pattern.rates_cross, "curves_cross": pattern.curves_cross, "batch_failed_early_share": early.batch_share,
        "rest_failed_early_share": early.rest_share, "failed_early_difference": early.difference,
    }  # fmt: skip
    at = {"early_ratio": pattern.early_at, "late_ratio": pattern.late_at} | dict.fromkeys(
        ("batch_failed_early_share", "rest_failed_early_share", "failed_early_difference"), early.age
    )
    return pd.DataFrame([
        {"what": name, "at": at.get(name), **named("value", one), "because": one.because} for name, one in found.items()
    ]).rename(columns={"value": "estimate", "value_low": "low", "value_high": "high"})  # fmt: skip


def shown_curves(answer: BatchPattern, clock: Clock, *, most: int = TEXT_ROWS) -> pd.DataFrame:
    """Return some ages of both curves, in words."""
    points = answer.curves.points
    step = max((len(points) + most - 1) // most, 1)
    chosen = points[step - 1 :: step] or points
    return pd.DataFrame([
        {
            "by": duration_words(one.at, clock), "of the batch failed": share_words(1 - one.batch),
            "of the rest": share_words(1 - one.rest), "more of 100": _of_100(-one.difference),
            "interval": limits_words(-one.high, -one.low, _of_100),
            "at all ages": "–" if one.band_low is None else limits_words(-one.band_high, -one.band_low, _of_100),
            "at risk": f"{one.batch_at_risk:,}", "of the rest at risk": f"{one.rest_at_risk:,}",
        }
        for one in chosen
    ])  # fmt: skip


def shown_mechanisms(answer: BatchPattern) -> pd.DataFrame:
    """Return the mechanisms in words."""
    return pd.DataFrame([_shown(row) for row in answer.mechanisms.rows])


def _shown(row: MechanismRow) -> dict[str, str]:
    return {
        "mechanism": wording.mechanism_words(row.mechanism), "failures": f"{row.failures:,}", "expected": f"{row.expected:,.1f}",
        "times": ratio_words(row.ratio), "interval": span_words(row.ratio), "excess": wording.excess_words(row.excess),
        "by luck": _p_words(row.p_adjusted), "by Gray's test": _p_words(row.gray_p_adjusted),
        "more than luck": "yes" if row.is_source else "–",
    }  # fmt: skip


def _p_words(p: float | None) -> str:
    if p is None:
        return "–"
    return "under 0.001" if p < 0.001 else f"{p:.3f}"


def _of_100(share: float) -> str:
    of_100 = round(100 * share)
    return f"{of_100:+d}".replace("-", "−") if of_100 else "0"


def _shares_table(answer: BatchPattern) -> pd.DataFrame:
    return pd.DataFrame([
        {
            "mechanism": row.mechanism, "at": mine.at, "batch_failed_share": mine.failed_share,
            "rest_failed_share": rest.failed_share,
        }
        for row in answer.mechanisms.rows for mine, rest in zip(row.curve, row.rest_curve, strict=True)
    ])  # fmt: skip
