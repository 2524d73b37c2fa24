"""`answer tester-study`: how much of the spread of readings is the tester, and what that does to pass and fail."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from pipelines.answers import case as read
from pipelines.answers.bench_case import MOST_PCT
from pipelines.answers.question import Asked
from pipelines.answers.tester_study_record import (
    AnalysisRow,
    AtLimit,
    Component,
    PassPoint,
    Person,
    StudyCase,
    StudySize,
    TesterStudy,
)
from pipelines.decisions.tester import verdict_on_tester
from pipelines.errors import SettingError
from pipelines.estimates.crossed_study import CrossedStudy, Variances, crossed_study, drawn_mean, drawn_variances, limits_of_draws
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.pass_fail import Misjudged, misjudged, reads_within
from pipelines.estimates.proportion import normal_quantile
from pipelines.facts.inspections import pass_limits, study_readings
from pipelines.facts.read import Connection, Window, window
from pipelines.logs.spelling import fold
from pipelines.logs.words import known_words
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Measure
from pipelines.wording import tester_study as wording

#: Parts of the spread that have an interval of their own.
PARTS = ("repeat", "person", "interaction", "between_persons", "tester", "stick", "total")
#: Points of the curve of pass chances, over so many standard deviations of the tester on each side of the limit.
_POINTS, _AROUND = 41, 4.0
#: Six standard deviations hold nearly all errors: the usual measure against a tolerance.
_WIDTH = 6.0


@dataclass(frozen=True)
class StudyFacts:
    """What the log says of the tester, read once and asked often."""

    log: Window
    readings: pd.DataFrame
    limits: pd.DataFrame


def tester_study(connection: Connection, asked: Asked) -> TesterStudy:
    """Answer from the log. Raises SettingError on words of the case that it does not know."""
    return study_of(study_facts(connection), asked)


def study_facts(connection: Connection) -> StudyFacts:
    """Return the readings of studies and the pass limits."""
    return StudyFacts(window(connection), study_readings(connection), pass_limits(connection))


def study_of(facts: StudyFacts, asked: Asked) -> TesterStudy:
    """Answer from facts read before. Raises SettingError."""
    read_of = facts.readings["measure"].value_counts()
    counts = {one.value: int(read_of[one]) for one in Measure if one in read_of}
    case = _case(facts, asked, max(counts, key=counts.__getitem__, default=None))
    readings = complete(facts.readings[facts.readings["measure"] == case.measure])
    study = crossed_study(readings.table) if readings.because is None else None
    because = readings.because
    if study is not None and not study.variances.repeat > 0:
        study, because = None, Because.NO_SPREAD
    answer = TesterStudy(
        question=asked.question.value, level=asked.level, log_start=facts.log.log_start, log_end=facts.log.log_end,
        settings=asked.settings.as_plain(), because=because, sentence="", warnings=[], case=case,
        measures=counts, size=readings.size, mean=None, is_pooled=None,
        components=[], classes=None, allowed_share=asked.settings.tester_share_limit, verdict=None, analysis=[], persons=[],
        at_limit=None,
    )  # fmt: skip
    if study is not None:
        answer = replace(answer, **_told(study, readings.persons, case, asked))
    limits = [float(one) for one in sorted(set(_listed_limits(facts.limits, case.measure)))]
    return replace(answer, sentence=wording.whole_sentence(answer), warnings=wording.warnings(answer, limits))


@dataclass(frozen=True)
class Complete:
    """The largest part of a study that is complete. table: sticks × persons × repeats; persons: their names and readings."""

    table: np.ndarray | None
    persons: dict[str, np.ndarray]
    size: StudySize | None
    because: Because | None


def complete(readings: pd.DataFrame) -> Complete:
    """Return the most readings of which every person read every stick equally often, twice or more.

    readings: rows of `facts.inspections.study_readings` of one measure. Of persons those who read the most sticks come first.
    Refused: `not_recorded`, `too_few_readings`.
    """
    if readings.empty:
        return Complete(None, {}, None, Because.NOT_RECORDED)
    cells = readings.groupby(["person", "stick"])["value"].apply(list).unstack("stick")
    often = cells.map(lambda values: len(values) if isinstance(values, list) else 0)
    order = list(often.gt(1).sum(axis=1).sort_values(ascending=False, kind="stable").index)
    tries = [
        (kept, repeats, list(often.columns[(often.loc[order[:kept]] >= repeats).all()]))
        for kept in range(2, len(order) + 1)
        for repeats in range(2, int(often.to_numpy().max()) + 1)
    ]
    fitting = [one for one in tries if len(one[2]) > 1]
    if not fitting:
        size = StudySize(len(often.columns), len(order), int(often.to_numpy().max()), len(readings), 0, 0, 0)
        return Complete(None, {}, size, Because.TOO_FEW_READINGS)
    kept, repeats, sticks = max(fitting, key=lambda one: one[0] * one[1] * len(one[2]))
    persons = sorted(order[:kept])
    table = np.array([[cells.loc[person, stick][:repeats] for person in persons] for stick in sticks], dtype=float)
    size = StudySize(
        len(sticks), kept, repeats, table.size, len(often.columns) - len(sticks), len(order) - kept, len(readings) - table.size
    )
    return Complete(table, {str(person): table[:, place] for place, person in enumerate(persons)}, size, None)


def _told(study: CrossedStudy, persons: Mapping[str, np.ndarray], case: StudyCase, asked: Asked) -> dict[str, object]:
    drawn = drawn_variances(study)
    components = [_component(name, study.variances, drawn, asked.level) for name in PARTS]
    share = next(one.spread_share for one in components if one.name == "tester")
    return {
        "mean": study.mean, "is_pooled": study.is_pooled, "components": components, "classes": float(study.variances.classes),
        "verdict": verdict_on_tester(share, asked.settings.tester_share_limit),
        "analysis": [
            AnalysisRow(one.name, one.degrees_of_freedom, one.sum_of_squares, one.mean_square, one.f, one.p_value)
            for one in study.sources
        ],
        "persons": _persons(study, persons, asked.level),
        "at_limit": None if case.limit is None else _at_limit(study, drawn, case, asked.level),
    }  # fmt: skip


def _component(name: str, told: Variances, drawn: Variances, level: float) -> Component:
    some, others = getattr(told, name), getattr(drawn, name)
    return Component(
        name, limits_of_draws(some**0.5, np.sqrt(others), level=level),
        limits_of_draws((some / told.total) ** 0.5, np.sqrt(others / drawn.total), level=level),
    )  # fmt: skip


def _persons(study: CrossedStudy, persons: Mapping[str, np.ndarray], level: float) -> list[Person]:
    """Return each person against the mean of all, by t with what persons × sticks leaves, as the model has it."""
    from scipy.special import stdtrit

    rest = study.source("interaction")
    error = (rest.mean_square * (study.persons - 1) / (study.persons * study.sticks * study.repeats)) ** 0.5
    reach = float(stdtrit(rest.degrees_of_freedom, (1 + level) / 2)) * error
    found = [(name, float(values.mean())) for name, values in persons.items()]
    return [
        Person(name, mean, Estimate(mean - study.mean, mean - study.mean - reach, mean - study.mean + reach))
        for name, mean in found
    ]  # fmt: skip


def _at_limit(study: CrossedStudy, drawn: Variances, case: StudyCase, level: float) -> AtLimit:
    sign = 1 if case.is_upper else -1
    tester, errors = study.variances.tester**0.5, np.sqrt(drawn.tester)
    unsure = normal_quantile(level) * tester
    means = drawn_mean(study, drawn)
    # no draw may hold sticks that do not differ at all: nothing could be judged of them
    sticks = np.sqrt(np.maximum(drawn.stick, 1e-12 * drawn.total))
    spread = max(study.variances.stick, 1e-12 * study.variances.total) ** 0.5
    told = misjudged(room=sign * (case.limit - study.mean), stick_sd=spread, tester_sd=tester)
    may_be = misjudged(room=sign * (case.limit - means), stick_sd=sticks, tester_sd=errors)
    width = limits_of_draws(_WIDTH * tester / case.limit, _WIDTH * errors / case.limit, level=level) if case.is_upper else None
    return AtLimit(
        case.limit - unsure, case.limit + unsure, width or Estimate.refused(Because.NOT_GIVEN),
        *(_chance(told, may_be, name, level) for name in ("good_fails", "bad_passes", "false_fail_share", "read_bad_share")),
        _curve(case.limit, sign, tester, errors, level),
    )  # fmt: skip


def _chance(told: Misjudged, may_be: Misjudged, name: str, level: float) -> Estimate:
    return limits_of_draws(float(getattr(told, name)), getattr(may_be, name), level=level)


def _curve(limit: float, sign: int, tester: float, errors: np.ndarray, level: float) -> list[PassPoint]:
    ends = np.quantile(errors, [(1 - level) / 2, (1 + level) / 2])
    beyond = np.linspace(-_AROUND, _AROUND, _POINTS) * tester
    chance, one, other = (np.asarray(reads_within(beyond, sd)) for sd in (tester, *ends))
    low, high = np.minimum(np.minimum(one, other), chance), np.maximum(np.maximum(one, other), chance)
    rows = zip((limit + sign * beyond).tolist(), chance.tolist(), low.tolist(), high.tolist(), strict=True)
    return sorted((PassPoint(*row) for row in rows), key=lambda point: point.true_value)


def _case(facts: StudyFacts, asked: Asked, most_read: str | None) -> StudyCase:
    """Return what is asked about: the measure named, else the one most read; its limit named, else set, else in the table."""
    words = asked.case
    measure = most_read
    if "measure" in words:
        measure = measure_of(words["measure"])
        if measure is None:
            raise SettingError(f"'{words['measure']}' is no measure.", f"It is one of: {', '.join(Measure)}.")
    if measure is None:
        return StudyCase(None, None, True, None)
    is_upper = measure != Measure.REACH
    if "limit" in words:
        return StudyCase(measure, read.number("limit", words["limit"], low=0.001, high=MOST_PCT), is_upper, "case")
    chosen = _limit_set(asked.settings, measure)
    if chosen:
        return StudyCase(measure, chosen, is_upper, "setting")
    listed = set(_listed_limits(facts.limits, measure))
    return StudyCase(measure, listed.pop(), is_upper, "limits") if len(listed) == 1 else StudyCase(measure, None, is_upper, None)


def measure_of(word: str) -> str | None:
    """Return the measure that a word means, None where it means none."""
    return known_words("measure").get(fold(word))


def _limit_set(settings: Settings, measure: str) -> float | None:
    """Return the limit that the settings give, a pass_max or pass_min of this measure."""
    return getattr(settings, f"pass_max_{measure}_pct", None) or getattr(settings, f"pass_min_{measure}_pct", None)


def _listed_limits(limits: pd.DataFrame, measure: str | None) -> list[float]:
    mine = limits[limits["measure"] == measure]
    return list(mine["pass_min" if measure == Measure.REACH else "pass_max"].dropna())
