"""The heavier estimates as flat tables, one function a table: what the screens show under each picture, and export.

Columns are the grouping columns, then counts, then estimates with `_low` and `_high`; times in the clock's unit. A group
without the estimate has a row with its `because`; a group that was not asked for it has none.
"""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from pipelines.answers.record import Answer
from pipelines.answers.table import named

Row = dict[str, object]


def mechanisms(answer: Answer) -> pd.DataFrame:
    """Return for each group and mechanism how many it ended, and the share by the last age that is drawn."""
    return _table(answer, "by_mechanism", lambda group, part: [_mechanism(one) for one in part])


def mechanism_tests(answer: Answer) -> pd.DataFrame:
    """Return for each mechanism whether the groups differ in it."""
    return pd.DataFrame([
        {"failed_by": one.mechanism, "failure_count": one.failures, "late_count": one.late, "statistic": one.statistic,
         "degrees_of_freedom": one.degrees_of_freedom, "p_value": one.p_value, "because": one.because}
        for one in answer.mechanism_tests or ()
    ])  # fmt: skip


def pooled_lives(answer: Answer) -> pd.DataFrame:
    """Return for each group its own lives, those that borrow from the others, and its rank."""
    return _table(answer, "pooled", lambda group, part: [{
        "failure_count": group.counts["failures"], "spell_count": group.counts["spells"],
        **_ranked(part.place), **named("pooled_b10", part.b10), **named("pooled_median", part.median),
        **named("b10", group.curve_quantiles["b10"]), **named("median", group.curve_quantiles["median"]),
        "because": part.because,
    }])  # fmt: skip


def assumed_lives(answer: Answer) -> pd.DataFrame:
    """Return for each group with few failures its lives under the assumed shape, and under 0.5 less and more."""
    return _table(answer, "assumed_shape", lambda group, part: [
        {"failure_count": group.counts["failures"], "spell_count": group.counts["spells"], "assumed_shape": life and life.shape,
         **named("b10", life.b10 if life else None), **named("median", life.median if life else None),
         "because": part.because}
        for life in ([part.life, *part.others] if part.life else [None])
    ])  # fmt: skip


def laws(answer: Answer) -> pd.DataFrame:
    """Return for each group both laws side by side."""
    return _table(answer, "laws", lambda group, part: [{
        "failure_count": group.counts["failures"], "better": part.better, "aic_difference": part.aic_difference,
        **named("weibull_b10", group.weibull.b10), **named("lognormal_b10", part.lognormal.b10),
        **named("weibull_median", group.weibull.median), **named("lognormal_median", part.lognormal.median),
        **named("weibull_shape", group.weibull.shape), **named("lognormal_log_sd", part.lognormal.log_sd),
        "because": part.because,
    }])  # fmt: skip


def dating(answer: Answer) -> pd.DataFrame:
    """Return for each group with failures between visits what dating them at the visit would do."""
    return _table(answer, "dating", lambda group, part: [{
        "failure_count": group.counts["failures"], "between_count": part.between_count, "b10_ratio": part.b10_ratio,
        "median_ratio": part.median_ratio, "shape_ratio": part.shape_ratio, "because": part.because,
    }])  # fmt: skip


def intervals(answer: Answer) -> pd.DataFrame:
    """Return every stretch of the interval curves."""
    return _table(answer, "interval_curve", lambda group, part: [vars(point) for point in part.points])


def controllers(answer: Answer) -> pd.DataFrame:
    """Return for each group the limits that do not take the sticks of a controller for independent, and the frailty."""
    return _table(answer, "by_controller", lambda group, part: [{
        "controller_count": part.controllers, **_clustered(part), **_frailty(getattr(group, "frailty", None)),
        "because": part.because,
    }])  # fmt: skip


def sites(answer: Answer) -> pd.DataFrame:
    """Return for each group the limits that do not take what happens at one site for independent."""
    return _table(answer, "by_site", lambda group, part: [
        {"site_count": part.sites, **_clustered(part), "because": part.because}
    ])  # fmt: skip


def survivors(answer: Answer) -> pd.DataFrame:
    """Return for each group the share still good at the age that is set, by the curve and by both laws."""
    return _table(answer, "surviving_at", lambda group, part: [{
        "failure_count": group.counts["failures"], "spell_count": group.counts["spells"], "at": part.age,
        "at_risk": part.at_risk, **named("surviving_share", part.curve), **named("weibull_share", part.weibull),
        **named("lognormal_share", part.lognormal), "because": part.curve.because,
    }])  # fmt: skip


def mean_counts(answer: Answer) -> pd.DataFrame:
    """Return for each group the mean failures per controller, and the trend."""
    return _table(answer, "mean_cumulative", lambda group, part: [{
        "controller_count": part.units, "failure_count": part.failures, "drawn_to": part.drawn_to,
        **named("mean_count", part.overall), "trend": part.trend.verdict, "p_value": part.trend.p_value,
        **named("trend_shape", part.trend.shape), "because": part.because,
    }])  # fmt: skip


def pooled_shares(answer: Answer) -> pd.DataFrame:
    """Return for each group its own same-day share, the shares that borrow from the others, and its rank."""
    return _table(answer, "pooled", lambda group, part: [{
        "passed_count": group.same_day.k, "attempt_count": group.same_day.n, **_ranked(part.place),
        **named("pooled_same_day_share", part.same_day), **named("pooled_durable_share", part.durable),
        "same_day_share": group.same_day.share, "same_day_share_low": group.same_day.low,
        "same_day_share_high": group.same_day.high, "because": part.because,
    }])  # fmt: skip


def standardised(answer: Answer) -> pd.DataFrame:
    """Return for each group the same-day share had all its failures been cleaned."""
    return _table(answer, "standardised", lambda group, part: [{
        "tried_count": part.tried, "failure_count": part.failures, "tried_share": part.tried_share,
        "same_day_share": group.same_day.share, **named("standardised_share", part.standardised),
        **named("lowest_share", part.lowest), "borrowed_share": part.borrowed_share, "because": part.because,
    }])  # fmt: skip


def _table(answer: Answer, name: str, rows: Callable[[object, object], list[Row]]) -> pd.DataFrame:
    """Return the rows of every group that has the part `name`, its grouping columns first."""
    return pd.DataFrame([
        {**group.by, **row}
        for group in answer.groups
        for part in [getattr(group, name)]
        if part is not None
        for row in rows(group, part)
    ])  # fmt: skip


def _mechanism(one) -> Row:
    last = next((point for point in reversed(one.curve) if point.is_drawn), None)
    at = {name: last and getattr(last, name) for name in ("at", "failed_share", "low", "high")}
    return {
        "failed_by": one.mechanism, "failure_count": one.failures, "drawn_to": at["at"], "failed_share": at["failed_share"],
        "failed_share_low": at["low"], "failed_share_high": at["high"],
    }  # fmt: skip


def _ranked(place) -> Row:
    return {"rank": place.rank, "rank_low": place.low, "rank_high": place.high, "best_chance": place.best_chance}


def _clustered(part) -> Row:
    """Return the limits by cluster: the share of cleans, or lives by the curve and by the Weibull law."""
    if part.share is not None:
        return {"design_effect": part.design_effect, **named("same_day_share", part.share)}
    fit = part.weibull
    return {
        "design_effect": part.design_effect, **named("b10", part.b10), **named("median", part.median),
        **(named("weibull_shape", fit.shape) | named("weibull_b10", fit.b10) | named("weibull_median", fit.median)
           | {"width_ratio": fit.width_ratio} if fit else {}),
    }  # fmt: skip


def _frailty(frailty) -> Row:
    if frailty is None:
        return {}
    return {**named("variance_between", frailty.variance), **named("shape", frailty.shape),
            **named("shape_ignoring", frailty.shape_ignoring), "frailty_because": frailty.because}  # fmt: skip
