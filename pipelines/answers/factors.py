"""What goes with early drift: several columns compared at once, for first lives and for the time that cleans hold."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from pipelines.answers.factors_record import FactorCheck, FactorGroup, LevelRatio
from pipelines.answers.frame import answer
from pipelines.answers.question import BY, DATES, Asked
from pipelines.answers.record import Answer
from pipelines.answers.sample import sampled
from pipelines.answers.spells import Read, clock_warnings, hours_refusal, no_length_warnings, read_spells, without_denominator
from pipelines.answers.time_to_failure import is_truncated
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportional import proportional
from pipelines.estimates.regression import hazard_ratios, life_ratios
from pipelines.estimates.regression_task import Regression
from pipelines.facts.read import Connection, window
from pipelines.facts.sold import sold_levels
from pipelines.vocabulary import Because, Question, SpellKind
from pipelines.wording import factors as wording
from pipelines.wording import verdict

#: Of more rows of counts than this a sample is taken.
MOST_ROWS = 40_000
#: What is compared where `--by` names nothing. Of factors that cannot be told apart the first are kept.
DEFAULT = {
    Question.TIME_TO_FAILURE: ("family", "usage_class", "sensor_type", "site", "stick"),
    Question.RECURRENCE: ("family", "usage_class", "sensor_type", "site", "stick", "depth", "attempt_number"),
}
_KIND = {Question.TIME_TO_FAILURE: SpellKind.FIRST_LIFE, Question.RECURRENCE: SpellKind.AFTER_CLEAN}


def factors(connection: Connection, asked: Asked) -> Answer:
    """Answer what goes with early drift; the histories must stand under the asked settings.

    A group for first lives and one for the time after cleans, each with the factors that it knows and both on the clock of
    the first. A filter by what was cleaned leaves first lives out; a log of failures only refuses them.
    """
    seen = window(connection)
    groups, warnings, reads = [], [], []
    for of in DEFAULT:
        named = tuple(name for name in asked.by or DEFAULT[of] if name in BY[of])
        if not named or not set(asked.where) <= {*BY[of], *DATES}:
            continue
        clock = reads[0].clock if reads else asked.clock
        read = read_spells(connection, replace(asked, by=named, clock=clock), _KIND[of])
        reads.append(read)
        refused = hours_refusal(read)
        if of is Question.TIME_TO_FAILURE and is_truncated(seen):
            refused = (Because.FAILURES_ONLY, verdict.failures_only_sentence())
        sold = frozenset() if refused else sold_levels(connection, _KIND[of])
        group, warned = (_refused(of, read, *refused), []) if refused else _group(of, read, named, asked, sold)
        groups.append(group)
        warnings += warned
    return answer(
        connection, asked, window=seen, clock=reads[0].clock, groups=groups, of_question=_left_out(reads),
        settings=reads[0].settings_used, warnings=[*clock_warnings(reads[0], asked), *warnings],
    )  # fmt: skip


def _left_out(reads: list[Read]) -> dict[str, int]:
    one = pd.DataFrame([{**read.left_out, "age_unknown": read.unknown_age_count} for read in reads])
    return {key: int(count) for key, count in one.sum().items()}


def _group(
    of: Question, read: Read, named: tuple[str, ...], asked: Asked, sold: frozenset[tuple[str, str | None]]
) -> tuple[FactorGroup, list[str]]:
    known = read.numbers[read.numbers["is_age_known"].astype(bool)]
    blank = [name for name in named if without_denominator(known, (name,))]
    left = [name for name in named if name not in blank]
    if not left:
        return _refused(of, read, Because.NO_DENOMINATOR, verdict.no_denominator_sentence(blank[0]), blank=blank), []
    counts = read.spells.counts_by_cluster(grid=read.grid)
    counts = counts[counts["is_age_known"].astype(bool)]
    used = sampled(counts, most=MOST_ROWS)
    warnings = no_length_warnings(read)
    if len(used) < len(counts):
        warnings.append(wording.sampled_warning(of, used=_spells(used), all=_spells(counts)))
    words = {"level": asked.level, "min_failures": asked.settings.min_failures}
    hazard, left, at_fault = _told_apart(used, left, words)
    life = life_ratios(used, factors=left, cluster="cluster", **words)
    checks = [
        FactorCheck(one.factor, one.because, one.p_adjusted, one.is_changing)
        for one in proportional(used, factors=left, **words).factors
    ]
    ratios = [
        LevelRatio(
            factor=one.factor, level=_word(one.level), is_reference=one.is_reference, spells=one.spell_count,
            failures=one.failure_count, hazard_ratio=one.ratio, life_ratio=other.ratio,
            pooled=[_word(name) for name in one.pooled],
        )
        for one, other in zip(hazard.ratios, life.ratios, strict=True)
    ]  # fmt: skip
    group = FactorGroup(
        by={}, of=of, because=hazard.because, sentence="", at_fault=at_fault, one_level=list(hazard.one_level), blank=blank,
        counts={"spells": hazard.spell_count, "failures": hazard.failure_count, "controllers": hazard.cluster_count or 0},
        ratios=ratios, checks=checks,
    )  # fmt: skip
    unlike = [one for one in ratios if not one.is_reference and _is_unlike(one, group, sold)]
    if unlike:
        both = dict.fromkeys((one.factor, level) for one in unlike for level in (one.level, _reference(one, group).level))
        warnings.append(wording.sold_warning(of, [name for name in both if name in sold]))
    is_told_by_family = "stick" in at_fault and set(used["stick"].dropna()) >= {"L", "R", "S"}
    said = _sentence(group, asked.level, unlike=unlike, is_told_by_family=is_told_by_family)
    return replace(group, sentence=said), warnings


def _told_apart(counts: pd.DataFrame, left: list[str], words: dict) -> tuple[Regression, list[str], list[str]]:
    """Return the hazard ratios of the factors that can be told apart, these factors, and those left out, the last first."""
    left, at_fault = list(left), []
    while True:
        fit = hazard_ratios(counts, factors=left, cluster="cluster", **words)
        if fit.because not in (Because.CONFOUNDED, Because.SEPARATED) or len(left) == 1:
            return fit, left, at_fault
        last = max(fit.at_fault, key=left.index)
        left.remove(last)
        at_fault.append(last)


def _is_unlike(one: LevelRatio, group: FactorGroup, sold: frozenset[tuple[str, str | None]]) -> bool:
    """Tell whether only one of a level and its reference is sold: the drift of those is seen in another way."""
    return ((one.factor, one.level) in sold) != ((one.factor, _reference(one, group).level) in sold)


def _reference(one: LevelRatio, group: FactorGroup) -> LevelRatio:
    return next(other for other in group.ratios if other.factor == one.factor and other.is_reference)


def _sentence(group: FactorGroup, level: float, *, unlike: list[LevelRatio], is_told_by_family: bool) -> str:
    if group.because:
        return wording.refused_sentence(group.of, group.because, spells=group.counts["spells"], failures=group.counts["failures"])
    compared = [
        one for one in group.ratios if not one.is_reference and one.hazard_ratio.low is not None and one not in unlike
    ]  # fmt: skip
    clear = [one for one in compared if _clearness(one) > 1]
    clearest = max(clear, key=_clearness, default=None)
    return wording.factors_sentence(
        group.of, spells=group.counts["spells"], failures=group.counts["failures"], level=level,
        compared=len(compared), clear=len(clear), clearest=None if clearest is None else _contrast(clearest, group),
        changing=[one.factor for one in group.checks if one.is_changing],
        left_out={"confounded": group.at_fault, "one_level": group.one_level, "blank": group.blank},
        is_told_by_family=is_told_by_family,
    )  # fmt: skip


def _clearness(one: LevelRatio) -> float:
    """Return the limit of the ratio, or of its inverse, that lies nearer to 1: over 1 where the interval does not hold 1."""
    return max(one.hazard_ratio.low, 1 / one.hazard_ratio.high)


def _contrast(one: LevelRatio, group: FactorGroup) -> wording.Contrast:
    """Return the level that fails more often first."""
    reference = _reference(one, group)
    hazard, life = one.hazard_ratio, one.life_ratio
    is_more = hazard.estimate > 1
    first, second = (one, reference) if is_more else (reference, one)
    return wording.Contrast(
        factor=one.factor, first=first.level, second=second.level, pooled=len(one.pooled),
        hazard=_turned(hazard, not is_more), life=_turned(life, not is_more),
    )  # fmt: skip


def _turned(one: Estimate, is_inverse: bool) -> tuple[float | None, float | None, float | None]:
    values = (one.estimate, one.low, one.high)
    if not is_inverse:
        return values
    estimate, low, high = (None if value is None else 1 / value for value in values)
    return estimate, high, low


def _refused(of: Question, read: Read, because: Because, sentence: str, *, blank: list[str] | None = None) -> FactorGroup:
    known = read.numbers[read.numbers["is_age_known"].astype(bool)]
    failures = known.loc[known["is_failure"].astype(bool), "spell_count"].sum()
    counts = {"spells": int(known["spell_count"].sum()), "failures": int(failures), "controllers": 0}
    return FactorGroup({}, of, because, sentence, counts, [], [], [], [], blank or [])


def _spells(counts: pd.DataFrame) -> int:
    return int(counts["spell_count"].sum())


def _word(level: object) -> str | None:
    return None if level is None else str(level)
