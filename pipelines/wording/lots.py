"""Bids and lots as sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import floor

from pipelines.decisions.bid import AtBid, Bid, Binding
from pipelines.vocabulary import Because
from pipelines.wording.verdict import counted, reason_words, share_words

#: Under so many sales watched to the end of the warranty the share of returns is mostly a guess.
FEW_FOLLOWED = 30
#: A test with a chance under this, or as far from 1, does not look like the lots on record.
SURPRISING = 0.025

#: The settings of a lot as the words of a sentence.
_SETTING = {
    "labour_per_hour": "what an hour at the bench costs",
    "bench_hours_per_unit": "the bench hours of a unit",
    "part_cost": "what a part costs",
    "consumables_per_clean": "the consumables of a clean",
    "resale_price": "what a sold unit brings",
    "other_fault_share": "the share of units with another fault (buttons, battery, shell)",
    "selling_fee_share": "the selling fee",
    "freight_out": "the freight of a sold unit",
    "return_cost": "what a return costs",
    "return_share": "the share of sold units that come back",
    "warranty_days": "the days of warranty",
    "harvest_value": "what a scrapped unit is worth in parts",
    "buyer_premium_share": "the buyer's premium",
    "tax_share": "the tax on the lot",
    "inbound_freight": "the freight of the lot",
}
_INPUT = {
    "works_share": "units that work as found", "cleaned_share": "units that a clean puts right",
    "new_part_share": "units that a new part puts right", "resale": "resale price", "other_fault": "other faults",
    "bench_h": "bench hours", "labour_per_h": "labour per hour", "parts_per_unit": "parts per unit", "part_cost": "part cost",
    "consumables": "consumables", "selling_fee": "selling fee", "freight_out": "freight of a sold unit", "returned": "returns",
    "return_cost": "cost of a return", "harvest": "value of scrap", "buyer_premium_share": "buyer's premium",
    "tax_share": "tax on the lot", "inbound_freight": "freight of the lot",
}  # fmt: skip


def money_words(amount: float, currency: str | None) -> str:
    """Return '412 EUR', '16.80 EUR' or '−5 EUR'; without a currency the number alone."""
    size = abs(amount)
    digits = f"{size:,.0f}" if size >= 100 or size == round(size) else f"{size:,.2f}"
    sign = "−" if amount < 0 and float(digits.replace(",", "")) else ""
    return f"{sign}{digits}\u00a0{currency}" if currency else f"{sign}{digits}"


def bid_words(amount: float, currency: str | None) -> str:
    """Return a bid rounded down, so that what is said of it still holds."""
    return money_words(floor(amount) if amount >= 100 else floor(amount * 100) / 100, currency)


def chance_words(chance: float) -> str:
    """Return '1 of 10 cases', '3 of 100 cases', or under 1 of 100."""
    if chance == 0:
        return "none of the cases"
    if chance < 0.005:
        return "under 1 of 100 cases"
    of_ten = round(chance * 10)
    if of_ten and abs(chance * 10 - of_ten) < 0.05:
        return f"{of_ten} of 10 cases"
    return f"{min(round(chance * 100), 99) if chance < 1 else 100} of 100 cases"


def setting_words(name: str) -> str:
    """Return what a setting of lots is, to stand in a sentence."""
    return _SETTING[name]


def input_words(name: str) -> str:
    """Return the everyday name of what drives a bid."""
    return _INPUT[name]


def bid_sentence(
    bid: Bid, *, loss_limit: float, margin: float, currency: str | None, asking: AtBid | None,
    test: tuple[int, int, float | None] | None,
) -> str:  # fmt: skip
    """Say the highest bid and what it brings, then what the price asked brings, then what the test did.

    test: good, tested, and the highest bid before it.
    """
    at = bid.at
    if bid.highest_bid is None:
        parts = [f"Do not bid: even for nothing the lot {_brings(at, currency)}."]
    else:
        head = f"Bid at most {bid_words(bid.highest_bid, currency)}."
        parts = [f"{head} At that bid the lot {_brings(at, currency)}."]
        if bid.binding is Binding.MARGIN:
            kept = "the expected profit keeps it there" if margin == 0 else f"your margin of {share_words(margin)} keeps it there"
            parts.append(f"Not your limit of a loss in {chance_words(loss_limit)} but {kept}." if margin else
                         "A higher bid would be expected to lose money.")  # fmt: skip
    if asking is not None:
        parts.append(f"At the {money_words(asking.bid, currency)} asked it {_brings(asking, currency)}.")
    if test is not None:
        good, tested, before = test
        was = "no bid was advised" if before is None else f"it was {bid_words(before, currency)}"
        parts.append(f"Before the test ({good:,} of {counted(tested, 'unit')} worked) {was}.")
    return " ".join(parts)


def _brings(at: AtBid, currency: str | None) -> str:
    earns = "earn" if at.expected_profit >= 0 else "lose"
    low, high = (money_words(one, currency) for one in (at.low_profit, at.high_profit))
    return (
        f"loses money in {chance_words(at.loss_chance)} and is expected to {earns} "
        f"{money_words(abs(at.expected_profit), currency)} (8 of 10 such lots: {low} to {high})"
    )


def asked_for_sentence(missing: Sequence[tuple[str, list[str]]]) -> str:
    """Say what must be given before a bid can be told: settings, and the families that they are wanted for."""
    said = [_SETTING[name] + (f" ({', '.join(of)})" if of else "") for name, of in missing]
    listed = said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"
    return f"Before a bid can be told, say {listed}. Nothing is assumed for them."


def refused_sentence(because: Because) -> str:
    """Say why there is no bid at all."""
    return f"No bid can be told: {reason_words(because)}."


def contradicted_sentence(tested: int, good: int) -> str:
    """Say that no lot such as those on record gives such a test."""
    return (
        f"No bid can be told: {good:,} working of {counted(tested, 'unit')} tested is what hardly any lot like those on record "
        "would show. Look at the stated condition and the families, or take the lot for one that the record cannot tell of."
    )


def record_warnings(
    *, condition: str, conditions: Sequence[str], followed: float | None, warranty_days: int | None, lots: int,
    borrowed: Sequence[tuple[str, str]],
) -> list[str]:  # fmt: skip
    """Say what to mind of a bid's record. borrowed: what, and its name; followed: sales watched to the end of the warranty."""
    said = []
    if lots == 1:
        said.append("Only one past lot is on record: how much lots differ is then assumed, not seen.")
    for what, name in borrowed:
        if what == "bench work":
            said.append(f"Nothing is recorded of the bench work of {name}: its hours and consumables are those of the others.")
        else:
            named = name.replace("_", " ") if what == "condition" else name
            said.append(f"No finished lot of {what} {named} is on record: the other lots tell of it, so the limits are wide.")
    if len(conditions) == 1 and conditions[0] != condition:
        said.append(f"All lots on record are of one condition ({conditions[0].replace('_', ' ')}).")
    if followed is not None and followed < FEW_FOLLOWED:
        said.append(
            f"The share of returns rests on as little as {counted(round(followed), 'sale')} watched for {warranty_days:,} days: "
            "most sales are too recent."
        )
    return said


def test_warnings(chances: Mapping[str, float]) -> list[str]:
    """Say that a test is surprising. chances: of finding so few or fewer before it, by family."""
    return [
        f"The test of {family} is {'worse' if chance < 0.5 else 'better'} than in {share_words(1 - SURPRISING)} of lots like "
        "those on record: see whether the units were picked blindly."
        for family, chance in chances.items()
        if min(chance, 1 - chance) < SURPRISING
    ]
