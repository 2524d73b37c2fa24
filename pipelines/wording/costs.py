"""Names of costs, prices and limits that a person gives, the groups they are asked in, and where a number was found."""

from __future__ import annotations

from collections.abc import Sequence

from pipelines.wording.verdict import limits_words, share_words

#: Setting → its everyday name.
COST = {
    "resale_price": "Resale price",
    "selling_fee_share": "Selling fee",
    "freight_out": "Postage to the buyer",
    "other_fault_share": "Lost to other faults",
    "labour_per_hour": "Bench hour",
    "bench_hours_per_unit": "Bench time",
    "clean_minutes": "One clean",
    "replace_minutes": "Fitting a part",
    "part_cost": "New part",
    "consumables_per_clean": "Cleaning supplies",
    "harvest_value": "Parts of a scrapped unit",
    "warranty_days": "Warranty given",
    "return_share": "Returned under warranty",
    "return_cost": "Cost of a return",
    "accepted_warranty_cost": "Accepted cost of warranty",
    "buyer_premium_share": "Buyer's premium",
    "tax_share": "Tax not recovered",
    "inbound_freight": "Freight of the lot",
    "loss_limit": "Highest chance of a loss",
    "margin": "Profit wanted",
    "bench_hours_free": "Free bench time",
    "bench_weeks": "Time to finish the lot",
    "unit_price": "Another controller",
    "fault_cost": "One fault, all told",
    "keep_weeks": "Time it is still to serve",
    "callout_cost": "Going for it and swapping it",
    "downtime_hours": "Seat out of use",
    "downtime_per_hour": "Hour out of use",
    "refund_per_fault": "Refund to players",
    "harm_share": "Planned cleans that do harm",
    "restored_share": "Age given back by a clean",
    "lead_time_days": "Lead time of the supplier",
    "fill_chance": "Chance that the shelf lasts",
    "turnaround_days": "Time away for a fault",
}
#: The groups of a panel of costs, in their order.
COST_GROUPS = {
    "Buying the lot": ("buyer_premium_share", "tax_share", "inbound_freight"),
    "At the bench": (
        "labour_per_hour",
        "bench_hours_per_unit",
        "clean_minutes",
        "replace_minutes",
        "part_cost",
        "consumables_per_clean",
        "harvest_value",
    ),
    "On the floor": ("callout_cost", "downtime_hours", "downtime_per_hour", "refund_per_fault"),
    "What cleans do": ("harm_share", "restored_share"),
    "The shelf": ("lead_time_days", "fill_chance", "turnaround_days"),
    "Selling": ("resale_price", "selling_fee_share", "freight_out", "other_fault_share"),
    "Warranty": ("warranty_days", "return_share", "return_cost", "accepted_warranty_cost"),
    "Your limits": ("loss_limit", "margin", "bench_hours_free", "bench_weeks"),
    "Retiring a controller": ("unit_price", "fault_cost", "keep_weeks"),
}
#: What moves a bid (`decisions.bid.Swing`) → the setting that gives it, or what it is.
_SWING = {
    "works_share": "Units that work as found",
    "cleaned_share": "Put right by a clean",
    "new_part_share": "Put right by a new part",
    "parts_per_unit": "Parts per unit",
    "resale": "resale_price",
    "other_fault": "other_fault_share",
    "bench_h": "bench_hours_per_unit",
    "labour_per_h": "labour_per_hour",
    "consumables": "consumables_per_clean",
    "selling_fee": "selling_fee_share",
    "returned": "return_share",
    "harvest": "harvest_value",
}
_SHARES = ("share", "other_fault", "selling_fee", "returned")
#: More families than this are not named one by one.
_NAMED = 3


def cost_words(name: str) -> str:
    """Return the everyday name of a cost, price or limit."""
    return COST[name]


def swing_words(name: str) -> str:
    """Return the everyday name of what moves a bid."""
    known = _SWING.get(name, name)
    return COST.get(known, known)


def swing_range_words(swing) -> str:
    """Say between which ends an input was moved. swing: a `decisions.bid.Swing`."""
    how = "10th to 90th percentile" if swing.is_estimated else "20\u00a0% less to 20\u00a0% more"
    if swing.low is None or swing.high is None:
        return how
    say = share_words if swing.name.endswith(_SHARES) else amount_words
    return f"{limits_words(swing.low, swing.high, say)} ({how})"


def money_unit(unit: str, currency: str | None) -> str:
    """Return the unit of a setting, with the currency in the place of 'money' where it is known."""
    return unit.replace("money", currency, 1) if currency else unit


def box_label(name: str, unit: str, currency: str | None) -> str:
    """Return the label of a box to type in: name and short unit, shares in percent."""
    short = "%" if unit.startswith(("share", "chance")) else unit
    if unit.startswith("money"):
        short = (currency or "money").replace("$", "\\$")  # a label would read $ as a formula
    return f"{cost_words(name)}, {short}"


def per_words(unit: str) -> str:
    """Return what an amount is for, as the label does not say: 'per hour', 'of the resale price'."""
    head, _, rest = unit.partition(" ")
    return rest if head in ("money", "share") else ""


def nothing_assumed(count: int) -> str:
    """Return that the one thing asked for, or each of them, is not made up."""
    return f"Nothing is assumed for {'it' if count == 1 else 'them'}."


def amount_words(amount: float) -> str:
    """Return '412' or '3.25': whole from 100 on, else with cents where there are some."""
    rounded = round(amount, 2)
    return f"{rounded:,.0f}" if abs(rounded) >= 100 or rounded == int(rounded) else f"{rounded:,.2f}"


def origin_words(sources: Sequence, *, say=amount_words) -> str:
    """Say where a number was found. sources: those of one setting, as `answers.lot_money.Source` has them."""
    if not sources:
        return ""
    origin = {"setting": "given by you", "prices": "from the price list"}
    parts = []
    for of in dict.fromkeys(one.origin for one in sources):
        some = [one for one in sources if one.origin == of]
        where = origin.get(of) or _record_words(some)
        amounts = [(", ".join(one.of), one.amount) for one in some if one.amount is not None]
        if len({amount for _, amount in amounts}) > 1:
            shown = "; ".join(f"{family} {say(amount)}" for family, amount in amounts[:_NAMED])
            where += f": {shown}{' …' if len(amounts) > _NAMED else ''}"
        parts.append(where)
    return " and ".join(parts)


def _record_words(sources: Sequence) -> str:
    counts = [one.count for one in sources if one.count]
    return f"from the record ({sum(counts):,} cases)" if counts else "from the record"
