"""Answers as sentences: plain numbers in, plain words out. Nothing is estimated here."""

from __future__ import annotations

from collections.abc import Sequence

from pipelines.vocabulary import Because, Clock

#: Keeps a number and its % on one line.
SPACE = "\u00a0"

_REASON = {
    Because.NOT_REACHED: "not reached in this log",
    Because.LIMIT_NOT_REACHED: "this log sets no limit on that side",
    Because.TOO_FEW_FAILURES: "too few failures to say",
    Because.NO_FAILURES: "no failure was recorded",
    Because.NO_SPELLS: "nothing was watched",
    Because.NO_ATTEMPTS: "nothing was cleaned",
    Because.NO_FOLLOW_UP: "nobody was followed that long",
    Because.NO_DENOMINATOR: "the column is blank on too many of those that did not fail",
    Because.NO_CAUSES: "the log does not say why enough of these sticks failed, so wear and dirt cannot be told apart; see how "
    "long cleans hold",
    Because.FAILURES_ONLY: "the log holds failures only",
    Because.CLOCK_REFUSED: "the hour clock is refused",
    Because.FIT_FAILED: "the data fix no Weibull shape",
    Because.RESTORATION_UNTOLD: "drift does not clearly become more likely with age here, or cleans are few, so the life a "
    "clean gives back cannot be told; see how long cleans hold",
    Because.MODEL_UNFIT: "after a clean these sticks drift in a way that no share of the age given back explains, so none "
    "can be told; see how long cleans hold",
    Because.LATE_ENTRY: "some were first watched at a later age, which this test cannot take",
    Because.TOO_FEW_AT_RISK: "too few were watched at any one age",
    Because.NO_COMMON_AGE: "too few of both were watched at the same ages",
    Because.UNTRIED_BANDS: "too many of its faults are of a severity that was never cleaned",
    Because.NO_USAGE_SPREAD: "all are used about as much, so hours and days tell the same",
    Because.BOTH_CLOCKS_FIT: "this log fits hours and days alike",
    Because.TOO_FEW_CLUSTERS: "too few controllers or sites to set limits by",
    Because.ONE_LEVEL: "only one level has failures",
    Because.CONFOUNDED: "some columns always go together, so they cannot be told apart",
    Because.SEPARATED: "one level differs without end, so no ratio can be fitted",
    Because.NO_SHAPE: "neither the other groups nor the settings give a shape to assume",
    Because.TOO_LARGE: "too much to work out at once; ask for a part of it with a filter",
    Because.TOO_FEW_ATTEMPTS: "too few cleans on record to judge a single stick",
    Because.UNLIKE_ANY: "no such stick was ever cleaned",
    Because.ONE_RESULT: "every clean passed, or none did",
    Because.NO_PAST_LOTS: "no unit of a past lot is finished, so nothing tells what a new lot would bring",
    Because.NO_PROFIT: "it is not expected to earn anything at this price",
    Because.TOO_FEW_DRAWS: "hardly any lot simulated from the record looks like what the test found",
    Because.NOT_GIVEN: "it needs a number that was not given",
    Because.NOT_KNOWN_THEN: "the record of that day does not tell what such units bring or cost",
    Because.TOO_FEW_LOTS: "too few past lots have both a forecast and a result",
    Because.STILL_OUT: "too many of its units are not sold or scrapped yet",
    Because.NOT_RECORDED: "the log does not record it",
    Because.NO_USABLE_HOURS: "no usable play hours are on record there",
    Because.NOTHING_IN_SERVICE: "no stick of an own controller was in service at the end of the log",
    Because.TOO_FEW_BATCHES: "too few batches to say",
    Because.SHARES_ALIKE: "all batches were found alike at inspection",
    Because.CONTRADICTION: "the record contradicts itself",
    Because.TOO_FEW_READINGS: "too few repeat readings: two persons or more must read the same sticks twice or more",
    Because.NO_PLAN: "no such plan is held here",
    Because.NO_COMPARISON: "no other batch stands beside it: same family, usage class, site, fitting period and age",
    Because.BATCH_IS_SITE: "all of it is at sites without another batch, so batch and site cannot be told apart",
    Because.ONE_BATCH: "only one batch is on record",
    Because.ONE_SUPPLIER: "no modules of two suppliers stand beside each other",
    Because.NO_SPREAD: "all repeats of a stick are the same to the last digit, which tells nothing of the tester",
}

_LEFT_OUT = {
    "no_usable_hours": "watched in days but without usable play hours",
    "age_unknown": "of unknown age: shown apart as “since first seen”, or not used",
    "no_length": "closed on the day they opened, or without any play hour between",
    "grouping_blank": "without a word in a column the answer is split by",
    "no_outcome": "cleans whose result is open, unknown or returned unrepaired",
    "intake_untested": "cleans at intake without a test",
    "found_bad_at_intake": "sticks found bad at intake, which count for cleaning but have no lifetime",
    "found_bad_at_first_sight": "sticks already bad when first seen, start unrecorded",
    "stick_unknown": "jobs that do not say which stick",
    "return_stick_unknown": "drift returns that cannot be told to a stick",
    "unconfirmed_returns": "drift returns that no job confirmed or withdrew; failures where the stick was watched since the sale",
    "assumed_failures": "failures assumed from a repair without a test",
    "hours_fell": "hour readings blanked because they fell",
    "hours_exceed_calendar": "hour readings blanked because the calendar does not hold so many hours",
}


def reason_words(because: Because) -> str:
    """Return why something is not given, in words."""
    return _REASON[because]


def left_out_words(key: str) -> str:
    """Return what a key of `left_out` counts, to follow its number."""
    return _LEFT_OUT[key]


def counted(count: int, one: str, many: str | None = None) -> str:
    """Return '1 module' or '1,234 modules'."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def listed(names: Sequence[str], most: int = 4) -> str:
    """Return names, up to `most` one by one: 'a, b, c, d and 2 more'."""
    more = f" and {len(names) - most:,} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def duration_words(value: float, clock: Clock) -> str:
    """Return '480 h' or '35 days', with as many digits as a plan can use."""
    digits = f"{value:,.0f}" if value >= 10 else f"{value:,.1f}"
    if clock is Clock.HOURS:
        return f"{digits} play hours"
    return f"{digits} day" if digits in ("1", "1.0") else f"{digits} days"


def share_words(share: float) -> str:
    """Return '62 %'; never 0 % or 100 % for a share that is not quite that."""
    if 0 < share < 0.005:
        return f"under 1{SPACE}%"
    if 0.995 <= share < 1:
        return f"over 99{SPACE}%"
    return f"{share * 100:.0f}{SPACE}%"


def log_words(log_start: str | None, log_end: str | None) -> str:
    """Return from when to when the log is."""
    return f"log {log_start} to {log_end}" if log_start and log_end else "no dated row in the log"


def level_words(level: float) -> str:
    """Return '95 %' of a level."""
    return f"{level * 100:g}{SPACE}%"


def limits_words(low: float | None, high: float | None, say) -> str:
    """Return 'A to B', or what is known of it; a unit that both share is said once."""
    if low is None and high is None:
        return "no limits from this log"
    if low is None:
        return f"at most {say(high)}"
    if high is None:
        return f"at least {say(low)}"
    first, last = say(low), say(high)
    if first == last:
        return first
    number, _, unit = first.replace(SPACE, " ").partition(" ")
    return f"{number if unit and last.endswith(unit) else first} to {last}"


#: Limits by site rest on how sites differ, of which fewer than this tell little.
FEW_SITES = 10


def sites_words(sites: int) -> str:
    """Return '6 sites', or that none is recorded."""
    return counted(sites, "site") if sites else "no site is recorded"


def few_sites_words(sites: int) -> str:
    """Return what limits by few sites do not hold, as a sentence after others; nothing for many."""
    return " So few sites cannot tell of a site that is not among them." if sites < FEW_SITES else ""


def life_sentence(
    *, modules: int, failures: int, clock: Clock, level: float,
    b10: tuple[float | None, float | None, float | None], median: tuple[float | None, float | None, float | None],
    drawn_from: float | None, few_at: int | None = None, what: str = "stick modules", event: str = "began to drift",
    start: str = "",
) -> str:  # fmt: skip
    """Say how long things lasted. b10, median: estimate, low, high in the clock's unit, None where not given.

    few_at: how many were still watched at the median, where they are too few to draw.
    """
    if modules == 0:
        return f"Nothing to say: no {what} were watched on this clock."
    head = f"{failures:,} of {counted(modules, _one(what), what)} {event}."
    if failures == 0:
        return f"{head} No failure was recorded, so no lifetime can be told yet."
    if drawn_from is None:
        return f"{head} Too few were watched at any one age: too few to say."

    def time(value: float) -> str:
        return duration_words(value, clock)

    parts = [head]
    if median[0] is not None:
        few = "" if few_at is None else f", seen when only {few_at:,} were left"
        parts.append(
            f"Half {event} by {time(median[0])}{start} ({level_words(level)} interval "
            f"{limits_words(median[1], median[2], time)}){few}."
        )
    else:
        parts.append(f"Fewer than half {event} within this log, so the median is not reached.")
    if b10[0] is not None:
        parts.append(f"One in ten {event} by {time(b10[0])} ({limits_words(b10[1], b10[2], time)}).")
    if drawn_from > 0:
        parts.append(f"Read it given that {time(drawn_from)} was reached: before that too few were watched.")
    return " ".join(parts)


def _one(things: str) -> str:
    """Return 'module of unknown age' of 'modules of unknown age'."""
    name, of, more = things.partition(" of ")
    return f"{name.removesuffix('s')}{of}{more}"


def cleaning_sentence(
    *, passed: int, attempts: int, same_day: tuple[float, float, float] | None, level: float,
    horizon: str, durable: tuple[float | None, float | None, float | None], durable_because: Because | None,
    worn_passed: int, worn_attempts: int,
) -> str:  # fmt: skip
    """Say whether cleaning works and holds. same_day, durable: share, low, high."""
    if attempts == 0 or same_day is None:
        return "Nothing to say: no cleaning attempt with a known result."
    parts = [
        f"{passed:,} of {counted(attempts, 'cleaning attempt')} passed the test the same day: "
        f"{share_words(same_day[0])} ({level_words(level)} interval "
        f"{limits_words(same_day[1], same_day[2], share_words)})."
    ]
    if durable[0] is None:
        reason = reason_words(durable_because or Because.NO_FOLLOW_UP)
        parts.append(f"How many still hold after {horizon} cannot be told: {reason}.")
    else:
        parts.append(
            f"Still good after {horizon}: {share_words(durable[0])} of all attempts "
            f"({limits_words(durable[1], durable[2], share_words)})."
        )
    if worn_attempts:
        parts.append(f"Among all attempts, {worn_attempts:,} were on a worn track; {worn_passed:,} of those passed.")
    if attempts < 8:
        parts.append("Under 8 attempts: too few to compare.")
    return " ".join(parts)


def clock_refused_sentence(*, without: int, total: int, survivors_lose_more: bool) -> str:
    """Say why hours are refused and what to do."""
    more = "; those that did not fail lose theirs more often, which would make lives look short" if survivors_lose_more else ""
    return f"Play hours are missing for {without:,} of {counted(total, 'spell')}{more}. Use days instead (--clock days)."


def clock_fallback_warning(*, without: int, total: int) -> str:
    """Say that days are shown because hours cannot be."""
    return f"Shown in days: play hours are missing for {without:,} of {counted(total, 'spell')}, too many for the hour clock."


def no_length_warning(*, without: int, failures: int) -> str:
    """Say that failures without a length are not counted."""
    return (
        f"{without:,} of {counted(failures, 'failure')} fell on the day watching began, or without any play hour since: they "
        "have no length and are not counted, so early failures look rarer than they are."
    )


def no_denominator_sentence(column: str) -> str:
    """Say that a grouping is known for failures only."""
    return (
        f"'{column}' is blank on over a fifth of the modules that did not fail, so a group by it may hold the "
        "failures and miss the others. Fill it in the register or the jobs, or leave it out."
    )


def failures_only_sentence() -> str:
    """Say that first lives cannot be told from failures alone."""
    return (
        "The log has no register of units and no stick was ever seen good as found, so it holds failures only: how many "
        "are still well is unknown, and a lifetime curve would look far too short. Load a units table, or ask how long "
        "cleans hold (recurrence)."
    )


def bench_only_warning() -> str:
    """Say whom the curve is about when there is no register."""
    return "No units register: this is among units seen at the bench, not the whole fleet."


def early_register_warning(count: int, first_job_on: str) -> str:
    """Say that units were registered long before the first job."""
    return (
        f"{counted(count, 'unit')} went into service over 90 days before the first job of the log. If faults before "
        f"{first_job_on} were not logged, lives look too long: use --set log_start={first_job_on}."
    )


def overall_sentence(sentences: list[str], *, is_refused: bool) -> str:
    """Return the sentence of a whole answer: why all groups were refused, or that of the only one, or how many there are."""
    if not sentences:
        return "Nothing to say: no row of the log fits the question."
    if len(sentences) == 1 or (is_refused and len(set(sentences)) == 1):
        return sentences[0]
    return f"{len(sentences)} groups, each with its own verdict below."


_COLUMN = {
    "family": "family", "usage_class": "usage", "site": "site", "stick": "stick", "sensor_type": "sensor",
    "batch": "batch", "depth": "depth of clean", "mechanism": "mechanism", "attempt_number": "attempt number",
    "grade": "grade",
}  # fmt: skip
_VALUE = {
    "depth": {"air": "air on the closed module", "flush": "flush of the closed module", "open": "opened and wiped"},
    "stick": {"L": "left", "R": "right", "S": "single"},
    "sensor_type": {"tmr": "TMR"},
}


def column_words(column: str) -> str:
    """Return the everyday name of a grouping column."""
    return _COLUMN[column]


def value_words(column: str, value: str | int | None) -> str:
    """Return the everyday name of one of its values; text of the user's own stays as it is."""
    if value is None:
        return "not recorded"
    said = str(value).replace("_", " ") if column in ("mechanism", "sensor_type") else str(value)
    return _VALUE.get(column, {}).get(str(value), said)


def group_words(column: str, value: str | int | None) -> str:
    """Return 'family Corvath' or 'attempt number 2'; sticks and depths need no column name."""
    said = value_words(column, value)
    return said if column in ("depth",) and value is not None else f"{column_words(column)} {said}"


def unknown_value_warning(column: str, value: str, known: list[str]) -> str:
    """Say that a filter names a value that the log does not have, and which it has."""
    has = f"It has: {', '.join(known[:12])}{' …' if len(known) > 12 else ''}." if known else "It has none."
    return f"The log has no {column_words(column)} '{value}'. {has}"
