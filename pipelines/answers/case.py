"""What a question is asked about (`--case NAME=VALUE`): words in, checked names, numbers and counts by family out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import isfinite
from typing import TypeVar

from pipelines.errors import SettingError
from pipelines.logs.spelling import fold, nearest
from pipelines.vocabulary import Question, StatedCondition

#: The names that each question takes, with what is given for them.
CASE: dict[Question, dict[str, str]] = {
    Question.LOT_BID: {
        "mix": "Family:20,Other:5",
        "units": "how many in all",
        "condition": "the seller's word, such as untested",
        "seller": "a name",
        "price": "asked or bid, for the lot",
        "tested": "how many were tested; by family where the mix has several",
        "good": "how many of those were good",
        "stated_good_share": "the share good that the seller states, 0 to 1",
        "received": "how many arrived",
        "refund": "what sending the lot back brings, less what that costs",
        "new_family": "yes where a family was never seen and the others shall tell of it",
    },
    Question.FAMILY_RANKING: {
        "condition": "the seller's word, such as untested",
        "price": "Family:12.50,Other:9 for a unit",
    },
    Question.PAST_LOTS: {},
    Question.WARRANTY: {},
    Question.FAULT_RATES: {},
    Question.NEXT_FAILURES: {},
    Question.SHELF: {},
    Question.CLEANING_INTERVAL: {"depth": "of the planned clean: air, flush or open; left out: the most usual"},
    Question.CLEANING_PLAN: {
        "capacity": "controllers that can be cleaned in a day",
        "interval_hours": "play hours from clean to clean; left out: what cleaning-interval advises",
        "interval_days": "the same in days in service",
        "depth": "of the planned clean, where the interval is taken from cleaning-interval",
        "start": "the first day, such as 2026-05-01; left out: the day after the log ends",
        "weeks": "how many to plan (4)",
        "slack_days": "how many days before it is due a clean may be done (7)",
        "closed": "days without cleaning: sat,sun,2026-12-24,2026-12-27..2027-01-03",
        "window": "hours of the day for cleaning, 09:00-12:00,14:00-16:00; left out: whole days",
        "zone": "the time zone of these hours, such as Europe/Vienna",
        "site": "the only site planned for, with its own capacity, closed days and hours; left out: all together",
    },
    Question.CLEAN_OR_REPLACE: {
        "family": "as in the log",
        "mode": "what was found, such as jitter",
        "sensor_type": "such as carbon_pot",
        "mechanism": "why, where it is known, such as track_wear",
        "depth": "air, flush or open; left out: whichever is cheapest",
        "attempt_number": "which clean of its module the next one is (1)",
        "failed_tries": "cleans before it that failed since one passed (0)",
        "af_rest_offset_pct": "% of half-scale, as found",
        "af_jitter_pct": "% of half-scale, as found",
        "af_return_spread_pct": "% of half-scale, as found",
        "af_reach_pct": "% of half-scale, as found",
        "af_linearity_pct": "% of span, as found",
    },
    Question.BEFORE_AFTER: {
        "start": "the day it began, such as 2026-01-15",
        "span_days": "days on each side; left out: as many as fit both",
        "site": "a site that took part; left out: all",
        "family": "a family that took part; left out: all",
        "units": "the controllers that took part, NA-1,NA-2, where not all did",
        "units_file": "the same as a text file, one a line",
    },
    Question.MONTHLY: {"month": "such as 2026-05; left out: the last whole one"},
    Question.BATCH_ALARM: {"batch": "the one to replay look by look; left out: the most urgent"},
    Question.BATCH_PATTERN: {
        "batch": "the one asked about",
        "reference": "a batch that it is held against; left out: the rest",
    },
    Question.BATCH_VERDICT: {
        "reference": "a batch that all others are held against; left out: each against the rest",
        "stock": "BATCH:12,OTHER:0, modules left of batches that are named only when they come in",
    },
    Question.TESTER_STUDY: {
        "measure": "what was read, such as rest_offset; left out: what was read most",
        "limit": "its pass limit, % of half-scale; left out: the setting, else the table of limits",
    },
    Question.BATCH_CONTAINMENT: {
        "batch": "the batch, as in the log",
        "days": "for which failures to come are told (90)",
    },
    Question.STUDY_PLAN: {
        "ratio": "how many times as often a worse batch fails (1.5,2)",
        "months": "how long the study may take; left out: a table",
        "modules": "how many there are in all; left out: a table",
        "power": "the chance that the study shows it (0.8)",
        "false_alarm": "the chance that it calls a batch worse which is not (0.05)",
        "new_share": "the share of the modules that are of the new batch (0.5)",
        "enrol_months": "over which the modules are fitted (0)",
        "lost_per_year": "the share of the modules lost from view in a year (0)",
        "modules_per_controller": "1 or 2 (2)",
        "hours_per_week": "played; left out: as the record has it",
        "life": "to be shown by a test, in play hours (with --clock days: in days)",
        "life_share": "the share failed by then: 0.1 for B10, 0.5 for the median (0.1)",
        "shape": "the Weibull shape in that test; left out: that of the record",
        "confidence": "of that test (0.9)",
        "better": "how many times as long modules may truly last (2)",
        "test_time": "how long modules can be on test",
    },
    Question.BATCH_EXHIBIT: {
        "batch": "the batch, as in the log",
        "notes": "yes where the notes of the jobs, which may name people, shall be in it (no)",
    },
    Question.BATCH_INSPECTION: {
        "batch": "one batch only; left out: all",
        "characteristic": "one characteristic only; left out: all",
        "lot": "how many are in a delivery to be inspected: the plan for it",
        "aql": "the quality limit agreed, % nonconforming, such as 1.5",
        "level": "I, II or III (II)",
        "good_pct": "% nonconforming of a delivery that should pass: a plan worked out",
        "bad_pct": "% nonconforming of a delivery that should not; alone: the plan that accepts none",
        "producer_risk": "the chance that the good one is refused (0.05)",
        "consumer_risk": "the chance that the bad one passes (0.1)",
    },
}

_Value = TypeVar("_Value")
#: How a number stands in a case.
_PLAIN = "digits, with a point before decimals, and no comma, sign of a currency, % or unit"


def words_of_case(question: Question, words: Mapping[str, str]) -> dict[str, str]:
    """Return the words of a case that are not blank. Raises SettingError on a name that the question does not take."""
    allowed = CASE.get(question, {})
    for name in words:
        if name not in allowed:
            more = f"It takes: {', '.join(allowed)}." if allowed else "It takes none."
            raise SettingError(f"{question} has no '{name}' for --case.", more)
    return {name: str(value).strip() for name, value in words.items() if str(value).strip()}


def number(name: str, text: str, *, low: float = 0.0, high: float = 1e9, write: str | None = None) -> float:
    """Return a number from `low` to `high`. write: how it is written, for the message. Raises SettingError."""
    try:
        value = float(text)
    except ValueError as error:
        raise SettingError(f"'{text}' is no number for {name}.", f"Write {write or f'{name}=12.5'}: {_PLAIN}.") from error
    if not isfinite(value) or not low <= value <= high:
        raise SettingError(f"{name} = {text} is out of range.", f"Give a number from {low:,.10g} to {high:,.10g}.")
    return value


def count(name: str, text: str, *, low: int = 0, write: str | None = None) -> int:
    """Return a whole number from `low` up to a million. write: how it is written, for the message. Raises SettingError."""
    value = number(name, text, low=low, high=1_000_000, write=write or f"{name}=12")
    if value != int(value):
        raise SettingError(f"{name} = {text} is not a whole number.", f"Count whole ones: {write or f'{name}=12'}.")
    return int(value)


def is_yes(name: str, text: str) -> bool:
    """Return a yes or no. Raises SettingError."""
    word = text.lower()
    if word not in ("yes", "true", "1", "no", "false", "0"):
        raise SettingError(f"'{text}' is no answer to {name}.", f"Write {name}=yes or {name}=no.")
    return word in ("yes", "true", "1")


def counts_by_name(name: str, text: str, *, low: int = 0, what: str = "family") -> dict[str, int]:
    """Return {family: count} of `Family:20,Other:5`, or by other names (`what`). Raises SettingError, also on one named twice."""
    return {
        one: count(f"{name} of {one}", value, low=low, write=f"{one}:12") for one, value in _by_name(name, text, what).items()
    }


def amounts_by_name(name: str, text: str) -> dict[str, float]:
    """Return {family: amount} of `Family:12.50,Other:9`. Raises SettingError, also where a family stands twice."""
    return {
        family: number(f"{name} of {family}", value, write=f"{family}:12.5")
        for family, value in _by_name(name, text, "family").items()
    }


def known_name(what: str, name: str, known: Iterable[str], aliases: Mapping[str, str] | None = None) -> str:
    """Return the known name that is spelt so, else so but for capitals and signs, or that it is an alias of.

    aliases: folded word → our word. Raises SettingError, with the nearest one.
    """
    alike = {fold(one): one for one in sorted(known, key=lambda one: one == name)}  # the last of two that fold alike counts
    if aliases and fold(name) not in alike:
        name = aliases.get(fold(name), name)
    if fold(name) in alike:
        return alike[fold(name)]
    near = nearest(name, alike.values())
    has = f"It has: {', '.join(sorted(alike.values())[:12])}." if alike else "It has none."
    raise SettingError(f"The log has no {what} '{name}'.", f"Did you mean {near}?" if near else has)


def one_batch(case: Mapping[str, str], known: Iterable[str]) -> str:
    """Return the batch that is asked about. Raises SettingError where none is named, or the log has no such batch."""
    if "batch" not in case:
        names = ", ".join(sorted(known)[:12]) or "none"
        raise SettingError("Nothing says which batch.", f"Write --case batch=…; the log has: {names}.")
    return known_name("batch", case["batch"], known)


def by_known_name(what: str, given: Mapping[str, _Value], known: Iterable[str], aliases: Mapping[str, str]) -> dict[str, _Value]:
    """Return what is given under the known names. Raises SettingError as `known_name` does, and where two words are one name."""
    names = {said: known_name(what, said, known, aliases) for said in given}
    if len(set(names.values())) < len(names):
        raise SettingError(f"One {what} stands twice, in two spellings: {', '.join(given)}.", "Name each once.")
    return {names[said]: value for said, value in given.items()}


def stated_condition(word: str) -> str:
    """Return the stated condition that a word means. Raises SettingError."""
    known = {fold(one): one.value for one in StatedCondition}
    if fold(word) not in known:
        raise SettingError(f"'{word}' is no stated condition.", f"Give one of: {', '.join(StatedCondition)}.")
    return known[fold(word)]


def _by_name(name: str, text: str, what: str) -> dict[str, str]:
    found: dict[str, str] = {}
    listed = f"Write {what.capitalize()}:20,Other:5, with a point before decimals."
    pending = ""
    for part in text.split(","):
        pending += part
        one, colon, value = pending.rpartition(":")
        if not colon:  # a name may hold commas
            pending += ","
            continue
        pending, one = "", one.strip()
        if not one:
            raise SettingError(f"'{part.strip()}' is no part of {name}.", listed)
        if fold(one) in map(fold, found):
            raise SettingError(f"The {what} '{one}' is named twice.", f"Name each {what} once.")
        found[one] = value.strip()
    if pending:
        raise SettingError(f"'{pending.strip(', ')}' is no part of {name}.", listed)
    return found
