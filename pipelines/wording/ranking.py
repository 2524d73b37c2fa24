"""Families that pay and families that do not, as sentences. Rows are those of `answers.ranking_record`."""

from __future__ import annotations

from collections.abc import Sequence

from pipelines.vocabulary import Because
from pipelines.wording.costs import cost_words
from pipelines.wording.lots import money_words
from pipelines.wording.verdict import counted, level_words, limits_words, reason_words, share_words

#: More families than this are not named one by one.
_NAMED = 6
_ADVICE = {"buy_in_bulk": "buy in bulk", "stop_buying": "stop buying", "cannot_tell": "cannot tell"}
_ORIGIN = {"given": "given by you", "last_year": "of the last year", "earlier": "before the last year"}


def advice_words(advice: str) -> str:
    """Return what to do about a family."""
    return _ADVICE[advice]


def condition_words(condition: str) -> str:
    """Return 'customer return' of `customer_return`."""
    return condition.replace("_", " ")


def ordinal(number: int) -> str:
    """Return '1st', '2nd', '11th'."""
    ending = "th" if 10 < number % 100 < 14 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number:,}{ending}"


def rank_words(rank) -> str:
    """Return '3rd' or 'between 2nd and 6th'; nothing where there is no rank."""
    if rank.rank is None:
        return ""
    return ordinal(rank.low) if rank.low == rank.high else f"between {ordinal(rank.low)} and {ordinal(rank.high)}"


def origin_words(paid) -> str:
    """Return how the price of a unit is known."""
    if paid.origin is None:
        return "no lot with a price"
    lots = f"{counted(paid.lots, 'lot')} " if paid.lots else ""
    return f"{lots}{_ORIGIN[paid.origin]}{', thin' if is_price_thin(paid) else ''}"


def is_price_thin(paid) -> bool:
    """Say whether the price of a unit rests on a single lot."""
    return paid.origin not in (None, "given") and paid.lots == 1


def price_words(paid, currency: str | None) -> str:
    """Return what a unit costs and how that is known."""
    known = origin_words(paid)
    return known if paid.origin is None else f"{money_words(paid.price.estimate, currency)} ({known})"


def earn_words(chance: float | None) -> str:
    """Return the chance of a profit as '62 %'; never 0 % or 100 %, for it is told from draws."""
    return "–" if chance is None else share_words(min(max(chance, 0.001), 0.999))


def rests_words(row) -> str:
    """Return what stands behind a family's figures."""
    said = f"{counted(row.units, 'unit')} of {counted(row.lots, 'lot')}"
    if row.is_thin:
        return f"{said}: told by the other families mostly"
    return f"{said}; some costs told by the other families" if row.is_borrowed else said


def refused_sentence(because: Because) -> str:
    """Say why there is no ranking at all."""
    said = reason_words(because)
    return f"{said[0].upper()}{said[1:]}."


def ranking_sentence(rows: Sequence, best: str | None, case, missing: Sequence, currency: str | None, level: float) -> str:
    """Say which families to buy in bulk, which no longer, how many are open, and who comes first.

    missing: what is asked for (`answers.lot_money.Missing`).
    """
    ranked = [row for row in rows if row.because is None]
    if not ranked:
        return _unranked_sentence(rows, missing)
    named = {word: [row.family for row in ranked if row.advice == word] for word in _ADVICE}
    buy = f"Buy {_names(named['buy_in_bulk'])} in bulk" if named["buy_in_bulk"] else "No family is sure enough to earn its price"
    stop = f"stop buying {_names(named['stop_buying'])}" if named["stop_buying"] else "none is sure enough to lose money"
    parts = [f"{buy}; {stop}."]
    if named["cannot_tell"]:
        parts.append(f"Of {_names(named['cannot_tell'])} it cannot be told yet.")
    stated = "whose condition is not stated" if case.condition == "unknown" else f"stated {condition_words(case.condition)}"
    parts.append(f"That is for units {stated}, at {'the prices below' if case.prices else 'what they usually cost'}.")
    first = ranked[0]

    def say(amount: float) -> str:
        return money_words(amount, currency)

    earns = (
        f"{say(first.profit_per_unit.estimate)} a unit ({level_words(level)} interval "
        f"{limits_words(first.profit_per_unit.low, first.profit_per_unit.high, say)})"
    )
    if best is not None:
        parts.append(f"{best} earns most, {earns}.")
    elif len(ranked) > 1:
        parts.append(f"{first.family} comes first with {earns}, but which one earns most is not sure.")
    else:
        parts.append(f"{first.family} is expected to earn {earns}.")
    return " ".join(parts)


def _unranked_sentence(rows: Sequence, missing: Sequence) -> str:
    asked = ", ".join(cost_words(one.name).lower() for one in missing) or "what a unit of each costs"
    said = f"What a unit earns cannot be told before this is given: {asked}."
    if not rows:
        return said
    first = rows[0].good_share
    good = f"{share_words(first.estimate)} of its units, {limits_words(first.low, first.high, share_words)}"
    return f"{said} Most can be sold of {rows[0].family} ({good})."


def ranking_warnings(rows: Sequence, case, unpriced: Sequence[str], *, is_prior_led: bool) -> list[str]:
    """Say what to mind. unpriced: families of which no price of a unit is known."""
    said = []
    if case.is_usual:
        said.append(
            f"Most units bought lately were stated {condition_words(case.condition)}; another condition may rank otherwise."
        )
    if is_prior_led:
        said.append("Only one past lot is finished, which does not tell how much lots differ: the intervals are mostly a guess.")
    if unpriced:
        said.append(
            f"No past lot says what a unit of {_names(unpriced)} costs, so it has no rank: give its price ({unpriced[0]}:12.50)."
        )
    single = [row.family for row in rows if is_price_thin(row.paid) and row.because is None]
    if single:
        said.append(
            f"{_names(single)}: the price of a unit is that of a single lot, which is thin: the next may cost more or less. "
            f"Give its price ({single[0]}:12.50) if you know better."
        )
    thin = [row.family for row in rows if row.is_thin and row.because is None]
    if thin:
        said.append(
            f"{_names(thin)}: under 8 finished units, so the other families tell most of it. It stands last, without advice."
        )
    return said


def _names(families: Sequence[str]) -> str:
    if len(families) > _NAMED:
        return f"{', '.join(families[:_NAMED])} and {len(families) - _NAMED:,} more"
    return " and ".join([", ".join(families[:-1]), families[-1]] if len(families) > 1 else families)
