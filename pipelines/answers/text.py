"""An answer as plain text for the terminal: sentences first, then a small table, then what was left out."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill

import pandas as pd

from pipelines.answers.factors_record import FactorGroup, LevelRatio
from pipelines.answers.record import Answer, CleaningGroup, LifeGroup, LifePart
from pipelines.answers.restoration_record import RestorationGroup
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, Clock
from pipelines.wording import cleans, lives, pooling, realism, recurrent, verdict
from pipelines.wording.factors import head_words, ratio_words

WIDTH = 100
#: With more groups than this the text would run too long; the JSON has what the heavier estimates say of each.
FEW_GROUPS = 3
#: Reasons that refuse a whole answer; the sentence above the table gives them once.
_OF_THE_WHOLE = (Because.NO_DENOMINATOR, Because.FAILURES_ONLY, Because.CLOCK_REFUSED)


def answer_text(answer: Answer) -> str:
    """Return the whole answer as text."""
    clock = Clock(answer.clock)
    blocks = [f"{answer.question} · {verdict.log_words(answer.log_start, answer.log_end)} · clock: {clock} · "
              f"{verdict.level_words(answer.level)} intervals"]  # fmt: skip
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    if all(group.sentence == answer.sentence for group in answer.groups):
        blocks.append(_paragraph("", answer.sentence))
    else:
        blocks += [_paragraph(_name(group.by), group.sentence) for group in answer.groups]
    blocks += [
        _paragraph(_name(group.by, "unknown age"), group.since_first_seen.sentence)
        for group in answer.groups
        if isinstance(group, LifeGroup) and group.since_first_seen is not None
    ]
    blocks.append(_table(answer, clock))
    if answer.groups:
        blocks.append(fill(realism.note(answer.question), WIDTH))
    blocks += _more(answer, clock)
    left = [f"  {count:,} {verdict.left_out_words(key)}" for key, count in answer.left_out.items() if count]
    if left:
        blocks.append("Left out or noted:\n" + "\n".join(left))
    return "\n\n".join(block for block in blocks if block)


def _more(answer: Answer, clock: Clock) -> list[str]:
    """Return what the heavier estimates say: of each group where there are few, and of the whole answer."""
    gap = recurrent.difference_words(answer.mean_difference, clock)
    whole = [*lives.answer_sentences(answer), *([gap] if gap else [])]
    groups = answer.groups if len(answer.groups) <= FEW_GROUPS else []
    ranked = pooling.ranked_count([one for one in groups if isinstance(one, LifeGroup)])
    if len(groups) == 1:
        whole += _more_of_group(groups[0], answer, clock, ranked)
        groups = []
    blocks = [("More about this", whole)]
    blocks += [(f"More about {_name(group.by)}", _more_of_group(group, answer, clock, ranked)) for group in groups]
    return ["\n".join([f"{name}:", *map(_item, sentences)]) for name, sentences in blocks if sentences]


def _more_of_group(
    group: CleaningGroup | LifeGroup | RestorationGroup | FactorGroup, answer: Answer, clock: Clock, ranked: int
) -> list[str]:
    if isinstance(group, CleaningGroup):
        return cleans.group_sentences(group, len(answer.groups))
    if isinstance(group, LifeGroup):
        mean = recurrent.mean_words(group.mean_cumulative, clock, answer.level)
        said = lives.group_sentences(group, answer.common_shape, clock, answer.level, ranked=ranked)
        return [*said, *([mean] if mean else [])]
    return []


def _item(sentence: str) -> str:
    return fill(sentence, WIDTH, initial_indent="  ", subsequent_indent="    ")


def _paragraph(name: str, sentence: str) -> str:
    return fill(f"{name}: {sentence}" if name else sentence, WIDTH, subsequent_indent="  " if name else "")


def _name(by: dict, *more: str) -> str:
    return ", ".join([*(verdict.group_words(column, value) for column, value in by.items()), *more])


def _table(answer: Answer, clock: Clock) -> str:
    rows = [row for group in answer.groups for row in _rows(group, clock)]
    if not rows:
        return ""
    kind = type(answer.groups[0])
    first = "compared" if kind is FactorGroup else ", ".join(answer.by) or "group"
    return aligned([[first, *_HEAD[kind]], *rows])


def _values(by: dict) -> str:
    return ", ".join(verdict.value_words(column, value) for column, value in by.items()) or "all"


_HEAD = {
    CleaningGroup: ("passed", "of", "same day", "interval", "durable", "interval"),
    LifeGroup: ("failed", "of", "B10", "interval", "median", "interval", "Weibull shape", "interval"),
    RestorationGroup: ("cleans", "age given back", "interval", "still good", "interval"),
    FactorGroup: ("failed", "of", "fails × as often", "interval", "lasts × as long", "interval"),
}


def _rows(group: CleaningGroup | LifeGroup | RestorationGroup | FactorGroup, clock: Clock) -> list[list[str]]:
    if isinstance(group, CleaningGroup):
        same, lasting = group.same_day, group.durable
        return [[
            _values(group.by), f"{same.k:,}", f"{same.n:,}", _share(same.share), _span(same.low, same.high, _share),
            _share(lasting.share), _span(lasting.low, lasting.high, _share),
        ]]  # fmt: skip
    if isinstance(group, RestorationGroup):
        return [
            [_values({**group.by, "depth": one.depth}), f"{one.cleans:,}", *_share_cells(one.restoration_share),
             *_share_cells(one.holding_share)]
            for one in group.effects
        ]  # fmt: skip
    if isinstance(group, FactorGroup):
        return [
            [f"{head_words(group.of).lower()}, {verdict.group_words(one.factor, one.level)}", f"{one.failures:,}",
             f"{one.spells:,}", *_ratio_cells(one, one.hazard_ratio), *_ratio_cells(one, one.life_ratio)]
            for one in group.ratios
        ]  # fmt: skip
    return [[_values(group.by), f"{group.counts['failures']:,}", f"{group.counts['spells']:,}", *_life(group, clock)]]


def _share_cells(one: Estimate) -> list[str]:
    return [_share(one.estimate), _span(one.low, one.high, _share)]


def _ratio_cells(level: LevelRatio, one: Estimate) -> list[str]:
    if level.is_reference and one.estimate is not None:
        return ["1", "–"]
    return [_estimate(one, ratio_words), _span(one.low, one.high, ratio_words)]


def _life(part: LifeGroup | LifePart, clock: Clock) -> list[str]:
    unit = "h" if clock is Clock.HOURS else "d"

    def time(value: float) -> str:
        return f"{value:,.0f} {unit}" if value >= 10 else f"{value:.3g} {unit}"

    cells = []
    for estimate, say in (
        (part.curve_quantiles["b10"], time), (part.curve_quantiles["median"], time),
        (part.weibull.shape, lambda value: f"{value:.2f}"),
    ):  # fmt: skip
        cells += [_estimate(estimate, say), _span(estimate.low, estimate.high, say)]
    return cells


def _estimate(estimate: Estimate, say) -> str:
    if estimate.estimate is not None:
        return say(estimate.estimate)
    if estimate.because is None or estimate.because in _OF_THE_WHOLE:
        return "–"
    return verdict.reason_words(estimate.because)


def _share(value: float | None) -> str:
    return "–" if value is None else verdict.share_words(value)


def _span(low: float | None, high: float | None, say) -> str:
    if low is None and high is None:
        return "–"
    return f"{'?' if low is None else say(low)} to {'?' if high is None else say(high)}"


def aligned(rows: Sequence[Sequence[str]]) -> str:
    """Return rows as a table of text, the first column flush left."""
    widths = [max(len(row[place]) for row in rows) for place in range(len(rows[0]))]
    return "\n".join(
        "  ".join(cell.ljust(width) if place == 0 else cell.rjust(width)
                  for place, (cell, width) in enumerate(zip(row, widths, strict=True))).rstrip()
        for row in rows
    )  # fmt: skip


def frame_text(frame: pd.DataFrame, *, most: int | None = None, rest: str = "--format csv or json") -> str:
    """Return a table as text: `most` rows of it, and how many more `rest` gives."""
    shown = frame if most is None else frame.head(most)
    more = len(frame) - len(shown)
    text = aligned([list(frame.columns), *shown.astype(str).to_numpy().tolist()])
    return f"{text}\n… and {more:,} more ({rest})" if more else text
