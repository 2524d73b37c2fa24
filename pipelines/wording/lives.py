"""The heavier estimates of lives as sentences. Each function takes a part of the answer record, as detail.py names it."""

from __future__ import annotations

from pipelines.estimates.dating import MISLEADING_SHARE
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, Clock
from pipelines.wording.label import label
from pipelines.wording.verdict import (
    SPACE,
    counted,
    duration_words,
    few_sites_words,
    level_words,
    limits_words,
    reason_words,
    share_words,
    sites_words,
    value_words,
)

#: A B10 that another law moves by less than this share is not worth a word in the verdict.
MOVES = 0.10
#: Limits by controller are worth a word from this design effect on.
SHARED = 1.2
#: Beyond a hundred years a limit is not a number that anybody can use.
LONGEST = {Clock.DAYS: 36_525.0, Clock.HOURS: 876_600.0}
#: Below this chance of shapes so far apart, one shape for all groups is in doubt, and so is what groups borrow.
DOUBTFUL = 0.05
#: The word of the record for failures without a mechanism.
NOT_RECORDED = "not_recorded"


def group_clause(group, common, *, ranked: int) -> str:
    """Return the one thing that matters most beside the verdict of a group, or nothing. ranked: groups with a rank."""
    laws, pooled = group.laws, group.pooled
    if laws is not None and laws.better == "lognormal" and laws.b10_ratio is not None and abs(laws.b10_ratio - 1) > MOVES:
        return f"A lognormal law fits clearly better than a Weibull, and puts one in ten {_times(laws.b10_ratio)}."
    if pooled is not None and pooled.place.rank is not None and common is not None and not is_doubtful(common):
        return f"Judged with the other groups: {place_words(pooled.place, ranked)}."
    return ""


def group_sentences(group, common, clock: Clock, level: float, *, ranked: int) -> list[str]:
    """Return what the heavier parts of a group say, those that it has.

    common: the answer's common shape, or None; ranked: groups of the answer with a rank.
    """
    failures = group.counts["failures"]
    parts = (
        (group.laws, lambda one: laws_sentence(one, clock)),
        (group.assumed_shape, lambda one: assumed_sentence(one, clock, level, failures)),
        (group.dating, dating_sentence),
        (group.interval_curve, lambda one: interval_sentence(one, clock, level)),
        (group.by_mechanism, mechanisms_sentence),
        (group.pooled, lambda one: pooled_sentence(one, clock, level, ranked=ranked, doubt=_doubt(group, common))),
        (group.by_controller, lambda one: controllers_sentence(one, clock, level)),
        (group.by_controller and group.by_controller.weibull, lambda one: cluster_fit_sentence(one, "controller", clock)),
        (group.by_site, lambda one: sites_sentence(one, clock)),
        (group.frailty, lambda one: frailty_sentence(one, level)),
    )
    return [say(part) for part, say in parts if part]


def ranked_count(groups) -> int:
    """Return how many groups have a rank."""
    return sum(one.pooled is not None and one.pooled.place.rank is not None for one in groups)


def answer_sentences(answer) -> list[str]:
    """Return what the heavier parts of the whole answer say, those that it has."""
    parts = (
        (answer.common_shape, lambda one: common_shape_sentence(one, Clock(answer.clock), answer.level)),
        (answer.mechanism_tests, lambda one: mechanism_tests_sentence(one, answer.level)),
        (answer.clock_question, lambda one: clock_sentence(one, answer.level)),
    )
    groups = [one for one in answer.groups if hasattr(one, "laws")]  # those of lives
    said = [dated_sentence(groups), pooled_doubt_sentence(groups)]
    return [*(say(part) for part, say in parts if part), *(one for one in said if one)]


def dated_sentence(groups) -> str:
    """Say of several groups at once what dating failures at the visit that found them would do; nothing of a single one."""
    misled = [one.dating for one in groups if one.dating is not None and one.dating.is_misleading]
    if len(groups) < 2 or not misled:
        return ""
    most = max(misled, key=lambda one: max(abs(ratio - 1) for _, ratio in _off(one)))
    return (
        f"Dated at the visit that found them, failures would mislead in {len(misled):,} of {counted(len(groups), 'group')}, "
        f"at most by {_moves(most)}."
    )


def pooled_doubt_sentence(groups) -> str:
    """Name the groups that do not wear by the law under which groups borrow from each other."""
    other = [label(one.by) for one in groups if one.pooled is not None and _is_lognormal(one.laws)]
    if not other:
        return ""
    named = f"{', '.join(other[:8])}{' and others' if len(other) > 8 else ''}"
    return f"What groups borrow is by Weibull laws, and a lognormal fits clearly better for {named}: prefer their own curves."


def is_doubtful(common) -> bool:
    """Tell whether the test of one shape for all groups speaks against it."""
    return common.is_plausible is False or (common.p_value is not None and common.p_value < DOUBTFUL)


def _is_lognormal(laws) -> bool:
    return laws is not None and laws.better == "lognormal"


def _doubt(group, common) -> str:
    if common is not None and is_doubtful(common):
        return " Read it with care: the groups hardly share one shape, which this takes for granted."
    if _is_lognormal(group.laws):
        return " Read it with care: it takes a Weibull law, and a lognormal fits clearly better here."
    return ""


def surviving_sentence(part, clock: Clock, *, is_after_clean: bool = False) -> str:
    """Say how many are still good at the age that is set, by the curve and by both laws."""
    age = f"{duration_words(part.age, clock)}{' after the clean' if is_after_clean else ''}"
    named = (("a Weibull", part.weibull), ("a lognormal", part.lognormal))
    laws = [(name, one) for name, one in named if one.estimate is not None]
    if part.curve.estimate is not None:
        more = " and ".join(f"{share_words(one.estimate)} by {name} law" for name, one in laws)
        return (
            f"At {age} {share_words(part.curve.estimate)} are still good "
            f"({limits_words(part.curve.low, part.curve.high, share_words)}), {part.at_risk:,} still watched then"
            f"{f'; {more}' if more else ''}."
        )
    more = " and ".join(f"{_share(one)} by {name} law" for name, one in laws)
    said = f"; it would be {more}" if more else ""
    return f"How many are still good at {age} cannot be told: {reason_words(part.curve.because or Because.NOT_REACHED)}{said}."


def laws_sentence(laws, clock: Clock) -> str:
    """Say which of the two laws of wear fits better, and what it matters."""
    if laws.because is not None:
        return f"Weibull or lognormal cannot be compared: {reason_words(laws.because)}."
    if laws.better == "too_close":
        head = "A Weibull and a lognormal law fit about equally well"
    else:
        better, other = ("Weibull", "lognormal") if laws.better == "weibull" else ("lognormal", "Weibull")
        head = f"A {better} law fits clearly better than a {other}"
    b10, median = laws.lognormal.b10.estimate, laws.lognormal.median.estimate
    if b10 is None or median is None:
        return f"{head}."
    return (
        f"{head}. By the lognormal one in ten fail by {duration_words(b10, clock)} ({_against(laws.b10_ratio)}) "
        f"and half by {duration_words(median, clock)} ({_against(laws.median_ratio)})."
    )


def assumed_sentence(part, clock: Clock, level: float, failures: int) -> str:
    """Say what few failures, or none, still tell if the shape is as assumed."""
    if part.life is None:
        return f"Too few failures to go without an assumed shape: {reason_words(part.because or Because.NO_SHAPE)}."
    source = "which the groups share" if part.shape_from == "pooled" else "as set"
    head = f"With {counted(failures, 'failure')} and a Weibull shape of {part.life.shape:.2f} assumed ({source})"
    beside = " or ".join(f"{_bound(one.b10, clock)} at a shape of {one.shape:.2f}" for one in part.others)
    if part.is_one_sided:
        return f"{head}, nine in ten hold at least {_bound(part.life.b10, clock)} ({level_words(level)} one-sided; {beside})."
    return f"{head}, one in ten fail by {_time(part.life.b10, clock)}; {beside}."


def dating_sentence(part) -> str:
    """Say what dating failures at the visit that found them would do."""
    between = f"{counted(part.between_count, 'failure')} lie between two visits"
    if part.between_count == 1:
        between = "1 failure lies between two visits"
    if part.because is not None:
        return f"{between}; what dating them at the visit would do cannot be told: {reason_words(part.because)}."
    if not part.is_misleading:
        return f"{between}; dating them at the visit that found them would change lives by no more than 5{SPACE}%."
    return f"{between}. Dated at the visit that found them, they would mislead: {_moves(part)}."


def _moves(part) -> str:
    return ", ".join(f"{what} {_times(one)}" for what, one in _off(part))


def _off(part) -> list[tuple[str, float]]:
    """Return the ages that are off by enough to mislead."""
    moves = (("one in ten", part.b10_ratio), ("half", part.median_ratio))
    return [(what, one) for what, one in moves if one is not None and abs(one - 1) > MISLEADING_SHARE]


def interval_sentence(part, clock: Clock, level: float) -> str:
    """Say what is sure where failures lie between two visits."""
    if part.because is not None:
        return f"The curve for failures between visits is not given: {reason_words(part.because)}."
    b10, median = part.b10, part.median
    given = f", of those that got to {duration_words(part.given_at, clock)}" if part.given_at else ""
    if b10.estimate is None:
        return f"Taking failures only as between their visits, fewer than one in ten surely failed{given}."
    half = "the median is not reached" if median.estimate is None else f"half by {_time(median, clock)}"
    return f"Taking failures only as between their visits, one in ten surely failed by {_time(b10, clock)}, {half}{given}."


def mechanisms_sentence(parts) -> str:
    """Say which fault ends lives most often, out of how many failures."""
    total = sum(one.failures for one in parts)
    if [one.mechanism for one in parts] == [NOT_RECORDED]:
        return f"What was at fault is recorded of none of the {counted(total, 'failure')}."
    told = [
        f"{value_words('mechanism', None if one.mechanism == NOT_RECORDED else one.mechanism)} {one.failures:,}" for one in parts
    ]
    return f"Of {counted(total, 'failure')}: {', '.join(told)}."


def mechanism_tests_sentence(parts, level: float) -> str:
    """Say which faults come at another pace in some groups, allowing for how many were tested."""
    told = [one for one in parts if one.p_value is not None]
    if not told:
        reasons = {reason_words(one.because) for one in parts if one.because is not None}
        return f"Whether a fault comes sooner in some groups cannot be told: {'; '.join(sorted(reasons))}."
    differing = [
        "those not recorded" if one.mechanism == NOT_RECORDED else value_words("mechanism", one.mechanism)
        for one in told if one.p_value < (1 - level) / len(told)
    ]  # fmt: skip
    late = f" ({told[0].late:,} watched only from a later age are left out)" if told[0].late else ""
    if not differing:
        return f"No fault is shown to come at another pace in some groups, of {len(told)} tested{late}."
    return f"Between the groups these faults come at a different pace, beyond chance: {', '.join(differing)}{late}."


def place_words(place, ranked: int) -> str:
    """Return 'between 2nd and 6th of 12 by length of life'; the longest is first."""
    first, last = _ordinal(place.low), _ordinal(place.high)
    where = first if first == last else f"between {first} and {last}"
    return f"{where} of {ranked} by length of life"


def pooled_sentence(part, clock: Clock, level: float, *, ranked: int, doubt: str = "") -> str:
    """Say what a group's lives are once it borrows from the others, its place among those ranked, and a doubt about it."""
    if part.because is not None:
        return f"What the groups could borrow from each other cannot be told: {reason_words(part.because)}."
    place = f"; {place_words(part.place, ranked)}" if part.place.rank is not None else ""
    return (
        f"Judged together with the other groups, one in ten fail by {_time(part.b10, clock)}, half by "
        f"{_time(part.median, clock)}{place}.{doubt}"
    )


def common_shape_sentence(part, clock: Clock, level: float) -> str:
    """Say whether one law of wear serves all groups, and what a group never seen would do."""
    if part.because is not None:
        return f"Whether the groups wear alike cannot be told: {reason_words(part.because)}."
    shape = f"{part.shape.estimate:.2f} ({limits_words(part.shape.low, part.shape.high, lambda one: f'{one:.2f}')})"
    if part.is_plausible is None:
        head = f"The groups are taken to share one Weibull shape, {shape}; too few of them have failures enough to test it."
    elif part.is_plausible and is_doubtful(part):
        head = f"One Weibull shape for all, {shape}, is in doubt (p = {part.p_value:.2f}): read with care what groups borrow."
    elif part.is_plausible:
        head = f"One Weibull shape for all groups, {shape}, is plausible."
    else:
        head = f"The groups wear in different ways: one Weibull shape for all, {shape}, is not plausible; prefer their own fits."
    return f"{head} In a group never seen half would fail by {_time(part.unseen_median, clock)}."


def controllers_sentence(part, clock: Clock, level: float) -> str:
    """Say whether the sticks of a controller share their fate, and the limits that allow for it."""
    if part.because is not None:
        return f"{counted(part.controllers, 'controller')}: {reason_words(part.because)}."
    if part.design_effect is None:
        return f"{counted(part.controllers, 'controller')}: whether their sticks share a fate cannot be told."
    read = part.median if part.median is not None and part.median.estimate is not None else part.b10
    what = "half" if read is part.median else "one in ten"
    limits = f"{what} by {_time(read, clock)}" if read is not None else ""
    if part.design_effect > SHARED:
        return (
            f"The sticks of one controller share their fate (limits {part.design_effect**0.5:.1f} times as wide, from "
            f"{counted(part.controllers, 'controller')}): {limits}."
        )
    return f"Counted by controller ({counted(part.controllers, 'controller')}) the limits stay about as wide: {limits}."


def sites_sentence(part, clock: Clock) -> str:
    """Say how sure lives are if sites differ, and what few sites cannot tell."""
    if part.because is not None:
        return f"Limits by site are not given ({sites_words(part.sites)}): {reason_words(part.because)}."
    read = part.median if part.median.estimate is not None else part.b10
    what = "half" if read is part.median else "one in ten"
    fit = f" {cluster_fit_sentence(part.weibull, 'site', clock)}" if part.weibull and part.weibull.because is None else ""
    return f"Counted by site ({sites_words(part.sites)}), {what} by {_time(read, clock)}.{fit}{few_sites_words(part.sites)}"


def cluster_fit_sentence(part, cluster: str, clock: Clock) -> str:
    """Say what the limits of a Weibull fit are by cluster (controller or site), and what sharing one does to them."""
    if part.because is not None:
        return f"A Weibull law with limits by {cluster} is not given: {reason_words(part.because)}."
    shape = f"{part.shape.estimate:.2f} ({limits_words(part.shape.low, part.shape.high, lambda one: f'{one:.2f}')})"
    sharing = ""
    if part.width_ratio is not None:
        ratio = f"{part.width_ratio:.1f}"
        wide = "as wide" if ratio == "1.0" else f"{ratio} times as wide"
        sharing = f"; limits about {wide} as if sticks were independent"
    return (
        f"A Weibull law with limits by {cluster}: shape {shape}, one in ten by {_time(part.b10, clock)}, half by "
        f"{_time(part.median, clock)}{sharing}."
    )


def frailty_sentence(part, level: float) -> str:
    """Say how much controllers differ, and what that hides."""
    if part.because is Because.FIT_FAILED:
        return "How much controllers differ cannot be told: no fit of a factor that their sticks share settles."
    if part.because is not None:
        return f"How much controllers differ is not given: {reason_words(part.because)}."
    if not part.variance.low:
        most = "" if part.variance.high is None else f", {level_words(level)} interval at most {part.variance.high:.2f}"
        return f"Controllers are not shown to differ from each other (variance {part.variance.estimate:.2f}{most})."
    limits = limits_words(part.variance.low, part.variance.high, lambda one: f"{one:.2f}")
    shape, ignoring = part.shape.estimate, part.shape_ignoring.estimate
    hidden = (
        f"; allowing for it lifts the Weibull shape from {ignoring:.2f} to {shape:.2f} (failures put at the middle of their "
        "interval)"
        if shape and ignoring and shape > ignoring else ""
    )  # fmt: skip
    return (
        f"Some controllers wear their sticks faster than others (variance {part.variance.estimate:.2f}, {level_words(level)} "
        f"interval {limits}){hidden}."
    )


_CLOCK = {
    "hours": "Sticks age by play hours: twice the hours a day, about half the days",
    "days": "Sticks age by days, however much they are played",
    "between": "Sticks age partly by play hours, partly by days: compare them at like use",
    "neither": "Life goes neither by play hours nor by days alone: compare sticks at like use",
}


def clock_sentence(part, level: float) -> str:
    """Say whether sticks age by hours or by days."""
    if part.because is Because.NO_SPELLS:
        return "Hours or days? That cannot be told: of nothing that was watched are the play hours a day known."
    if part.coefficient.estimate is None:
        return f"Hours or days? That cannot be told: {reason_words(part.because or Because.NO_SPELLS)}."
    limits = limits_words(part.coefficient.low, part.coefficient.high, lambda one: f"{one:.2f}".replace("-", "−"))
    estimate = f"{part.coefficient.estimate:.2f}".replace("-", "−")
    basis = (
        f"{counted(part.failures, 'failure')}; life in days goes with hours a day to the power {estimate}, {level_words(level)} "
        f"interval {limits}; −1 is hours, 0 days"
    )
    if part.because is not None:
        return f"Hours or days? That cannot be told: {reason_words(part.because)} ({basis})."
    return f"{_CLOCK[part.verdict]} ({basis})."


def _time(one: Estimate, clock: Clock) -> str:
    def say(value: float) -> str:
        return duration_words(value, clock) if value <= LONGEST[clock] else "over 100 years"

    if one.estimate is None:
        return f"an age not told ({reason_words(one.because or Because.NOT_REACHED)})"
    return f"{say(one.estimate)} ({limits_words(one.low, one.high, say)})"


def _share(one: Estimate) -> str:
    return f"{share_words(one.estimate)} ({limits_words(one.low, one.high, share_words)})"


def _bound(one: Estimate, clock: Clock) -> str:
    value = one.low if one.estimate is None else one.estimate
    return "no age" if value is None else duration_words(value, clock)


def _times(ratio: float) -> str:
    change = abs(ratio - 1)
    if change >= 1:
        return f"{ratio:.1f} times as late"
    return f"{share_words(change)} {'later' if ratio > 1 else 'sooner'}"


def _against(ratio: float | None) -> str:
    if ratio is None:
        return "not compared with the Weibull"
    return "as by the Weibull" if abs(ratio - 1) < 0.005 else f"{_times(ratio)} than by the Weibull"


def _ordinal(number: int) -> str:
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"
