"""What more there is to lives, under time to failure and recurrence: sentence, picture, table and export of each part."""

from __future__ import annotations

import streamlit as st

from dashboard import source
from dashboard.parts import text
from dashboard.parts.detail_grid import detail_grid
from dashboard.parts.filters import Chosen
from dashboard.parts.picture import of_one, one_of, picture, told
from pipelines.answers.laws_record import LawPlot
from pipelines.answers.record import Answer, LifeGroup
from pipelines.charts.beside import controller_figure, has_rows, pooled_figure, site_figure, survivor_figure, undrawn
from pipelines.charts.clock import clock_figure
from pipelines.charts.frame import nice_ticks
from pipelines.charts.interval import interval_figure
from pipelines.charts.law_plot import law_figure
from pipelines.charts.mean_count import mean_count_figure
from pipelines.charts.mean_count import shown as mean_curves
from pipelines.charts.mechanisms import mechanism_figure
from pipelines.vocabulary import Clock, Question
from pipelines.wording import realism, recurrent
from pipelines.wording.between import dating_sentence, interval_sentence
from pipelines.wording.clock import clock_sentence
from pipelines.wording.clusters import cluster_fit_sentence, controllers_sentence, frailty_sentence, sites_sentence
from pipelines.wording.label import label
from pipelines.wording.laws import assumed_sentence, laws_sentence, surviving_sentence
from pipelines.wording.mechanisms import mechanism_tests_sentence, mechanisms_sentence
from pipelines.wording.pooling import common_shape_sentence, pooled_doubt_sentence


def survivors(answer: Answer, chosen: Chosen) -> None:
    """Show how many are still good at an age that the reader gives; the brief answer will do."""
    clock = Clock(answer.clock)
    usual = answer.settings["age"] or _middle_age(answer)
    age = st.number_input(
        f"Age, {'play hours' if clock is Clock.HOURS else 'days'}", value=None, min_value=1.0, max_value=1e6, step=50.0,
        format="%.0f", placeholder=f"{usual:,.0f}", key="age", bind="query-params", persist_state="session",
    )  # fmt: skip
    at_age = source.answer(answer.question, by=chosen.by, clock=chosen.clock, where=chosen.where, age=age or usual)
    group = one_of(at_age.groups, key="still_good_of")
    is_after_clean = answer.question == Question.RECURRENCE
    said = surviving_sentence(group.surviving_at, clock, is_after_clean=is_after_clean)
    text.paragraph(said)
    if any(one.surviving_at.curve.estimate is not None for one in at_age.groups):
        picture(survivor_figure(at_age), key="still_good_figure", alt=f"Share still good at an age. {said}")
    columns = ("failure_count", "spell_count", "at_risk", "surviving_share", "weibull_share", "lognormal_share", "because")
    detail_grid(at_age, "survivors", columns)


def _middle_age(answer: Answer) -> float:
    """Return a round age half-way along the longest curve that is drawn, for a reader who gives none."""
    drawn = [point.at for group in answer.groups for point in group.curve if point.is_drawn]
    ticks = nice_ticks(max(drawn or [point.at for group in answer.groups for point in group.curve], default=0.0))
    return max(ticks[len(ticks) // 2], 1.0)


@of_one("by_mechanism", key="mechanisms_of", otherwise="No failure was recorded, so no fault can be named.")
def mechanisms(answer: Answer, group: LifeGroup, chosen: Chosen) -> None:
    """Show which fault ended how many by what age."""
    said = mechanisms_sentence(group.by_mechanism)
    text.paragraph(said)
    picture(mechanism_figure(answer, group), key="mechanisms_figure", alt=f"Share drifted by each fault. {said}")
    detail_grid(answer, "mechanisms", ("failed_by", "failure_count", "failed_share", "drawn_to"), only=group)
    if answer.mechanism_tests:
        text.paragraph(mechanism_tests_sentence(answer.mechanism_tests, answer.level))
    text.quiet(realism.MECHANISMS)


def pooled(answer: Answer, chosen: Chosen) -> None:
    """Show what each group shows once it borrows from the others, and what few failures tell."""
    if answer.common_shape is None:
        text.paragraph("There is only one group; split by family, say, and each borrows from the others.")
    else:
        text.paragraph(common_shape_sentence(answer.common_shape, Clock(answer.clock)))
        if doubt := pooled_doubt_sentence(answer.groups):
            text.paragraph(doubt)
    if has_rows(answer, "pooled"):
        picture(pooled_figure(answer), key="together_figure", alt=f"Groups judged together. {answer.sentence}")
        if undrawn(answer):
            text.quiet(f"The table below holds {undrawn(answer):,} more.")
        columns = ("failure_count", "spell_count", "rank", "pooled_b10", "pooled_median", "best_chance")
        detail_grid(answer, "pooled_lives", columns)
    few = told(answer.groups, "assumed_shape")
    if few:
        text.paragraph("Groups with few failures, or none, under an assumed shape:")
        clock = Clock(answer.clock)
        text.listed(
            (label(group.by), assumed_sentence(group.assumed_shape, clock, answer.level, group.counts["failures"]))
            for group in few
        )
        detail_grid(answer, "assumed_lives", ("failure_count", "spell_count", "assumed_shape", "b10", "median", "because"))


@of_one("laws", key="laws_of", otherwise="Nothing of known age was watched, so no law can be fitted.")
def laws(answer: Answer, group: LifeGroup, chosen: Chosen) -> None:
    """Show how the failures of a group lie along two laws of wear."""
    said = laws_sentence(group.laws, Clock(answer.clock))
    text.paragraph(said)
    plot = _plot_of(answer, group, chosen)
    if plot is not None and plot.points:
        picture(law_figure(answer, plot), key="laws_figure", alt=f"The failures along both laws. {said}")
        text.quiet("The law whose line the dots follow from end to end is the better one; the area is where the line may lie.")
    detail_grid(answer, "laws", ("failure_count", "better", "weibull_b10", "lognormal_b10", "weibull_median", "lognormal_median",
                            "aic_difference", "because"))  # fmt: skip


def _plot_of(answer: Answer, group: LifeGroup, chosen: Chosen) -> LawPlot | None:
    """Return the plot of one group; where there are several it is asked for alone. None where a filter cannot name it."""
    if len(answer.groups) == 1:
        return group.law_plot
    if None in group.by.values():
        return None
    where = {**chosen.where, **{column: [str(value)] for column, value in group.by.items()}}
    (alone,) = source.answer(answer.question, clock=answer.clock, where=where, is_brief=False).groups
    return alone.law_plot


@of_one("dating", key="between_of", otherwise="No failure is dated only to between two visits, so there is nothing to mind here.")
def between(answer: Answer, group: LifeGroup, chosen: Chosen) -> None:
    """Show what it matters that failures are known only to lie between two visits."""
    said = dating_sentence(group.dating)
    text.paragraph(said)
    curve = group.interval_curve
    if curve is not None:
        text.paragraph(interval_sentence(curve, Clock(answer.clock)))
    if curve is not None and curve.points:
        picture(interval_figure(answer, group), key="between_figure", alt=f"Where failures lie between two visits. {said}")
    detail_grid(answer, "dating", ("failure_count", "between_count", "b10_ratio", "median_ratio", "shape_ratio", "because"),
           more=("intervals",))  # fmt: skip


@of_one("by_controller", key="controllers_of", otherwise="Nothing of known age was watched, so controllers cannot be compared.")
def controllers(answer: Answer, group: LifeGroup, chosen: Chosen) -> None:
    """Show whether the sticks of a controller share their fate."""
    said = controllers_sentence(group.by_controller, Clock(answer.clock))
    text.paragraph(said)
    if group.by_controller.weibull is not None:
        text.paragraph(cluster_fit_sentence(group.by_controller.weibull, "controller", Clock(answer.clock)))
    if group.frailty is not None:
        text.paragraph(frailty_sentence(group.frailty, answer.level))
    if has_rows(answer, "by_controller"):
        picture(controller_figure(answer), key="controllers_figure", alt=f"Limits by controller beside limits by stick. {said}")
    detail_grid(answer, "controllers", ("controller_count", "design_effect", "b10", "median", "weibull_shape", "weibull_b10",
                                   "weibull_median", "width_ratio", "variance_between", "because"))  # fmt: skip


@of_one(
    "by_site",
    key="sites_of",
    otherwise="Split by site the groups are sites; split by something else to see limits that allow for them.",
)
def sites(answer: Answer, group: LifeGroup, chosen: Chosen) -> None:
    """Show how sure lives are if sites differ."""
    said = sites_sentence(group.by_site, Clock(answer.clock))
    text.paragraph(said)
    if has_rows(answer, "by_site"):
        picture(site_figure(answer), key="sites_figure", alt=f"Limits by site beside limits by stick. {said}")
    detail_grid(answer, "sites", ("site_count", "design_effect", "b10", "median", "weibull_shape", "weibull_b10",
                             "weibull_median", "width_ratio", "because"))  # fmt: skip


def clock(answer: Answer, chosen: Chosen) -> None:
    """Show whether sticks age by hours or by days."""
    part = answer.clock_question
    if part is None:
        text.paragraph("Nothing of known age was watched, so hours and days cannot be compared.")
        return
    said = clock_sentence(part, answer.level)
    text.paragraph(said)
    if part.coefficient.estimate is not None:
        picture(clock_figure(part), key="hours_or_days_figure", alt=f"Where life stands between hours and days. {said}")
        text.quiet(f"All groups together. The dot says by which clock life goes, the line how sure that is. {realism.CLOCK}")


@of_one(
    "mean_cumulative",
    key="how_often_of",
    otherwise="This is about whole controllers: split by family, usage or site only, or by nothing.",
)
def mean_counts(answer: Answer, group: LifeGroup, chosen: Chosen) -> None:
    """Show how many failures a controller has had by its age."""
    clock = Clock(answer.clock)
    said = recurrent.mean_words(group.mean_cumulative, clock, answer.level)
    text.paragraph(said)
    if answer.mean_difference is not None:
        text.paragraph(recurrent.difference_words(answer.mean_difference, clock))
    if mean_curves(answer):
        picture(mean_count_figure(answer), key="how_often_figure", alt=f"Failures per controller by its age. {said}")
    text.quiet(realism.TREND)
    detail_grid(
        answer, "mean_counts", ("controller_count", "failure_count", "mean_count", "drawn_to", "trend", "p_value", "because")
    )
