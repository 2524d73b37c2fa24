"""`answer batch-pattern`: what kind of worse a supplier batch is: early or worn out sooner, from which age, of what."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipelines.answers.batch_pattern_record import (
    BatchPattern,
    CurvePair,
    EarlyFailures,
    MechanismRow,
    Mechanisms,
    PairPoint,
    Pattern,
)
from pipelines.answers.batch_reading import on_clock
from pipelines.answers.case import known_name, one_batch
from pipelines.answers.detail import FailedPoint
from pipelines.answers.question import Asked
from pipelines.decisions.batch_kind import BatchKind, batch_kind
from pipelines.errors import SettingError
from pipelines.estimates.alike import Alike, alike
from pipelines.estimates.batch_shape import batch_shape
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.excess_by_mechanism import MechanismExcess, excess_by_mechanism
from pipelines.estimates.gray import GrayTest, gray_test
from pipelines.estimates.many_tests import holm
from pipelines.estimates.ratio_by_age import RatioByAge, ratio_by_age
from pipelines.estimates.survival_difference import SurvivalDifference, early_age, share_failed, survival_difference
from pipelines.facts.batch_beside import batch_beside
from pipelines.facts.read import Connection, window
from pipelines.vocabulary import Because, Clock
from pipelines.wording import batch_pattern as wording

#: Ages at which anybody failed; more than this are put together.
MOST_AGES = 1000
#: Where no age is set, failures are early up to the age by which this share of the rest had failed.
EARLY_SHARE = 0.05
#: Points of a share by age.
MOST_POINTS = 100


def batch_pattern(connection: Connection, asked: Asked) -> BatchPattern:
    """Answer from the log. Raises SettingError on a batch that the log does not have, and where none is named."""
    batches, clock, hours = on_clock(connection, asked)
    numbers = batches.numbers().set_index("batch")
    batch, reference = _named(asked, list(numbers.index))
    spells = _rounded(batch_beside(connection, batch, reference=reference))
    known = numbers.loc[batch]
    pair = alike(spells, min_at_risk=asked.settings.min_at_risk)
    because = _refused(pair, known, is_alone=(numbers["spell_count"] > 0).sum() < 2)
    ratio = ratio_by_age(pair, level=asked.level, min_failures=asked.settings.min_failures)
    kind = BatchKind.TOO_FEW if because else batch_kind(ratio, level=asked.level)
    found = survival_difference(pair, level=asked.level)
    log = window(connection)
    words = {"batch": batch, "clock": clock, "level": asked.level}
    told = {
        "counts": _counts(pair, spells, known), "kind": kind.value, "ratio": ratio.ratio,
        "pattern": _pattern(ratio, spells, pair, asked), "early": _early(found, asked, clock),
        "curves": _curves(found, clock), "mechanisms": _mechanisms(pair, spells, asked.level),
    }  # fmt: skip
    return BatchPattern(
        question=asked.question.value, log_start=log.log_start, log_end=log.log_end, settings=asked.settings.as_plain(),
        because=because, sentence=wording.sentence(**told, **words, because=because, reference=reference),
        warnings=wording.warnings(
            told["counts"], because=because, hours=hours if clock is Clock.DAYS and asked.clock is None else None,
            is_mixed=bool(known["is_mixed"]), no_length=int(known["no_length_count"]), sites=_own_sites(spells),
        ),
        where=asked.where, reference=reference, batch=batch, clock=clock.value, level=asked.level, **told,
    )  # fmt: skip


def _named(asked: Asked, known: list[str]) -> tuple[str, str | None]:
    batch = one_batch(asked.case, known)
    reference = known_name("batch", asked.case["reference"], known) if "reference" in asked.case else None
    if reference == batch:
        raise SettingError(f"Batch {batch} cannot be held against itself.", "Name another reference, or leave it out.")
    return batch, reference


def _rounded(spells: pd.DataFrame) -> pd.DataFrame:
    """Return the spells with ages put into steps where failures have more than MOST_AGES of them; none becomes empty."""
    ages = spells.loc[spells["is_failure"], "at"]
    if ages.nunique() <= MOST_AGES:
        return spells
    step = float(ages.max()) / MOST_AGES
    entry = np.floor(spells["entry"] / step) * step
    return spells.assign(entry=entry, at=np.maximum(np.ceil(spells["at"] / step) * step, entry + step))


def _refused(pair: Alike, known: pd.Series, *, is_alone: bool) -> Because | None:
    """Return why nothing can be said of the batch."""
    if not known["spell_count"]:
        return Because.NO_DENOMINATOR if known["found_only_count"] else Because.NO_SPELLS
    if pair.because in (Because.NO_SPELLS, Because.CONFOUNDED):
        return Because.ONE_BATCH if is_alone else Because.NO_COMPARISON
    return pair.because


def _counts(pair: Alike, spells: pd.DataFrame, known: pd.Series) -> dict[str, int]:
    rest = spells[~spells["is_batch"]]
    found = {
        "modules": int(known["spell_count"]), "controllers": int(known["unit_count"]), "failures": int(known["failure_count"]),
        "compared_failures": pair.compared_failures, "rest_modules": int(rest["rest_count"].max()) if len(rest) else 0,
        "rest_failures": int(rest["is_failure"].sum()), "cells": int(spells.loc[spells["is_batch"], "cell"].nunique()),
        "alone": pair.alone,
    }  # fmt: skip
    return found | {"drawn": len(rest) if len(rest) < found["rest_modules"] else 0}


def _own_sites(spells: pd.DataFrame) -> list[str]:
    return sorted(spells.loc[spells["is_batch"], "site"].dropna().unique())


def _pattern(ratio: RatioByAge, spells: pd.DataFrame, pair: Alike, asked: Asked) -> Pattern:
    settings = asked.settings
    shapes = [Estimate.refused(pair.because or Because.NO_SPELLS)] * 2
    if len(pair.age):
        told = batch_shape(spells, until=float(pair.age[-1]), level=asked.level, min_failures=settings.min_failures)
        shapes = [told.batch, told.rest]
    return Pattern(
        ratio.because, *shapes, ratio.change, ratio.change_p, ratio.early_at, ratio.early, ratio.late_at, ratio.late,
        ratio.rates_cross, ratio.curves_cross,
    )  # fmt: skip


def _early(found: SurvivalDifference, asked: Asked, clock: Clock) -> EarlyFailures:
    age = early_age(found, share=EARLY_SHARE) if asked.settings.early_age is None else asked.settings.early_age
    shares = None if age is None else share_failed(found, by_age=age)
    if shares is None:
        because = found.because or Because.NOT_REACHED
        return EarlyFailures(because, "", age, *[Estimate.refused(because)] * 3)
    return EarlyFailures(None, wording.early_sentence(age, shares, clock), age, *shares)


def _curves(found: SurvivalDifference, clock: Clock) -> CurvePair:
    points = [
        PairPoint(*(None if isinstance(one, float) and np.isnan(one) else one for one in row))
        for row in found.points.astype({"batch_at_risk": int, "rest_at_risk": int}).itertuples(index=False, name=None)
    ]
    return CurvePair(
        found.because, wording.curves_sentence(found, clock), found.counted_from if points else None, found.compared_to,
        found.differs_from, found.differs_to, points,
    )  # fmt: skip


def _mechanisms(pair: Alike, spells: pd.DataFrame, level: float) -> Mechanisms:
    found = excess_by_mechanism(pair, level=level)
    tests = _gray(spells, [one.mechanism for one in found.mechanisms]) if found.mechanisms else {}
    rows = [_row(one, found.ages, pair, *tests[one.mechanism]) for one in found.mechanisms]
    return Mechanisms(
        found.because, wording.mechanisms_sentence(rows, found, pair), found.batch_recorded, found.rest_recorded, rows
    )  # fmt: skip


def _gray(spells: pd.DataFrame, names: list[str]) -> dict[str, tuple[float | None, Because | None]]:
    """Return Holm's p of Gray's test of each mechanism, of the modules of cells with both that are watched from their fitting."""
    both = spells.groupby("cell")["is_batch"].transform("nunique") == 2
    counts = spells[both & (spells["entry"] == 0)].rename(columns={"failed_by": "mechanism"})
    tests: dict[str, GrayTest] = {name: gray_test(counts, group="is_batch", mechanism=name) for name in names}
    told = [name for name, one in tests.items() if one.p_value is not None]
    adjusted = dict(zip(told, holm(np.array([tests[name].p_value for name in told])).tolist(), strict=True))
    return {name: (adjusted.get(name), one.because) for name, one in tests.items()}


def _row(one: MechanismExcess, ages: np.ndarray, pair: Alike, gray_p: float | None, gray_because: Because | None) -> MechanismRow:
    places = np.unique(np.linspace(0, len(ages) - 1, min(len(ages), MOST_POINTS)).round().astype(int))
    curves = [
        [
            FailedPoint(float(ages[place]), float(shares[place]), None, None, int(at_risk[place]), 0, True)
            for place in places
        ]
        for shares, at_risk in ((one.batch_share, pair.batch.sum(axis=0)), (one.rest_share, pair.rest.sum(axis=0)))
    ]  # fmt: skip
    return MechanismRow(
        one.mechanism, one.failures, one.rest_failures, one.expected, one.ratio, one.excess, one.p_adjusted, gray_p, gray_because,
        one.is_source, *curves,
    )  # fmt: skip
