"""Clean, fit a new part or scrap: the advice on a stick as sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import WORN, Because, Course
from pipelines.wording.costs import cost_words, nothing_assumed
from pipelines.wording.lots import money_words
from pipelines.wording.verdict import counted, limits_words, reason_words, share_words, value_words

_DO = {Course.CLEAN_FIRST: "Clean it first", Course.NEW_PART: "Fit a new part", Course.SCRAP: "Scrap it"}
_AS = {Course.CLEAN_FIRST: "cleaning it first", Course.NEW_PART: "a new part", Course.SCRAP: "scrapping it"}
_THEN = {Course.NEW_PART: "fit a new part", Course.SCRAP: "scrap it"}
#: What may be said of a stick, as the words of a sentence.
_SAID = {
    "family": "the family", "mode": "the fault", "mechanism": "the mechanism", "sensor_type": "the sensor", "depth": "the clean",
    "attempt_number": "the number of cleans", "failed_tries": "the number of failed cleans",
    "af_rest_offset_pct": "the rest offset", "af_jitter_pct": "the jitter", "af_return_spread_pct": "the return spread",
    "af_reach_pct": "the reach", "af_linearity_pct": "the linearity",
}  # fmt: skip


class Advised(Protocol):
    """What is said of an advice: `decisions.clean_or_replace.Advice`."""

    course: Course | None
    expected_cost: dict[Course, float]
    sure_share: float | None
    is_close: bool
    clean_until: int | None
    after_cleans: Course | None
    because: Because | None
    is_rule_of_thumb: bool


def course_words(course: Course | str) -> str:
    """Return 'Clean it first', 'Fit a new part' or 'Scrap it'."""
    return _DO[Course(course)]


def said_words(name: str) -> str:
    """Return what may be said of a stick, or a setting of its costs, to stand in a sentence."""
    return _SAID[name] if name in _SAID else cost_words(name).lower()


def of_ten_words(share: float) -> str:
    """Return '7 of 10'; '15 of 100' where tenths would say it badly; a percentage where either would say none or all."""
    for of, off in ((10, 0.3), (100, 1.0)):
        part = round(share * of)
        if abs(share * of - part) <= off and 0 < part < of:
            return f"{part} of {of}"
    return share_words(share)


def days_words(days: float) -> str:
    """Return '90 days'."""
    return f"{days:g} day" if days == 1 else f"{days:,g} days"


def advice_sentence(
    told: Advised, passes: Estimate, holds: Estimate, part_holds: Estimate, *, depth: str | None, warranty_days: float,
    currency: str | None, unlike: Sequence[str], first_number: int, missing: Sequence[str],
) -> str:  # fmt: skip
    """Say what to do with a stick, the chances, the costs and when to stop; or why nothing can be advised."""
    if told.is_rule_of_thumb:
        return (
            f"Rule of thumb only: fit a new part, as cleaning does not give back what is worn. {_refused(told.because, unlike)}"
        )
    if passes.estimate is None:
        return f"No advice on this stick. {_refused(told.because, unlike)}"
    chances = _chances(passes, holds, part_holds, warranty_days)
    how = f" ({value_words('depth', depth)})" if depth else ""
    if told.because is Because.NOT_GIVEN:
        return f"A clean{how} passes in {chances} {_asked_for(missing)}"
    if told.because is Because.NO_FOLLOW_UP:
        return (
            f"A clean{how} passes in {chances} Whether it holds {days_words(warranty_days)} cannot be told: no clean that passed "
            "was followed that long yet. Give a warranty of 0 days to weigh passing alone."
        )
    return " ".join([_head(told, how, chances), _costs(told, currency), *_stop(told, first_number)])


def bench_warnings(
    *, mechanism: str | None, worn_attempts: tuple[int, int] | None, course: Course | None, warranty_days: float,
    is_warranty_usual: bool, not_weighed: Sequence[str], assumed: Sequence[str], is_told: bool, is_hold_known: bool,
    is_part_hold_known: bool,
) -> list[str]:  # fmt: skip
    """Say what to mind. worn_attempts: cleans on record of the same mechanism, and how many passed."""
    said = []
    if mechanism in WORN and is_told and worn_attempts is not None:
        cleans, passed = worn_attempts
        said.append(
            f"Common practice: what is worn does not recover by cleaning. On record {passed:,} of {counted(cleans, 'clean')} of "
            f"{value_words('mechanism', mechanism)} passed the test of the day."
        )
    if is_told and is_warranty_usual:
        said.append(
            f"Neither settings nor sales say how long a repair must hold: {days_words(warranty_days)} are taken (setting "
            "horizon), and what fails before counts as a return. Set warranty_days for your own."
        )
    if is_told and not is_hold_known:
        said.append(
            f"No clean that passed was followed {days_words(warranty_days)}, so each is taken to hold: even so cleaning first is "
            "not the cheapest."
        )
    if is_told and not is_part_hold_known:
        said.append(
            f"No new part was followed {days_words(warranty_days)}, so each is taken to hold. That makes a new part look cheaper "
            "than it is, so the advice tilts to replacing where costs lie close."
        )
    if is_told and not_weighed:
        said.append(f"Scrapping is not weighed; for that give {_listed([said_words(name) for name in not_weighed])}.")
    if is_told and "attempt_number" in assumed:
        said.append("Taken for the first clean of its module; say attempt_number if it was cleaned before.")
    return said


def rests_on_sentence(rests) -> str:
    """Say what the advice rests on. rests: `answers.clean_or_replace_record.BenchRest`."""
    return (
        f"It rests on {counted(rests.attempts, 'clean')} on record, of which {rests.passed:,} passed; like this stick in all the "
        f"words said were {rests.alike_attempts:,}, of which {rests.alike_passed:,} passed."
    )


def calibration_sentence(attempts: int, brier: float, plain_brier: float, slope: Estimate) -> str:
    """Say whether the chances come true."""
    better = 1 - brier / plain_brier if plain_brier else 0.0
    gain = (
        f"they miss by {share_words(better)} less than if each were given the plain share"
        if better > 0 else "they are no better than the plain share"
    )  # fmt: skip
    if slope.because is Because.ONE_RESULT:
        return f"Whether these chances come true cannot be told: {reason_words(slope.because)}."
    head = (
        f"Each of {counted(attempts, 'clean')} on record was predicted from other controllers: {gain} (Brier score "
        f"{brier:.3f}: the mean square of a miss)."
    )
    if slope.estimate is None:
        return f"{head} Whether they are too bold cannot be told: {reason_words(slope.because)}."
    verdict = (
        "they come true as said" if slope.low <= 1 <= slope.high
        else "they are too bold" if slope.high < 1 else "they are too timid"
    )  # fmt: skip
    return f"{head} On the whole {verdict} (slope {slope.estimate:.2f}, {slope.low:.2f} to {slope.high:.2f}; 1 is right)."


def _asked_for(names: Sequence[str]) -> str:
    wanted = _listed([said_words(name) for name in names])
    return f"Before the cheapest course can be told, give: {wanted}. {nothing_assumed(len(names))}"


def _refused(because: Because, unlike: Sequence[str]) -> str:
    reason = reason_words(because)
    why = f" (look at {_listed([said_words(name) for name in unlike])})" if unlike and because is Because.UNLIKE_ANY else ""
    return f"{reason[0].upper()}{reason[1:]}{why}."


def _chances(passes: Estimate, holds: Estimate, part_holds: Estimate, warranty_days: float) -> str:
    found = f"{of_ten_words(passes.estimate)} such cases ({limits_words(passes.low, passes.high, share_words)})"
    if not warranty_days or holds.estimate is None:
        return f"{found}."
    parts = f" (new parts: {of_ten_words(part_holds.estimate)})" if part_holds.estimate is not None else ""
    return f"{found}, and {of_ten_words(holds.estimate)} of those hold {days_words(warranty_days)}{parts}."


def _head(told: Advised, how: str, chances: str) -> str:
    if told.course is Course.CLEAN_FIRST:
        head = f"Clean it first{how}: it passes in {chances}"
    else:
        head = f"{_DO[told.course]}: a clean{how} passes in {chances}"
    return f"Too close to call. By a little, {head[0].lower()}{head[1:]}" if told.is_close else head


def _costs(told: Advised, currency: str | None) -> str:
    others = sorted((one for one in told.expected_cost if one is not told.course), key=told.expected_cost.get)
    against = _listed([f"{money_words(told.expected_cost[one], currency)} for {_AS[one]}" for one in others])
    sure = f"; it is the cheapest in {of_ten_words(told.sure_share)} of what the record allows" if told.is_close else ""
    return f"Expected cost {money_words(told.expected_cost[told.course], currency)}, against {against}{sure}."


def _stop(told: Advised, first_number: int) -> list[str]:
    if told.course is not Course.CLEAN_FIRST:
        return []
    then = _THEN[told.after_cleans]
    more = told.clean_until - first_number
    if not more:
        return [f"If the clean fails, {then}."]
    times = "once" if more == 1 else f"up to {more} times"
    return [f"If the clean fails, clean {times} more, then {then}."]


def _listed(said: Sequence[str]) -> str:
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"


def batch_note(
    because: Because | None, *, is_close: bool, is_rule_of_thumb: bool, unlike: Sequence[str], missing: Sequence[str],
    assumed: Sequence[str],
) -> str | None:  # fmt: skip
    """Say of one row of a file what to mind, or why it has no advice; None where there is nothing."""
    if because is Because.NOT_GIVEN:
        return _asked_for(missing)
    if because is not None:
        return f"{'Rule of thumb only. ' if is_rule_of_thumb else ''}{_refused(because, unlike)}"
    said = ["Too close to call."] if is_close else []
    return " ".join([*said, "Taken for its first clean."] if "attempt_number" in assumed else said) or None


def batch_sentence(counts: Mapping[str, int], others: Sequence[str], not_understood: Sequence[str] = ()) -> str:
    """Say how many rows of a file got which advice, and what of it was not read. counts: advice in words → rows."""
    unknown = f" Headings not understood, so not used: {', '.join(not_understood)}." if not_understood else ""
    if not counts:
        return f"No row of the file says anything of a stick.{unknown}"
    parts = [f"{name[0].lower()}{name[1:]}: {count:,}" for name, count in counts.items()]
    more = f" Not read: the sheets {_listed(list(others))}." if others else ""
    return f"Of {counted(sum(counts.values()), 'row')}, {', '.join(parts)}.{more}{unknown}"
