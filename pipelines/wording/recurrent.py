"""How often controllers fail, as sentences. Each function takes a part of the record and may return ""."""

from __future__ import annotations

from pipelines.vocabulary import Clock, TrendVerdict
from pipelines.wording.label import label
from pipelines.wording.verdict import counted, duration_words, level_words, limits_words, reason_words

_TREND = {
    TrendVerdict.GETTING_MORE_FREQUENT: "They come more often as a controller gets older",
    TrendVerdict.GETTING_RARER: "They come more rarely as a controller gets older",
    TrendVerdict.NO_TREND_SHOWN: "Whether they come more often with age or more rarely, this log does not show",
    TrendVerdict.TOO_FEW: "Too few failures to say whether they come more often with age",
}

_LAW = "a power law, which takes all controllers as alike and leans on their first failures,"
_OTHERWISE = {
    TrendVerdict.GETTING_MORE_FREQUENT: f"{_LAW} has them more often, so do not build on it",
    TrendVerdict.GETTING_RARER: f"{_LAW} has them more rarely, so the pace is not steady: do not build on it",
    TrendVerdict.NO_TREND_SHOWN: f"{_LAW} does not show it",
}


def mean_words(mean_cumulative, clock: Clock, level: float) -> str:
    """Say how many failures a controller has had on average, and whether they come more often with age."""
    one = mean_cumulative
    if one is None:
        return ""
    if one.because is not None:
        watched = f" from {counted(one.units, 'controller')} of known age" if one.units else ""
        head = f"How often a controller fails cannot be told{watched}: {reason_words(one.because)}."
        return f"{head} {trend_words(one.trend)}" if one.trend.because is None else head
    since = f", counted from {duration_words(one.counted_from, clock)} on" if one.counted_from else ""
    overall, by = one.overall, duration_words(one.drawn_to, clock)
    return (
        f"By {by} of age a controller has failed {count_words(overall.estimate)} times on average"
        f"{since} ({level_words(level)} interval {limits_words(overall.low, overall.high, count_words)}; "
        f"{counted(one.failures, 'failure')} of {counted(one.units, 'controller')} of known age). {trend_words(one.trend)}"
    )


def trend_words(trend) -> str:
    """Say whether failures come more often with age, and in the same breath where the power law tells otherwise.

    The verdict is by Laplace's test, which lets controllers differ in their rate; the power law takes all as alike, and
    leans on their first failures.
    """
    said, shape = _TREND[trend.verdict], trend.shape
    if trend.p_value is None:
        return f"{said}."
    chance = f"p {'under 0.001' if trend.p_value < 0.001 else f'= {trend.p_value:.3f}'}"
    if shape.low is None or shape.high is None:
        return f"{said} ({chance})."
    limits = f"{shape.estimate:.2f}, {limits_words(shape.low, shape.high, lambda one: f'{one:.2f}')}"
    by_law = (
        TrendVerdict.GETTING_MORE_FREQUENT if shape.low > 1
        else TrendVerdict.GETTING_RARER if shape.high < 1
        else TrendVerdict.NO_TREND_SHOWN
    )  # fmt: skip
    if by_law is trend.verdict:
        return f"{said} ({chance}; power-law shape {limits}; 1 is no trend)."
    return f"{said} ({chance}); {_OTHERWISE[by_law]} (shape {limits}; 1 is no trend)."


def difference_words(mean_difference, clock: Clock) -> str:
    """Say whether the controllers of one group fail more often than those of another."""
    one = mean_difference
    if one is None:
        return ""
    first, second = label(one.first), label(one.second)
    if one.because is not None:
        return f"Whether {second} fails more often than {first} cannot be told: {reason_words(one.because)}."
    overall, by = one.overall, duration_words(one.compared_at, clock)
    if one.is_shown:
        more = overall.estimate > 0
        ends = sorted(abs(limit) for limit in (overall.low, overall.high))
        return (
            f"By {by} of age a controller of {second} has had {count_words(abs(overall.estimate))} failures "
            f"{'more' if more else 'fewer'} than one of {first} ({limits_words(*ends, count_words)})."
        )
    return (
        f"By {by} of age no difference between {first} and {second} is shown: failures per controller differ by "
        f"{signed_words(overall.estimate)} ({limits_words(overall.low, overall.high, signed_words)})."
    )


def count_words(count: float) -> str:
    """Return '0.34', '1.7' or '12': a mean count with as many digits as it bears, and never 0 for one that is not."""
    if 0 < count < 0.005:
        return f"{count:.1g}"
    return f"{count:.0f}" if count >= 10 else f"{count:.1f}" if count >= 1 else f"{count:.2f}"


def signed_words(count: float) -> str:
    """Return '+0.34' or '−1.7'."""
    return f"{'−' if count < 0 else '+'}{count_words(abs(count))}"
