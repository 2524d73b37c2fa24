"""Bids and lots as sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import floor
from typing import Protocol

from pipelines.vocabulary import Because, Fate
from pipelines.wording.costs import amount_words, cost_words, nothing_assumed
from pipelines.wording.verdict import SPACE, counted, limits_words, reason_words, share_words

#: Under so many sales watched to the end of the warranty the share of returns is mostly a guess.
FEW_FOLLOWED = 30
#: A test with a chance under this does not look like the lots on record.
SURPRISING = 0.025

_FATE = {
    Fate.WORKS: "works as found", Fate.CLEANED: "put right by a clean", Fate.NEW_PART: "put right by a new part",
    Fate.SCRAP: "scrap", None: "all but scrap",
}  # fmt: skip
_ACTION = {"keep": "Keep the lot", "claim": "Claim for it", "return": "Send it back", "cannot_say": "The test cannot say yet"}
_WHY = {
    "worse_than_stated": "a lot as good as the seller states would hardly show so few that work",
    "worth_keeping": "a lot too bad to pay would hardly show so many that work",
    "as_stated": "it is no worse than stated",
    "too_few_tested": "too few units are tested",
    "none_tested": "no unit is tested",
    "nothing_stated": "the seller stated no share, and what the lot must hold to pay is not shown either",
}  # fmt: skip
_NO_TEST = {
    "costs_more": "testing tells something, but costs more than it is worth",
    "changes_nothing": "no result would change what to do",
    "too_close": "what it is worth is too close to what it costs",
}


class AtABid(Protocol):
    """What a bid brings: an `AtBid` of the decisions."""

    bid: float
    expected_profit: float
    low_profit: float
    high_profit: float
    loss_chance: float


def money_words(amount: float, currency: str | None) -> str:
    """Return '412 EUR', '16.80 EUR' or '−5 EUR'; without a currency the number alone."""
    said = amount_words(amount if round(amount, 2) else 0.0).replace("-", "−")
    return f"{said}{SPACE}{currency}" if currency else said


def bid_words(amount: float, currency: str | None) -> str:
    """Return a bid rounded down, so that what is said of it still holds."""
    return money_words(floor(amount) if amount >= 100 else floor(amount * 100) / 100, currency)


def chance_words(chance: float) -> str:
    """Return '1 of 10 cases' or '13 of 100 cases'; never none or all, for a chance is told from draws."""
    if chance < 0.005:
        return "under 1 of 100 cases"
    of_ten = round(chance * 10)
    if 0 < of_ten < 10 and abs(chance * 10 - of_ten) < 0.05:
        return f"{of_ten} of 10 cases"
    return "over 99 of 100 cases" if chance > 0.995 else f"{round(chance * 100)} of 100 cases"


def fate_words(fate: str | None) -> str:
    """Return what a fate is; None: all that can be sold."""
    return _FATE[fate]


def bid_sentence(
    highest_bid: float | None, at: AtABid, *, margin_binds: bool, margin: float, currency: str | None, asking: AtABid | None,
    test: tuple[int, int, float | None] | None,
) -> str:  # fmt: skip
    """Say the highest bid and what it brings, then what the price asked brings, then what the test did.

    margin_binds: the margin keeps the bid from being higher, not the limit on losses; test: good, tested, and the highest bid
    before it.
    """
    if highest_bid is None:
        parts = [f"Do not bid: even for nothing the lot {_brings(at, currency)}."]
    else:
        parts = [f"Bid at most {bid_words(highest_bid, currency)}.", f"At that bid the lot {_brings(at, currency)}."]
        if margin_binds:
            parts.append(f"A higher bid would not leave your margin of {share_words(margin)}." if margin else
                         "A higher bid would be expected to lose money.")  # fmt: skip
    if asking is not None:
        parts.append(f"At the {money_words(asking.bid, currency)} asked it {_brings(asking, currency)}.")
    if test is not None:
        good, tested, before = test
        was = "no bid was advised" if before is None else f"it was {bid_words(before, currency)}"
        parts.append(f"Before the test ({good:,} of {counted(tested, 'unit')} worked) {was}.")
    return " ".join(parts)


def _brings(at: AtABid, currency: str | None) -> str:
    earns = "earn" if at.expected_profit >= 0 else "lose"
    low, high = (money_words(one, currency) for one in (at.low_profit, at.high_profit))
    return (
        f"loses money in {chance_words(at.loss_chance)} and is expected to {earns} "
        f"{money_words(abs(at.expected_profit), currency)} (8 of 10 such lots: {low} to {high})"
    )


def asked_for_sentence(missing: Sequence[tuple[str, list[str]]]) -> str:
    """Say what must be given before a bid can be told: settings, and the families that they are wanted for."""
    said = [cost_words(name).lower() + (f" ({', '.join(of)})" if of else "") for name, of in missing]
    return f"Before a bid can be told, give: {'; '.join(said)}. {nothing_assumed(len(said))}"


def refused_sentence(because: Because) -> str:
    """Say why there is no bid at all."""
    return f"No bid can be told: {reason_words(because)}."


def contradicted_sentence(tested: int, good: int) -> str:
    """Say that no lot such as those on record gives such a test."""
    return (
        f"No bid can be told: {good:,} working of {counted(tested, 'unit')} tested is what hardly any lot like those on record "
        "would show. Look at the stated condition and the families; the record cannot tell of such a lot."
    )


def record_warnings(
    *, condition: str, conditions: Sequence[str], followed: float | None, warranty_days: int | None, lots: int,
    borrowed: Sequence[tuple[str, str]], near_seller: str | None = None,
) -> list[str]:  # fmt: skip
    """Say what to mind of a bid's record. borrowed: what, and its name; followed: sales watched to the end of the warranty.

    near_seller: on record, and spelt like the one of the lot, who is not.
    """
    said = []
    if lots == 1:
        said.append("Only one past lot is on record: how much lots differ is then assumed, not seen.")
    for what, name in borrowed if lots else ():
        if what == "bench work":
            said.append(f"Nothing is recorded of the bench work of {name}: its hours and supplies are those of the others.")
        elif (what, name) == ("condition", "unknown"):
            said.append("The stated condition is not known: it may be any, so the limits are wide.")
        else:
            named = name.replace("_", " ") if what == "condition" else name
            meant = f" Did you mean {near_seller}?" if what == "seller" and near_seller else ""
            said.append(
                f"No finished lot of {what} {named} is on record: the other lots tell of it, so the limits are wide.{meant}"
            )
    if len(conditions) == 1 and conditions[0] != condition:
        said.append(f"All lots on record are of one condition ({conditions[0].replace('_', ' ')}).")
    if followed is not None and followed < FEW_FOLLOWED:
        said.append(
            f"The share of returns rests on as little as {counted(round(followed), 'sale')} watched for {warranty_days:,} days: "
            "most sales are too recent."
        )
    return said


def surprise_warnings(chances: Mapping[str, tuple[float, float]]) -> list[str]:
    """Say that a test is surprising. chances: by family, before it, of finding so few or fewer and of so many or more."""
    return [
        f"Only {share_words(min(both))} of lots like those on record would show so {'few' if both[0] < both[1] else 'many'} "
        f"working units of {family} in such a test: see whether the units were picked blindly."
        for family, both in chances.items()
        if min(both) < SURPRISING
    ]


def even_sentence(at_bid: float, currency: str | None, can_be_sold: tuple[str, float | None]) -> str:
    """Say from which share of good units the lot pays. can_be_sold: the word of `decisions.bid.Even`, and the share."""
    even, share = can_be_sold
    head = f"At {money_words(at_bid, currency)}"
    if even == "always_earns":
        return f"{head} even a lot of scrap would be expected to earn something."
    if even == "never_earns":
        return f"{head} no lot would be expected to earn anything, however good."
    return (
        f"{head} the lot pays if at least {share_words(share)} of its units can be sold (as found, cleaned or with a new part)."
    )


def testing_sentence(family: str, why: str, count: int, act_from: int | None, net: float, currency: str | None) -> str:
    """Say how many units to test before paying. why: the word of `decisions.lot_test.SampleReason`."""
    if not count:
        return f"Testing more units of {family} first does not pay: {_NO_TEST[why]}."
    work = "works" if act_from == 1 else "work"
    then = "none of the results would do" if act_from is None else f"buy where at least {act_from:,} {work}"
    return (
        f"Test {counted(count, 'unit')} of {family} before paying, and {then}: on average that is worth "
        f"{money_words(net, currency)} more than it costs."
    )


def arrival_sentence(
    action: str, why: str, missing_count: int, missing_claim: float | None, currency: str | None, *,
    is_said_to_work: bool = False, is_all_missing: bool = False,
) -> str:  # fmt: skip
    """Say what to do with a lot that came. action, why: the words of `decisions.lot_test`.

    is_said_to_work: the listing says working, yet no stated share was given; is_all_missing: nothing came.
    """
    worth = "" if missing_claim is None else f", {money_words(missing_claim, currency)} of the price (premium and tax left out)"
    them = "it" if missing_count == 1 else "them"
    if is_all_missing:
        return f"Nothing came: claim for {'the' if missing_count == 1 else 'all'} {counted(missing_count, 'unit')}{worth}."
    why_words = _WHY[why]
    if is_said_to_work and why == "nothing_stated":
        why_words = "the listing says working: give the share that it states (all of them, if it names none)"
    said = f"{_ACTION[action]}: {why_words}."
    if missing_count and action == "return":
        said += f" {counted(missing_count, 'unit')} did not come: see that the refund covers {them} too."
    elif missing_count:
        said += f" {counted(missing_count, 'unit')} did not come: claim for {them}{worth}."
    return said


def arrived_sentence(said: str, received: int, kept: float, currency: str | None, *, paid: AtABid | None) -> str:
    """Say what to do with a lot that came (`arrival_sentence`), then what its units are worth and what they bring."""
    worth = f"{said} Kept, the {counted(received, 'unit')} that came {'is' if received == 1 else 'are'} expected to be worth "
    worth += f"{money_words(kept, currency)}, before the price."
    if paid is None:
        return worth
    return f"{worth} At the {money_words(paid.bid, currency)} of the whole lot, without any claim, it {_brings(paid, currency)}."


def arrived_warnings(mix: Mapping[str, int], received: int, bought: int, *, is_mixed: bool) -> list[str]:
    """Say of which units that came the figures are, where some are missing. mix: family → units taken to have come."""
    if not 0 < received < bought:
        return []
    said = f"Of {counted(bought, 'unit')} bought {received:,} came; all figures are of those."
    if is_mixed:
        named = ", ".join(f"{count:,} {family}" for family, count in mix.items())
        said += f" Which are missing is not said: they are taken from the untested units of each family alike ({named} came)."
    return [said]


def capacity_sentence(
    hours: tuple[float, float, float], free: float | None, weeks: tuple[float | None, float | None, float | None],
    allowed: float | None, fit_chance: float | None,
) -> str:  # fmt: skip
    """Say what the lot takes of the bench. hours, weeks: estimate, low, high."""
    said = f"The bench needs {hours[0]:,.0f} hours ({limits_words(hours[1], hours[2], lambda one: f'{one:,.0f}')})."
    if not free:
        return said
    limits = limits_words(weeks[1], weeks[2], lambda one: f"{one:.1f}")
    said += f" With {free:g} free hours a week that takes {weeks[0]:.1f} weeks ({limits})."
    return said if allowed is None else f"{said} It is done within {allowed:g} weeks in {chance_words(fit_chance)}."


def seller_sentence(name: str, lots: int, works: int, units: int, ratio: tuple[float, float, float]) -> str:
    """Say how a seller's units stand against the others'. ratio: of the odds that a unit works, with limits."""
    head = f"{name}: {works:,} of {counted(units, 'unit')} in {counted(lots, 'lot')} worked as found."
    if ratio[1] > 1 or ratio[2] < 1:
        return f"{head} The seller's lots are {'better' if ratio[0] > 1 else 'worse'} than others of the same kind."
    return f"{head} That is not clearly better or worse than others of the same kind."
