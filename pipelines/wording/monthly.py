"""A month of the floor as sentences."""

from __future__ import annotations

from collections.abc import Sequence

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, Clock
from pipelines.wording.change import against_words, change_words, exposure_words, rate_words
from pipelines.wording.costs import amount_words, cost_words
from pipelines.wording.verdict import SPACE, counted, level_words, limits_words, reason_words, share_words

#: Where less of the work than this is on record, it is said.
_NEARLY_ALL = 0.98


def sentence(whole, *, month: str, currency: str | None, clock: Clock, level: float, months: int, missing: Sequence) -> str:
    """Say the month in one sentence: faults and their change, hours down, cost of an hour. whole: a `MonthPart`."""
    if not whole.units:
        return f"{month}: nothing to say, no own controller was watched."
    said = [f"{month}: {_rate(whole, clock, level)}{_changes(whole, months)}"]
    if whole.hours_down is not None:
        said.append(f"{down_words(whole.hours_down)} out of use because of a stick")
    if whole.cost is not None and whole.cost_per_hour.estimate is not None:
        change = _cost_change(whole.cost_against_mean)
        cost = cost_per_hour_words(whole.cost_per_hour.estimate, currency)
        said.append(f"{cost} for each {_one(clock)}{change}{without_downtime_words(whole, currency)}")
    elif missing:
        said.append(f"what {per_words(clock)} costs needs {', '.join(cost_words(one.name).lower() for one in missing)}")
    return f"{'; '.join(said)}."


def _rate(whole, clock: Clock, level: float) -> str:
    rate = whole.rate
    if rate.estimate is None:
        limit = "" if rate.high is None else f" (at most {rate_words(rate.high)} for {exposure_words(clock)})"
        return f"no fault{limit}"
    limits = limits_words(rate.low, rate.high, rate_words)
    return f"{rate_words(rate.estimate)} faults for {exposure_words(clock)} ({level_words(level)} interval {limits})"


def _changes(whole, months: int) -> str:
    """Say the change against the month before and the year's mean, and whether it is more than chance."""
    parts = [
        (against_words(ratio.estimate, what), word)
        for ratio, word, what in (
            (whole.against_before, whole.change, "in the month before"),
            (whole.against_mean, whole.change_from_mean, f"the mean of the {counted(months, 'month')} before"),
        )
        if ratio.estimate is not None
    ]
    if not parts:
        return "; there is no month before to compare with"
    real = [word in ("fewer", "more") for _, word in parts]
    if len(set(real)) == 1:
        how = ("both " if len(parts) == 2 else "") + ("more than chance" if real[0] else "within chance")
        return f", {' and '.join(said for said, _ in parts)} ({how})"
    return ", " + " and ".join(
        f"{said} ({'more than chance' if one else 'within chance'})" for (said, _), one in zip(parts, real, strict=True)
    )


def _cost_change(ratio: Estimate) -> str:
    if ratio.estimate is None:
        return ""
    shown = "" if ratio.low > 1 or ratio.high < 1 else ", within chance"
    return f" ({against_words(ratio.estimate, 'the mean before', less='less')}{shown})"


def change_cell(ratio: Estimate, word: str) -> str:
    """Return the words of a table's cell: '12 % fewer', with a star where it is more than chance."""
    if ratio.estimate is None:
        return "–"
    return change_words(ratio.estimate) + (" *" if word in ("fewer", "more") else "")


def down_words(hours: float | None) -> str:
    """Return '1,230 hours', '0.5 hours', or a dash where none is recorded."""
    if hours is None:
        return "not recorded"
    return f"{hours:,.1f} hours" if 0 < hours < 10 else counted(round(hours), "hour")


def cost_per_hour_words(amount: float | None, currency: str | None) -> str:
    """Return '0.42 EUR', with as many digits as tell something."""
    if amount is None:
        return "–"
    said = f"{amount:,.3f}" if 0 < amount < 0.1 else amount_words(amount)
    return f"{said}{SPACE}{currency}" if currency else said


def site_words(part) -> str:
    """Return the name of a part of the month."""
    return "all sites" if part.is_whole else part.site or "site not recorded"


def without_downtime_words(whole, currency: str | None) -> str:
    """Return ', 0.10 EUR without time out of use'; nothing where no time out of use is in the cost."""
    if whole.cost is None or not whole.cost.downtime or not whole.exposure:
        return ""
    rest = (whole.cost.labour + whole.cost.parts) / whole.exposure
    return f", {cost_per_hour_words(rest, currency)} without time out of use"


def _one(clock: Clock | str) -> str:
    return "play hour" if clock == Clock.HOURS else "day in service"


def per_words(clock: Clock | str) -> str:
    """Return what a cost is for: 'a play hour'."""
    return f"a {_one(clock)}"


def warnings(facts, whole, sites: Sequence, *, is_part_given: bool) -> list[str]:
    """Say what to mind. facts: a `MonthFacts`; whole, sites: `MonthPart`; is_part_given: a price for parts that have none."""
    said = []
    if facts.clock is Clock.DAYS:
        said.append(
            f"Counted in days: play hours are known for only {share_words(facts.known_share)} of the watched days, so a month "
            "of more play looks worse, and nothing can be told for a play hour."
        )
    elif facts.known_share < _NEARLY_ALL:
        known = share_words(facts.known_share)
        said.append(f"Play hours are known for {known} of the watched days; what an hour costs is told a little too high.")
    if facts.stops is None:
        said.append("The log has no table of downtime: hours out of use are not recorded, and their cost is not in.")
    elif whole.open_stops:
        seats = counted(whole.open_stops, "seat")
        said.append(f"{seats} on record as out of use since an earlier month, without an end; their hours are not in.")
    if whole.hours_down:
        said.append(_clock_hours(facts, whole))
    now = facts.work[facts.work["period_no"] == len(facts.months) - 1]
    jobs, timed, fitted, priced = (int(now[name].sum()) for name in ("job_count", "timed_count", "module_count", "costed_count"))
    if timed < _NEARLY_ALL * jobs:
        said.append(f"The minutes of {jobs - timed:,} of {counted(jobs, 'job')} are not on record, and cost nothing here.")
    if priced < _NEARLY_ALL * fitted and not is_part_given:
        said.append(
            f"The prices of {fitted - priced:,} of {counted(fitted, 'fitted part')} are not on record, and cost nothing here."
        )
    thin = [site_words(one) for one in sites if one.rate.because is Because.NO_SPELLS]
    if thin:
        said.append(f"Nothing was watched at: {', '.join(thin)}.")
    return said


def _clock_hours(facts, whole) -> str:
    """Say that time out of use runs day and night, how long a stop is, what part of the cost that makes, and what changes it."""
    now = facts.stops[(facts.stops["period_no"] == len(facts.months) - 1) & facts.stops["is_stick"].astype(bool)]
    each = whole.hours_down / int(now["stop_count"].sum())
    share = (
        f", and {share_words(whole.cost.downtime / whole.cost.total)} of the cost" if whole.cost and whole.cost.downtime else ""
    )
    return (
        f"Hours out of use are those of the clock, nights and closed days too: {down_words(each)} for each stop by a stick"
        f"{share}. If nothing is earned while you are closed, give '{cost_words('downtime_per_hour').lower()}' as the mean of "
        "all 24 hours of a day, or times of downtime within opening hours."
    )


def refused_cost_words(because: Because | None) -> str:
    """Return why no cost is told."""
    return "" if because is None else reason_words(because)
