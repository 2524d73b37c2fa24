"""Clean or replace: whether cleaning this stick works and holds, what the three courses cost, and when to stop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from pipelines.answers.asked_record import Band
from pipelines.answers.bench_case import CODED, BenchCase, bench_case
from pipelines.answers.bench_money import BenchMoney, bench_money
from pipelines.answers.bench_record import BenchRecord, bench_record
from pipelines.answers.clean_or_replace_record import BenchRest, Calibration, CleanOrReplace, DepthOption, NextClean
from pipelines.answers.question import Asked
from pipelines.decisions.clean_or_replace import Advice, Costs, clean_or_replace
from pipelines.estimates.coming_cleans import ComingCleans, Mixed, coming_cleans_of
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.missing_words import missing_words
from pipelines.estimates.triage import DRAWS
from pipelines.facts.read import Connection
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Course, Question
from pipelines.wording import bench as words

#: The draws of so many sticks stand in memory at once.
_AT_ONCE = 50
#: What is to come of a stick by depth of clean, or why it cannot be told.
_Coming = dict[str | None, ComingCleans | Because]


def clean_or_replace_answer(connection: Connection, asked: Asked) -> CleanOrReplace:
    """Answer about the stick of `--case`; the histories must stand under the asked settings."""
    record = bench_record(connection, asked.settings, level=asked.level)
    answer = advise(record, [bench_case(asked.case, record.families, record.lots.family_aliases)], asked.settings)[0]
    return answer if asked.is_brief else replace(answer, reliability=calibration(record))


def calibration(record: BenchRecord) -> Calibration:
    """Return whether the chances come true, out of sample; worked out when first asked for."""
    found = record.reliability
    return Calibration(
        found.because, found.attempts, [Band(*row) for row in found.bands.itertuples(index=False, name=None)],
        found.slope, found.intercept, found.brier, found.plain_brier, found.log_loss, found.plain_log_loss,
    )  # fmt: skip


def advise(record: BenchRecord, cases: Sequence[BenchCase], settings: Settings) -> list[CleanOrReplace]:
    """Advise on sticks, without the calibration. A family never cleaned, or a reading never seen, is refused as `unlike_any`."""
    known = _Known(record, settings)
    return [
        one for start in range(0, len(cases), _AT_ONCE) for one in _advise_some(record, cases[start : start + _AT_ONCE], known)
    ]  # fmt: skip


def _advise_some(record: BenchRecord, cases: Sequence[BenchCase], known: _Known) -> list[CleanOrReplace]:
    depths = [[case.depth] if case.depth else record.depths for case in cases]
    asked = [known.mixed(case, depth) for case, some in zip(cases, depths, strict=True) for depth in some]
    coming = iter(coming_cleans_of(record.triage, record.holds or _Always(), asked))
    return [
        _advice(record, case, {depth: next(coming) for depth in some}, known)
        for case, some in zip(cases, depths, strict=True)
    ]  # fmt: skip


class _Known:
    """What many sticks share, looked up once: the costs of their family, and what they may be where a word is missing."""

    def __init__(self, record: BenchRecord, settings: Settings) -> None:
        self.settings = settings
        self._record = record
        self._costs: dict[tuple, BenchMoney] = {}
        self._words: dict[tuple, list[tuple[float, dict[str, object]]]] = {}

    def costs(self, family: str | None, depths: Sequence[str | None]) -> BenchMoney:
        key = (family, *depths)
        if key not in self._costs:
            self._costs[key] = bench_money(self._record, family, depths, self.settings)
        return self._costs[key]

    def mixed(self, case: BenchCase, depth: str | None) -> Mixed:
        found = case.as_found() | {"depth": depth}
        key = tuple(found[name] for name in ("family", *CODED))
        if key not in self._words:
            self._words[key] = missing_words(self._record.attempts, found)
        return [(share, found | more) for share, more in self._words[key]]


class _Always:
    """Stands for what holds where no warranty is given."""

    def draws(self, family: str | None, attempt_number: int) -> np.ndarray:
        return np.ones(DRAWS)


def _advice(record: BenchRecord, case: BenchCase, coming: _Coming, known: _Known) -> CleanOrReplace:
    money = known.costs(case.family, list(coming))
    part = None if record.part_holds is None else record.part_holds.draws(case.family)
    advised = {
        depth: clean_or_replace(one, money.costs[depth], mechanism=case.mechanism, part_holds=part)
        for depth, one in coming.items()
    }
    depth = _best(record, case, coming, advised)
    one, told = coming[depth], advised[depth]
    is_known = isinstance(one, ComingCleans)
    passes = _share(one.passes[:, 0], record.level) if is_known else Estimate.refused(one)
    holds, part_holds = _holds(record, case)
    unlike = [] if one is not Because.UNLIKE_ANY else _unlike(record, case)
    missing = money.missing if is_known else []
    return CleanOrReplace(
        question=Question.CLEAN_OR_REPLACE, case=case, currency=record.lots.currency, level=record.level,
        log_start=record.lots.log_start, log_end=record.lots.log_end, settings=known.settings.as_plain(), because=told.because,
        sentence=words.advice_sentence(
            told, passes, holds, part_holds, depth=depth, warranty_days=record.warranty_days, currency=record.lots.currency,
            unlike=unlike, first_number=case.attempt_number, missing=[one.name for one in missing],
        ),
        warnings=_warnings(record, case, told, money, holds, part_holds), asked_for=missing, not_weighed=money.not_weighed,
        sources=known.costs(case.family, [depth]).sources, warranty_days=record.warranty_days,
        rests_on=_rests_on(record, case, depth), unlike=unlike, depth=depth, pass_chance=passes, hold_chance=holds,
        part_hold_chance=part_holds, costs=money.costs[depth], course=told.course,
        expected_cost={str(course): cost for course, cost in told.expected_cost.items()}, margin=told.margin,
        sure_share=told.sure_share, is_close=told.is_close, is_rule_of_thumb=told.is_rule_of_thumb,
        clean_until=told.clean_until, after_cleans=told.after_cleans, coming=_next(one),
        depths=[_option(record, case, each, coming[each], advised[each], money.costs[each]) for each in coming],
    )  # fmt: skip


def _best(record: BenchRecord, case: BenchCase, coming: _Coming, advised: dict[str | None, Advice]) -> str | None:
    """Return the depth whose cleaning first is cheapest; where no cost is known, the one that is cleaned to most often."""
    known = [depth for depth, one in coming.items() if isinstance(one, ComingCleans)] or list(coming)
    costed = [depth for depth in known if Course.CLEAN_FIRST in advised[depth].expected_cost]
    if costed:
        return min(costed, key=lambda depth: advised[depth].expected_cost[Course.CLEAN_FIRST])
    return max(known, key=lambda depth: record.alike(family=case.family, depth=depth)[0])


def _option(
    record: BenchRecord, case: BenchCase, depth: str | None, one: ComingCleans | Because, told: Advice, costs: Costs
) -> DepthOption:
    attempts, passed = record.alike(family=case.family, depth=depth)
    is_known = isinstance(one, ComingCleans)
    return DepthOption(
        depth, attempts, passed, None if is_known else one,
        _share(one.passes[:, 0], record.level) if is_known else Estimate.refused(one),
        costs.clean_cost, told.expected_cost.get(Course.CLEAN_FIRST),
    )  # fmt: skip


def _share(drawn: np.ndarray, level: float) -> Estimate:
    low, high = np.quantile(drawn, [(1 - level) / 2, (1 + level) / 2])
    return Estimate(float(drawn.mean()), float(low), float(high))


def _holds(record: BenchRecord, case: BenchCase) -> tuple[Estimate, Estimate]:
    """Return the chances that the next clean, if it passes, and a new part hold over the warranty."""
    if record.holds is None:
        return Estimate(1.0, 1.0, 1.0), Estimate(1.0, 1.0, 1.0)
    return record.holds.chance(case.family, case.attempt_number), record.part_holds.chance(case.family)


def _next(coming: ComingCleans | Because) -> list[NextClean]:
    if isinstance(coming, Because):
        return []
    rows = zip(coming.passes.mean(axis=0), coming.holds.mean(axis=0), strict=True)
    return [NextClean(coming.first_number + later, float(one), float(two)) for later, (one, two) in enumerate(rows)]


def _rests_on(record: BenchRecord, case: BenchCase, depth: str | None) -> BenchRest:
    alike = record.alike(family=case.family, mode=case.mode, mechanism=case.mechanism, sensor_type=case.sensor_type, depth=depth)
    return BenchRest(record.triage.attempts, record.triage.passed, *alike, list(record.triage.columns))


def _unlike(record: BenchRecord, case: BenchCase) -> list[str]:
    """Return which of the things said of a stick were never cleaned; all that was said where only together they were not."""
    said = {name: value for name, value in case.as_found().items() if value is not None} | {"depth": case.depth}
    alone = [name for name, value in said.items() if not record.triage.is_like_anything(pd.DataFrame([{name: value}]))[0]]
    return alone or [name for name in ("family", "sensor_type") if said.get(name) is not None]


def _warnings(
    record: BenchRecord, case: BenchCase, told: Advice, money: BenchMoney, holds: Estimate, part_holds: Estimate
) -> list[str]:  # fmt: skip
    return words.bench_warnings(
        mechanism=case.mechanism, worn_attempts=record.alike(mechanism=case.mechanism) if case.mechanism else None,
        course=told.course, warranty_days=record.warranty_days, is_warranty_usual=record.is_warranty_usual,
        not_weighed=[one.name for one in money.not_weighed], assumed=case.assumed, is_told=told.because is None,
        is_hold_known=holds.estimate is not None, is_part_hold_known=part_holds.estimate is not None,
    )  # fmt: skip
