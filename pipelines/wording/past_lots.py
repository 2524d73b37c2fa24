"""Past lots as sentences: whether forecasts held, which lots disappointed and why, sellers, and the bench."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipelines.vocabulary import Because
from pipelines.wording.costs import cost_words, nothing_assumed
from pipelines.wording.lots import bid_words, money_words
from pipelines.wording.verdict import counted, level_words, limits_words, reason_words, share_words

_REASON = {
    "units": "fewer units came than were bought", "fates": "fewer good units than forecast",
    "unsold": "good units that were not sold", "prices": "lower prices", "hours": "more bench hours",
    "spent": "more spent on parts and supplies", "returns": "more returns",
}  # fmt: skip
_APART = {
    "units": "units that came", "fates": "how good they were", "unsold": "sold or left", "prices": "prices",
    "hours": "bench hours", "spent": "parts and supplies", "returns": "returns",
}  # fmt: skip
_LEFT_OUT = {
    "not_listed": "named by jobs only, not by the table of lots", "no_day": "without the day of purchase",
    "no_count": "without the number of units bought",
}  # fmt: skip
_SHORT = {
    Because.NO_PAST_LOTS: "no lot was finished yet", Because.NOT_KNOWN_THEN: "the record was too young",
    Because.NOT_GIVEN: "a cost or price is missing", Because.STILL_OUT: "units still out", Because.TOO_LARGE: "too many families",
}  # fmt: skip
_AGAINST = {"better": "better than others", "worse": "worse than others", "cannot_tell": "not clearly better or worse"}
#: Fewer results than this say little of how often intervals hold.
FEW_RESULTS = 20
#: So many disappointing lots are named.
NAMED = 3


def part_reason_words(part: str) -> str:
    """Return why a lot brought less, for a part of the difference."""
    return _REASON[part]


def part_words(part: str) -> str:
    """Return the heading of a part of the difference."""
    return _APART[part]


def against_words(against: str) -> str:
    """Return how a seller's units stand against others'."""
    return _AGAINST[against]


def short_reason_words(because: Because) -> str:
    """Return why a lot is not held against a forecast, short enough for a table."""
    return _SHORT[because]


def left_out_words(kind: str) -> str:
    """Return what a count of lots left out is of, to follow its number."""
    return _LEFT_OUT[kind]


def sentence(
    *, lots: Sequence, because: Because | None, missing: Sequence[tuple[str, list[str]]], held, all_scored, within_advice,
    over_advice, disappointing: Sequence[str], curse, currency: str | None, forecast_level: float,
) -> str:  # fmt: skip
    """Say how past lots came out against their forecasts."""
    if because is not None:
        return _refused(lots, because, missing)
    said = [held_sentence(held, forecast_level)]
    if all_scored.lots:
        said.append(_earned(all_scored, currency))
    said += [one for one in (_advice(all_scored, within_advice, over_advice, currency), curse_sentence(curse)) if one]
    if disappointing:
        named = {one.lot_id: one.reason for one in lots}
        some = "; ".join(f"{lot} ({part_reason_words(named[lot])})" for lot in disappointing[:NAMED])
        said.append(f"{counted(len(disappointing), 'lot')} came out under the forecast's lower end: {some}"
                    f"{' and others' if len(disappointing) > NAMED else ''}.")  # fmt: skip
    return " ".join(said)


def held_sentence(held, forecast_level: float) -> str:
    """Say how many results came out inside their forecast."""
    return (
        f"{held.k:,} of {counted(held.n, 'lot')} with a result came out inside the {level_words(forecast_level)} forecast "
        f"({share_words(held.share)}, {limits_words(held.low, held.high, share_words)})."
    )


def curse_sentence(curse) -> str:
    """Say whether lots that were bought came out worse than they looked; nothing where there are too few."""
    one = curse.share
    if one.estimate is None:
        return ""
    if curse.is_shown:
        low, high = sorted((-one.high, -one.low))
        return (
            f"Lots you bought came out {share_words(-one.estimate)} worse than forecast "
            f"({limits_words(low, high, share_words)}): take that off the bid."
        )
    if one.low > 0:
        return f"Lots you bought came out {share_words(one.estimate)} better than forecast."
    return "The lots bought came out neither clearly better nor worse than forecast."


def untold_curse_sentence(because: Because) -> str:
    """Say why it cannot be told whether lots came out worse than they looked."""
    return f"Whether to take something off the bid for that cannot be told: {reason_words(because)}."


def cursed_bid_sentence(bid: float, currency: str | None) -> str:
    """Say the bid that is left when the curse is taken off."""
    return f"With what past lots fell short taken off, bid at most {bid_words(bid, currency)}."


def backlog_sentence(backlog) -> str:
    """Say how much bench work is waiting in lots that are not finished."""
    if not backlog.units:
        return "No unit of a bought lot is waiting for the bench."
    said = f"{counted(backlog.units, 'unit')} of {counted(backlog.lots, 'lot')} {'is' if backlog.units == 1 else 'are'} waiting"
    if backlog.hours.estimate is None:
        return f"{said} for the bench; the hours cannot be told: {reason_words(backlog.hours.because)}."
    hours = backlog.hours
    said += f" for the bench: {hours.estimate:,.0f} hours ({limits_words(hours.low, hours.high, lambda one: f'{one:,.0f}')})."
    if backlog.weeks.estimate is None:
        return f"{said} Give the free bench hours of a week, and the weeks are told too."
    weeks = limits_words(backlog.weeks.low, backlog.weeks.high, lambda one: f"{one:.1f}")
    return f"{said} At {backlog.hours_free_per_week:g} free hours a week that is {backlog.weeks.estimate:.1f} weeks ({weeks})."


def sellers_sentence(sellers: Sequence) -> str:
    """Say which sellers' units are worse or better than others' beyond doubt."""
    if not sellers:
        return "No seller is on record."
    named = {word: [one.name for one in sellers if one.against == word] for word in ("worse", "better")}
    said = [f"{', '.join(names)}: {against_words(word)} of the same kind." for word, names in named.items() if names]
    return " ".join(said) or "No seller's units are clearly better or worse than others of the same kind."


def warnings(lots: Sequence, left_out: Mapping[str, int]) -> list[str]:
    """Say what to mind of the lots' forecasts."""
    said, scored = [], [one for one in lots if one.because is None]
    if 0 < len(scored) < FEW_RESULTS:
        said.append(f"{counted(len(scored), 'result')}: too few to say much of how often forecasts hold.")
    if led := sum(one.is_prior_led for one in scored):
        said.append(f"{counted(led, 'lot')} forecast when only one lot was finished: how much lots differ was then assumed.")
    for kind, count in left_out.items():
        if count:
            said.append(f"{counted(count, 'lot')} left out: {left_out_words(kind)}.")
    return said


def _refused(lots: Sequence, because: Because, missing: Sequence[tuple[str, list[str]]]) -> str:
    if because is Because.NOT_GIVEN and missing:
        named = "; ".join(cost_words(name).lower() + (f" ({', '.join(of)})" if of else "") for name, of in missing)
        return f"Before past lots can be held against a forecast, give: {named}. {nothing_assumed(len(missing))}"
    if because is Because.NO_PAST_LOTS and not lots:
        return "No past lot is on record with its day of purchase and its units."
    return f"None of {counted(len(lots), 'past lot')} can be held against a forecast: {reason_words(because)}."


def _earned(one, currency: str | None) -> str:
    word = "earned" if one.profit >= 0 else "lost"
    return (
        f"Forecast at {money_words(one.forecast, currency)} together, they brought {money_words(one.value, currency)} for the "
        f"{money_words(one.paid, currency)} paid: they {word} {money_words(abs(one.profit), currency)}."
    )


def _advice(every, within, over, currency: str | None) -> str:
    if not over.lots:
        return ""
    if over.lots == every.lots > 1:
        return "All of them cost more than the bid that would have been advised."
    word = "earned" if over.profit >= 0 else "lost"
    said = (
        f"{counted(over.lots, 'lot')} cost more than the bid that would have been advised; "
        f"{'it' if over.lots == 1 else 'they'} {word} {money_words(abs(over.profit), currency)}"
    )
    if not within.lots:
        return f"{said}."
    word = "earned" if within.profit >= 0 else "lost"
    others = "the other" if within.lots == 1 else f"the other {within.lots:,}"
    return f"{said}, {others} {word} {money_words(abs(within.profit), currency)}."
