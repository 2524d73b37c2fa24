"""The heavier estimates of lives: laws, assumed shapes, dating, intervals, and what groups borrow from each other.

Each reads the counts that the curves and fits of the answer were taken from; a group without spells of known age has none.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from pipelines.answers.detail import CommonShape, Dating, Interval, IntervalCurve, Place, PooledLife
from pipelines.answers.law_plot import law_plot
from pipelines.answers.laws_record import AssumedLife, AssumedShape, Laws, Lognormal
from pipelines.answers.life import Known, Lives
from pipelines.answers.life_clusters import by_controller, by_site
from pipelines.answers.life_mechanisms import by_mechanism
from pipelines.answers.question import Asked
from pipelines.answers.record import LifeGroup
from pipelines.answers.spells import Read
from pipelines.estimates.comparison import comparison
from pipelines.estimates.dating import dating
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.fixed_shape import LARGEST_SHAPE, LEAST_SHAPE, FixedShapeFit, fixed_shape
from pipelines.estimates.pooled_life import PooledLives, pooled_life
from pipelines.estimates.ranks import ranks
from pipelines.estimates.survival import drawn
from pipelines.estimates.turnbull import quantile, turnbull
from pipelines.vocabulary import Because
from pipelines.wording.lives import group_clause
from pipelines.wording.pooling import ranked_count

BY_GROUP = ["group_no"]
#: A fit of fewer failures is shown beside one whose shape is assumed.
FEW_FAILURES = 10
#: Turnbull's limits take some 0.01 s a group, 0.03 s where times are rounded: so many groups are worked out.
MOST_CURVES, MOST_CURVES_ROUNDED = 40, 3


def detailed(lives: Lives, read: Read, asked: Asked) -> tuple[list[LifeGroup], dict[str, object]]:
    """Return the groups with their heavier estimates, and those of the whole answer by their key."""
    known, level = lives.known, asked.level
    if known is None or asked.is_brief:
        return lives.groups, {}
    borrowed = pooled_life(known.fit_counts, by=BY_GROUP, level=level, min_failures=asked.settings.min_failures)
    dated = _dating(known, asked)
    mechanisms, tests = by_mechanism(known, read, asked)
    controllers, frailties = by_controller(known, read, asked)
    parts = {
        "laws": _laws(known),
        "assumed_shape": _assumed(known, borrowed, asked),
        "dating": dated,
        "interval_curve": _interval_curves(known, dated, level=level, is_rounded=read.grid > 0),
        "by_mechanism": mechanisms,
        "pooled": _pooled(borrowed, level=level),
        "by_controller": controllers,
        "by_site": by_site(known, read, asked),
        "frailty": frailties,
    }
    groups = [
        replace(group, **{name: found.get(number) for name, found in parts.items()}) for number, group in enumerate(lives.groups)
    ]
    if len(groups) == 1 and known.curves:
        groups = [replace(groups[0], law_plot=_law_plot(known, asked))]
    common = _common_shape(borrowed)
    ranked = ranked_count(groups)
    groups = [_with_clause(group, common, ranked) for group in groups]
    return groups, {"common_shape": common, "mechanism_tests": tests}


def _with_clause(group: LifeGroup, common: CommonShape | None, ranked: int) -> LifeGroup:
    clause = group_clause(group, common, ranked=ranked)
    return replace(group, sentence=f"{group.sentence} {clause}") if clause else group


def _law_plot(known: Known, asked: Asked):
    (curve,) = known.curves.values()
    spell_count = int(known.counts["spell_count"].sum())
    shown = drawn(curve, spell_count=spell_count, min_at_risk=asked.settings.min_at_risk)
    return law_plot(shown.curve, known.fit_counts, asked)


def _laws(known: Known) -> dict[int, Laws]:
    found = {}
    for number, fit in known.lognormals.items():
        beside = comparison(known.fits[number], fit)
        found[number] = Laws(
            beside.because, beside.better, beside.aic_difference, beside.b10_ratio, beside.median_ratio,
            Lognormal(fit.because, fit.log_sd, fit.b10, fit.median, fit.log_likelihood),
        )  # fmt: skip
    return found


def _assumed(known: Known, borrowed: PooledLives, asked: Asked) -> dict[int, AssumedShape]:
    """Return lives under the shape of the setting, else the one the groups share, where there are few failures."""
    few = [number for number, fit in known.fits.items() if fit.failures < FEW_FAILURES]
    shape, shape_from = asked.settings.assumed_shape, "setting"
    if shape is None and len(known.fits) > 1:
        shape, shape_from = borrowed.shape.estimate, "pooled"
    if shape is None or not LEAST_SHAPE <= shape <= LARGEST_SHAPE:
        return {number: AssumedShape(Because.NO_SHAPE, None, False, 0, None, []) for number in few}
    counts = known.fit_counts[known.fit_counts["group_no"].isin(few)]
    fits = fixed_shape(counts, by=BY_GROUP, shape=shape, level=asked.level)
    return {fit.by[0]: _assumed_shape(fit, shape_from) for fit in fits}


def _assumed_shape(fit: FixedShapeFit, shape_from: str) -> AssumedShape:
    life, *others = (AssumedLife(one.shape, one.scale, one.b10, one.median) for one in (fit.life, *fit.others))
    return AssumedShape(None, shape_from, fit.is_one_sided, fit.between, life, others)


def _dating(known: Known, asked: Asked) -> dict[int, Dating]:
    """Return the two ways of dating, of the groups in which failures lie between two visits."""
    counts = known.fit_counts
    is_between = (counts["lower"] < counts["upper"]) & np.isfinite(counts["upper"])
    numbers = np.unique(counts.loc[is_between, "group_no"])
    found = dating(
        counts[counts["group_no"].isin(numbers)], by=BY_GROUP, level=asked.level, min_failures=asked.settings.min_failures,
        between=[known.fits[number] for number in numbers.tolist()],
    )  # fmt: skip
    return {
        one.by[0]: Dating(
            one.because, one.between_count, one.b10_ratio, one.median_ratio, one.shape_ratio, one.is_misleading
        )
        for one in found
    }  # fmt: skip


def _interval_curves(known: Known, dated: dict[int, Dating], *, level: float, is_rounded: bool) -> dict[int, IntervalCurve]:
    """Return Turnbull's curves where dating failures at the visit misleads, or no fit can tell."""
    asked_for = [number for number, one in dated.items() if one.is_misleading is not False]
    if len(asked_for) > (MOST_CURVES_ROUNDED if is_rounded else MOST_CURVES):
        refused = Estimate.refused(Because.TOO_LARGE)
        return dict.fromkeys(asked_for, IntervalCurve(Because.TOO_LARGE, None, [], refused, refused))
    rows = turnbull(known.counts[known.counts["group_no"].isin(asked_for)], by=BY_GROUP, level=level)
    return {number: _interval_curve(part) for number, part in rows.groupby("group_no")}


def _interval_curve(curve: pd.DataFrame) -> IntervalCurve:
    columns = curve[["from_at", "to_at", "surviving_share", "low", "high"]].to_numpy().tolist()
    points = [Interval(*row, at_risk) for row, at_risk in zip(columns, curve["at_risk"].tolist(), strict=True)]
    given_at = float(curve["given_at"].iloc[0])
    return IntervalCurve(None, given_at, points, quantile(curve, share=0.1), quantile(curve, share=0.5))


def _pooled(borrowed: PooledLives, *, level: float) -> dict[int, PooledLife]:
    """Return lives that borrow, with their ranks; a group alone has none to borrow from."""
    if len(borrowed.families) < 2:
        return {}
    draws = borrowed.draws()[1][:, :-1]
    placed = ranks(
        draws, level=level, estimates=[one.median for one in borrowed.families], sizes=[one.spells for one in borrowed.families]
    ).groups
    return {
        one.by[0]: PooledLife(borrowed.because, one.b10, one.median, Place(rank.rank, rank.low, rank.high, rank.best_chance))
        for one, rank in zip(borrowed.families, placed, strict=True)
    }


def _common_shape(borrowed: PooledLives) -> CommonShape | None:
    if len(borrowed.families) < 2:
        return None
    unseen, common = borrowed.unseen, borrowed.common
    return CommonShape(borrowed.because, borrowed.shape, common.is_plausible, common.p, unseen.b10, unseen.median)
