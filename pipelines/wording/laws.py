"""Lives under a law of wear, Weibull or lognormal, as sentences. Each function takes a part of the record."""

from __future__ import annotations

from pipelines.vocabulary import Because, Clock
from pipelines.wording.estimate import bound_words, interval_words, time_words, times_words
from pipelines.wording.verdict import counted, duration_words, level_words, limits_words, reason_words, share_words


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
    more = " and ".join(f"{interval_words(one)} by {name} law" for name, one in laws)
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
    beside = " or ".join(f"{bound_words(one.b10, clock)} at a shape of {one.shape:.2f}" for one in part.others)
    if part.is_one_sided:
        return (
            f"{head}, nine in ten hold at least {bound_words(part.life.b10, clock)} ({level_words(level)} one-sided; {beside})."
        )
    return f"{head}, one in ten fail by {time_words(part.life.b10, clock)}; {beside}."


def _against(ratio: float | None) -> str:
    if ratio is None:
        return "not compared with the Weibull"
    return "as by the Weibull" if abs(ratio - 1) < 0.005 else f"{times_words(ratio)} than by the Weibull"
