"""What units of a lot bring and cost: from the settings, else the price list, else the record; what none says is asked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

from pipelines.answers.lot_gathering import Gathering, Offer
from pipelines.answers.lot_record import LotRecord
from pipelines.decisions.bid import Fees
from pipelines.estimates.lot_inputs import LotInputs
from pipelines.settings import Settings


@dataclass(frozen=True)
class Missing:
    """A cost or price that must be supplied: the setting to give it by, its unit and help; of: families that lack it, or none."""

    name: str
    unit: str
    help: str
    of: list[str]


@dataclass(frozen=True)
class Source:
    """Where an input comes from: `setting`, `prices` or `record`, for these families (none: for all alike).

    amount: one number where it is one, else None; count: what the record's number rests on (units, sales, lots).
    """

    name: str
    origin: str
    amount: float | None
    count: int | None
    of: list[str]


@dataclass(frozen=True)
class Money:
    """The inputs of a lot and its fees, with where each comes from; None where something is missing, or no fees were wanted.

    warranty_days: what the share of returns is for, None where not known. unsure: families some of whose numbers are borrowed
    from others because they have none of their own.
    """

    inputs: LotInputs | None
    fees: Fees | None
    warranty_days: int | None
    sources: list[Source]
    missing: list[Missing]
    borrowed: list[str]


def lot_money(
    record: LotRecord, families: Sequence[str], settings: Settings, *, units: int | None = None, offer: Offer | None = None
) -> Money:
    """Gather what units of these families bring and cost, in this order; units: of a lot whose fees are wanted too.

    offer: the lot of these families that returns are for; without it they are those of all past sales together.
    A setting goes before the price list, and that before the record; for resale past sales go before the price list.
    """
    found = Gathering(record, list(families), settings, units=units, offer=offer)
    amounts = {one.name: getattr(found, one.name)() for one in fields(LotInputs)}
    fees = {} if units is None else {one.name: getattr(found, one.name)() for one in fields(Fees)}
    help_of = {one.name: one.metadata for one in fields(Settings)}
    missing = [Missing(name, help_of[name]["unit"], help_of[name]["help"], of) for name, of in found.missing.items()]
    is_whole = not missing
    return Money(
        LotInputs(**amounts) if is_whole else None, Fees(**fees) if is_whole and fees else None, found.warranty_days,
        [Source(*one) for one in found.sources], missing, sorted(found.borrowed),
    )  # fmt: skip
