"""Survival of spells: what time to failure and recurrence have in common, from counts to the answer record."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from pipelines.answers.groups import by_group, group_keys, group_numbers
from pipelines.answers.laws_record import SurvivingAt
from pipelines.answers.question import Asked
from pipelines.answers.record import CurvePoints, LifeGroup, LifePart, WeibullPart
from pipelines.answers.spells import Read, clock_warnings, hours_refusal, no_length_warnings, without_denominator
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.lognormal import LognormalFit, lognormal
from pipelines.estimates.survival import drawn, quantile, share_at, survival
from pipelines.estimates.weibull import WeibullFit, weibull
from pipelines.vocabulary import Because, Clock, Question
from pipelines.wording import verdict
from pipelines.wording.laws import surviving_sentence

#: With more rows of counts than this a Weibull fit takes steps twice as wide: its pairs of bounds are many.
MOST_PAIRS = 60_000
#: (part, clock, level) → one plain sentence.
Say = Callable[[LifePart, Clock, float], str]


@dataclass(frozen=True)
class Known:
    """The spells of known age as counts by `group_no`, the place of their group in `keys`, with what was estimated of them.

    counts, fit_counts: what the curves and what the fits were taken from; curves, fits, lognormals: by group_no, where there
    are spells. The lognormal fits are made for detailed answers, and where an age is set.
    """

    keys: list[dict]
    counts: pd.DataFrame
    fit_counts: pd.DataFrame
    curves: dict[int, pd.DataFrame]
    fits: dict[int, WeibullFit]
    lognormals: dict[int, LognormalFit]


@dataclass(frozen=True)
class Lives:
    """The groups of an answer and its warnings; known is None where a reason refused the whole answer."""

    groups: list[LifeGroup]
    warnings: list[str]
    known: Known | None


def life_answer_parts(
    read: Read, asked: Asked, *, refused: tuple[Because, str] | None, say: Say, say_since_seen: Say | None
) -> Lives:
    """Return the groups, refused as a whole where a reason holds for all of them, and the warnings."""
    blank = without_denominator(read.numbers, asked.by)
    refused = refused or hours_refusal(read)
    if refused is None and blank:
        refused = (Because.NO_DENOMINATOR, verdict.no_denominator_sentence(blank))
    if refused:
        return Lives(_refused_groups(read, asked, *refused), [], None)
    warnings = [*clock_warnings(read, asked), *no_length_warnings(read)]
    groups, known = _groups(read, asked, say=say, say_since_seen=say_since_seen)
    return Lives(groups, warnings, known)


def life_words(
    part: LifePart, clock: Clock, level: float, *, what: str = "stick modules", event: str = "began to drift",
    start: str = "",
) -> str:  # fmt: skip
    """Return the sentence of one curve."""
    b10, median = (part.curve_quantiles[name] for name in ("b10", "median"))
    return verdict.life_sentence(
        modules=part.counts["spells"], failures=part.counts["failures"], clock=clock, level=level,
        b10=(b10.estimate, b10.low, b10.high), median=(median.estimate, median.low, median.high),
        drawn_from=part.drawn_from, few_at=_few_at(part, median.estimate), what=what, event=event, start=start,
    )  # fmt: skip


def _few_at(part: LifePart, age: float | None) -> int | None:
    """Return how many were at risk at an age of the curve that is not worth drawing, else None."""
    if age is None:
        return None
    place = bisect_left(part.curve, age, key=lambda point: point.at)
    point = part.curve[place] if place < len(part.curve) else None
    return point.at_risk if point and point.at == age and not point.is_drawn else None


def _groups(read: Read, asked: Asked, *, say: Say, say_since_seen: Say | None) -> tuple[list[LifeGroup], Known]:
    """Return one LifeGroup per combination of the grouping columns, in sorted order, and what those of known age were.

    `say_since_seen` adds the modules of unknown age as a part of their own; without it there are none.
    """
    counts = read.spells.counts(grid=read.grid)
    keys = group_keys([read.numbers, counts], asked.by)
    known, unknown = (_known(counts, read, keys, asked, is_age_known=is_known) for is_known in (True, False))
    parts, unknown_parts = (
        _parts(one, read, asked, is_age_known=is_known) for one, is_known in ((known, True), (unknown, False))
    )
    groups = []
    for number, by in enumerate(keys):
        part, since = _said(parts[number], say, read.clock, asked.level), None
        if say_since_seen and unknown_parts[number].counts["spells"]:
            since = _said(unknown_parts[number], say_since_seen, read.clock, asked.level)
        groups.append(LifeGroup(by, **vars(part), since_first_seen=since))
    return _with_survivors(groups, known, read.clock, asked), known


def _refused_groups(read: Read, asked: Asked, because: Because, sentence: str) -> list[LifeGroup]:
    """Return the groups with their counts but no estimate, for a reason that holds for all of them."""
    keys = group_keys([read.numbers], asked.by) or [dict.fromkeys(asked.by)]
    counts = _numbers(read, keys, asked.by, is_age_known=None)
    survivors = _refused_survivors(because, read.clock, asked)
    return [
        LifeGroup(by, **vars(_refused_part(because, sentence, numbers)), surviving_at=survivors)
        for by, numbers in zip(keys, counts, strict=True)
    ]


def _with_survivors(groups: list[LifeGroup], known: Known, clock: Clock, asked: Asked) -> list[LifeGroup]:
    """Add the share still good at the age that is set, and say it."""
    age = asked.settings.age
    if age is None:
        return groups
    counts, found = dict(list(known.counts.groupby("group_no"))), []
    for number, group in enumerate(groups):
        part = _refused_survivors(Because.NO_SPELLS, clock, asked)
        if number in known.curves:
            curve, at_risk = share_at(known.curves[number], counts[number], age=age, level=asked.level)
            laws = (fits[number].surviving[0] for fits in (known.fits, known.lognormals))
            part = SurvivingAt(age, clock, at_risk, curve, *laws)
            said = surviving_sentence(part, clock, is_after_clean=asked.question is Question.RECURRENCE)
            group = replace(group, sentence=f"{group.sentence} {said}")
        found.append(replace(group, surviving_at=part))
    return found


def _refused_survivors(because: Because, clock: Clock, asked: Asked) -> SurvivingAt | None:
    age = asked.settings.age
    return None if age is None else SurvivingAt(age, clock, 0, *[Estimate.refused(because)] * 3)


def _said(part: LifePart, say: Say, clock: Clock, level: float) -> LifePart:
    return replace(part, sentence=say(part, clock, level))


def _numbers(read: Read, keys: list[dict], by: tuple[str, ...], *, is_age_known: bool | None) -> list[dict[str, int]]:
    numbers, modules = (
        frame if is_age_known is None else frame[frame["is_age_known"].astype(bool) == is_age_known]
        for frame in (read.numbers, read.modules)
    )
    group, module_group = group_numbers(numbers, keys, by), group_numbers(modules, keys, by)
    is_failure = numbers["is_failure"].to_numpy(dtype=bool)
    return [
        {
            "modules": int(modules["module_count"].to_numpy()[module_group == number].sum()),
            "spells": int(numbers["spell_count"].to_numpy()[group == number].sum()),
            "failures": int(numbers["spell_count"].to_numpy()[(group == number) & is_failure].sum()),
            "assumed_failures": int(numbers["assumed_count"].to_numpy()[group == number].sum()),
        }
        for number in range(len(keys))
    ]


def _known(counts: pd.DataFrame, read: Read, keys: list[dict], asked: Asked, *, is_age_known: bool) -> Known:
    mine = by_group(counts, ["entry", "lower", "upper", "at", "is_failure"], keys, asked.by, is_age_known=is_age_known)
    if not len(mine):
        return Known(keys, mine, mine, {}, {}, {})
    is_many = read.grid and asked.settings.grid is None and len(mine) > MOST_PAIRS
    for_fits = _coarser(mine, step=read.grid * 2) if is_many else mine
    ages = [] if asked.settings.age is None else [asked.settings.age]
    like = {"by": ["group_no"], "level": asked.level, "min_failures": asked.settings.min_failures, "ages": ages}
    fits = weibull(for_fits, **like)
    lognormals = lognormal(for_fits, **like) if is_age_known and (ages or not asked.is_brief) else []
    curves = dict(list(survival(mine, by=["group_no"], level=asked.level).groupby("group_no")))
    return Known(keys, mine, for_fits, curves, *({one.by[0]: one for one in laws} for laws in (fits, lognormals)))


def _parts(known: Known, read: Read, asked: Asked, *, is_age_known: bool) -> list[LifePart]:
    numbers = _numbers(read, known.keys, asked.by, is_age_known=is_age_known)
    return [_part(one, known.curves.get(number), known.fits.get(number), asked) for number, one in enumerate(numbers)]


def _coarser(counts: pd.DataFrame, *, step: float) -> pd.DataFrame:
    """Round entry down and the bounds to the nearest step, at least one step after the entry."""
    entry = np.floor(counts["entry"].to_numpy() / step)
    lower, upper = (np.round(counts[name].to_numpy() / step) for name in ("lower", "upper"))
    is_between = np.isfinite(upper) & (counts["lower"] < counts["upper"]).to_numpy()
    lower = np.where(is_between, np.maximum(lower, entry), np.maximum(lower, entry + 1))
    return counts.assign(entry=entry * step, lower=lower * step, upper=np.maximum(upper, np.maximum(lower, entry + 1)) * step)


def _part(numbers: dict[str, int], curve: pd.DataFrame | None, fit: WeibullFit | None, asked: Asked) -> LifePart:
    if curve is None or fit is None:
        return _refused_part(Because.NO_SPELLS, "", numbers)
    shown = drawn(curve, spell_count=numbers["spells"], min_at_risk=asked.settings.min_at_risk)
    return LifePart(
        because=Because.NO_FAILURES if numbers["failures"] == 0 else None,
        sentence="",
        counts=numbers,
        curve=CurvePoints(shown.curve),
        drawn_from=shown.drawn_from,
        curve_quantiles={"b10": quantile(curve, share=0.1), "median": quantile(curve, share=0.5)},
        weibull=WeibullPart(fit.because, fit.shape, fit.scale, fit.b10, fit.median, fit.log_likelihood),
    )


def _refused_part(because: Because, sentence: str, numbers: dict[str, int]) -> LifePart:
    refused = Estimate.refused(because)
    return LifePart(
        because, sentence, numbers, [], None, {"b10": refused, "median": refused}, WeibullPart(because, *[refused] * 4, None)
    )
