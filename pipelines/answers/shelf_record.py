"""The record of what to keep on the shelf: the JSON contract, word for word."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import AskedRecord
from pipelines.answers.lot_money import Missing
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class ShelfRow:
    """Modules of one sensor type (`module`), or controllers of one family at a site (`spare_controller`).

    days: that the shelf must last: the supplier's lead time; for a controller, how long one is away. demand: within them.
    keep: enough for them with the fill chance; of modules, order anew when so many are left. keep_if_known: were the mean
    known and the demand Poisson. at_hand: received less fitted, as far as on record; unrecorded: fitted of a delivery that nobody
    wrote down, not taken off; is_short: at hand are fewer than to keep. because: why there is no number to keep.
    """

    kind: str
    part: str | None
    site: str | None
    because: Because | None
    days: float | None
    demand: Estimate
    keep: int | None
    keep_if_known: int | None
    at_hand: int | None
    unrecorded: int | None
    is_short: bool | None


@dataclass(frozen=True)
class Shelf(AskedRecord):
    """The whole answer. turnaround_origin: `setting`, `record` (of so many jobs) or None: not known."""

    level: float
    asked_for: list[Missing]
    fill_chance: float
    turnaround_days: float | None
    turnaround_origin: str | None
    turnaround_jobs: int
    rows: list[ShelfRow]
