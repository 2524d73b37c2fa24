"""What kind of worse a supplier batch is, as sentences. Records are those of `answers.batch_pattern_record`."""

from __future__ import annotations

from collections.abc import Sequence

from pipelines.vocabulary import Because, Clock
from pipelines.wording.batches import ratio_words, span_words
from pipelines.wording.mechanisms import NOT_RECORDED
from pipelines.wording.verdict import counted, duration_words, level_words, limits_words, reason_words, share_words, value_words

#: More names than this are not named one by one.
_NAMED = 3
#: A shape whose limits lie under 1 is one of early failures.
_CONSTANT = 1.0
_COUNTS = {
    "modules": "modules of the batch", "controllers": "controllers with one", "failures": "of its modules failed",
    "compared_failures": "of these while others of their age were watched beside them",
    "rest_modules": "other modules in the same family, usage class and site", "rest_failures": "of these failed",
    "cells": "combinations of family, usage class and site with the batch",
    "alone": "modules of the batch in a combination without any other", "drawn": "of the other modules used, drawn at random",
}  # fmt: skip


def sentence(
    *, batch: str, reference: str | None, because: Because | None, kind: str, counts, ratio, pattern, early, curves, mechanisms,
    clock: Clock, level: float,
) -> str:  # fmt: skip
    """Say what kind of worse the batch is, on what that rests, and where its failures come from."""
    rest = f"batch {reference}" if reference else "the rest"
    if because is not None:
        return f"Batch {batch} cannot be held against {rest}: {_refused(because, reference)}."
    parts = [_head(batch, rest, kind, counts, ratio, pattern, clock, level), _shapes(pattern, level)]
    parts += [early.sentence, curves.sentence, mechanisms.sentence]
    return " ".join(part for part in parts if part)


def _refused(because: Because, reference: str | None) -> str:
    if reference and because is Because.NO_COMPARISON:
        return "the two share no family, usage class and site, so it cannot be told from these"
    return {
        Because.NO_DENOMINATOR: "only modules that came in are named, so nobody knows of how many",
        Because.ONE_BATCH: "no module of another batch was watched",
        Because.NO_COMPARISON: "no other module is of its family, usage class and site, so it cannot be told from these",
        Because.NO_FAILURES: "no module of either failed where both are watched",
        Because.NO_COMMON_AGE: "at no age are enough of both watched; too few to say",
    }.get(because, reason_words(because))


def _head(batch: str, rest: str, kind: str, counts, ratio, pattern, clock: Clock, level: float) -> str:
    span = f"({level_words(level)} interval {span_words(ratio)})"
    times = f"{ratio_words(ratio)} times as often as {rest}, whenever fitted {span}"
    seen = f"{counted(counts['compared_failures'], 'failure')} of {counted(counts['modules'], 'module')}"
    if kind == "crossing":
        return _crossing(batch, rest, pattern, clock)
    if kind in ("early", "late"):
        when = "mostly early" if kind == "early" else "ever more with age: it wears out sooner"
        return (
            f"Batch {batch} fails {when}: at {duration_words(pattern.early_at, clock)} {_at_age(pattern.early_ratio)} times as "
            f"often as {rest}, at {duration_words(pattern.late_at, clock)} {_at_age(pattern.late_ratio)} times."
        )
    if kind == "same_kind":
        return f"The same kind of failure, only more of it: batch {batch} fails {times}, at no age clearly more than at others."
    if kind == "worse":
        return f"Batch {batch} fails {times}; {seen} are too few to say of which kind."
    if kind == "better":
        return f"Batch {batch} fails less often than {rest}: {times}."
    if kind == "not_shown":
        return f"Batch {batch} is not shown to fail otherwise than {rest}: {times}."
    return f"Too few to say of which kind: {seen} of batch {batch}" + (f", {times}." if ratio.estimate is not None else ".")


def _at_age(ratio) -> str:
    return f"{ratio_words(ratio)} ({span_words(ratio)})"


def _crossing(batch: str, rest: str, pattern, clock: Clock) -> str:
    """Say where the curves cross: by share failed where that lies within what was watched, else by the failure rate."""
    before, after = ("better", "worse") if pattern.change.estimate > 0 else ("worse", "better")
    at = _age(pattern.rates_cross, clock)
    said = f"atch {batch} is {before} than {rest} until about {at} and {after} after, so one ratio does not serve."
    if pattern.curves_cross.estimate is not None:
        by = _age(pattern.curves_cross, clock)
        return f"The curves cross: b{said} As many of it as of {rest} have failed by about {by}."
    return (
        f"B{said} What it {'lost' if before == 'worse' else 'gained'} until then is not made up by the end of what was watched."
    )


def _age(one, clock: Clock) -> str:
    limits = limits_words(one.low, one.high, lambda value: duration_words(value, clock))
    return f"{duration_words(one.estimate, clock)} ({limits})"


def _shapes(pattern, level: float) -> str:
    batch, rest = pattern.batch_shape, pattern.rest_shape
    if batch.estimate is None or rest.estimate is None:
        return ""
    said = f"Its Weibull shape (over 1: fails more often with age) is {shape_words(batch)}, that of the rest {shape_words(rest)}"
    if batch.high is not None and batch.high < _CONSTANT:
        said += ": early failures, fewer as it ages"
    if pattern.change_p is None:
        return f"{said}."
    if pattern.change_p >= 1 - level:
        return f"{said}; held at equal ages they are not shown to differ."
    way = "lower" if pattern.change.estimate < 0 else "higher"
    return f"{said}; at equal ages it is {abs(pattern.change.estimate):.1f} {way}."


def shape_words(one) -> str:
    """Return '0.8 (0.6 to 1.1)', or why there is none."""
    if one.estimate is None:
        return reason_words(one.because)
    return f"{one.estimate:.1f} ({limits_words(one.low, one.high, lambda value: f'{value:.1f}')})"


def early_sentence(age: float, shares, clock: Clock) -> str:
    """Say how many of either had failed early; shares: of the batch, of the rest, and their difference."""
    mine, rest, gap = shares
    shown = "" if gap.low > 0 or gap.high < 0 else ", which is not shown to differ"
    span = limits_words(mine.low, mine.high, share_words)
    return (
        f"By {duration_words(age, clock)} {share_words(mine.estimate)} of it had failed ({span}), of the rest "
        f"{share_words(rest.estimate)}{shown}."
    )


def curves_sentence(found, clock: Clock) -> str:
    """Say from which age the curves differ; found: a `SurvivalDifference`."""
    if found.because is not None:
        return ""
    if found.differs_from is None:
        return f"The curves are at no age up to {duration_words(found.compared_to, clock)} shown to lie apart."
    start, end = (duration_words(one, clock) for one in (found.differs_from, found.differs_to))
    until = "" if found.differs_to >= 0.98 * found.compared_to else f" up to {end}"
    return f"The curves are shown to lie apart from {start} on{until}."


def mechanisms_sentence(rows: Sequence, found, pair) -> str:
    """Say which mechanism the excess comes from; found: an `ExcessByMechanism`."""
    if found.because is Because.NO_CAUSES:
        return (
            f"Which mechanism it is cannot be told: one is recorded for {found.batch_recorded:,} of its "
            f"{counted(pair.compared_failures, 'failure')} and for {found.rest_recorded:,} of {pair.rest_failures:,} of the rest."
        )
    if found.because is not None:
        return ""
    blank = pair.compared_failures - found.batch_recorded
    missing = f" For {counted(blank, 'failure')} of it no mechanism is recorded." if blank else ""
    sources = [row for row in rows if row.is_source]
    if not sources:
        return f"No mechanism alone is shown to come more often.{missing}"
    named = "; ".join(
        f"{mechanism_words(row.mechanism)}, {row.failures:,} where {row.expected:,.1f} would be expected "
        f"({excess_words(row.excess)})" for row in sources[:_NAMED]
    )  # fmt: skip
    more = f"; and {len(sources) - _NAMED:,} more" if len(sources) > _NAMED else ""
    return f"The excess comes from {named}{more}.{missing}"


def mechanism_words(mechanism: str) -> str:
    """Return the everyday name of a mechanism."""
    return value_words("mechanism", None if mechanism == NOT_RECORDED else mechanism)


def excess_words(excess) -> str:
    """Return '4 fewer to 12 more'."""
    low, high = round(excess.low), round(excess.high)
    if low >= 0:
        return f"{low:,} to {high:,} more"
    if high <= 0:
        return f"{-high:,} to {-low:,} fewer"
    return f"{-low:,} fewer to {high:,} more"


def count_words(key: str) -> str:
    """Return what a key of `counts` counts, to follow its number."""
    return _COUNTS[key]


def warnings(counts, *, because: Because | None, hours, is_mixed: bool, no_length: int, sites: Sequence[str]) -> list[str]:
    """Say what to mind. hours: the check of the hour clock where days are shown in its place, else None."""
    said = []
    if hours is not None:
        said.append(f"Shown in days: play hours are missing for {hours.without:,} of {hours.total:,} modules.")
    if because is None:
        said.append(
            "The kind of failure is told against others whenever they were fitted, batches found worse among them. How many "
            "times as often the batch fails, the comparison of batches tells, which allows for both: its ratio may differ."
        )
    if because is None and len(sites) == 1:
        said.append(f"All of the batch is at {sites[0]}: it is held against other modules there only.")
    if because is None and counts["alone"]:
        said.append(
            f"{counted(counts['alone'], 'module')} of the batch are where no other is (family, usage class, site) and left out."
        )
    if counts["drawn"]:
        said.append(f"Of the other {counts['rest_modules']:,} modules {counts['drawn']:,} were used, drawn by controller.")
    if is_mixed:
        said.append("Its bin was mixed with others, so part of it is not of this batch: it differs more than is seen here.")
    if no_length:
        said.append(f"Left out: {counted(no_length, 'module')} of the batch without usable time on this clock.")
    return said
