"""Which stick a customer's return is about, for the oracle."""

from __future__ import annotations

from dataclasses import dataclass

from tests.facts.oracle_rows import Job, Row


@dataclass(frozen=True)
class Return:
    """One stick of a unit that came back from a sale with a warranty. `is_first`: the first stick to be asked about it."""

    sale: int
    slot: str
    day: int
    is_drift: bool
    is_first: bool
    first_jobs: dict[str, Job]
    sold_after: int | None
    sold: int

    @property
    def is_removed(self) -> bool:
        """The warranty job renewed or scrapped this stick."""
        job = self.first_jobs.get(self.slot)
        return self.is_drift and job is not None and (job.replaces or job.scraps)

    def is_sold_after(self, day: int) -> bool:
        """Was work of this day sold by this very sale?"""
        return day <= self.sold and (self.sold_after is None or day > self.sold_after)

    def verdict(self, cleaned: set[str], slots: set[str]) -> dict[str, str]:
        """Return for each stick: confirmed, unconfirmed, withdrawn, stick_unknown or censored."""
        everyone = dict.fromkeys(slots, "censored")
        if not self.is_drift:
            return everyone
        confirmed = [slot for slot, job in self.first_jobs.items() if job.is_drift]
        if confirmed:
            return everyone | dict.fromkeys(confirmed, "confirmed")
        withdrawn = {slot for slot, job in self.first_jobs.items() if job.is_nff}
        only = slots if len(slots) == 1 else cleaned & slots
        if len(only) == 1 and not only & withdrawn:
            return everyone | dict.fromkeys(only, "unconfirmed")
        return dict.fromkeys(slots, "withdrawn" if withdrawn else "stick_unknown")


def returns_of(sales: list[Row], jobs: list[Job], slots: list[str]) -> list[Return]:
    """Return one row per stick and returned sale. Sales without a warranty are not followed, so neither their returns."""
    found = []
    for number, sale in enumerate(sales):
        if sale["returned_on"] is None or not sale["warranty_days"]:
            continue
        sold, back = sale["sold_on"].toordinal(), sale["returned_on"].toordinal()
        is_drift = sale["return_reason"] == "drift" and back <= sold + sale["warranty_days"]
        next_sold = sales[number + 1]["sold_on"].toordinal() if number + 1 < len(sales) else None
        first_jobs = _first_warranty_jobs(jobs, sold, next_sold)
        days = {slot: back for slot in slots}
        for slot, job in first_jobs.items():
            if is_drift and (job.is_drift or job.is_nff):
                days[slot] = min(back, job.day)
        first = min(slots, key=lambda slot: (days[slot], slot), default=None)
        before = sales[number - 1]["sold_on"].toordinal() if number else None
        found += [Return(number, slot, days[slot], is_drift, slot == first, first_jobs, before, sold) for slot in slots]
    return found


def _first_warranty_jobs(jobs: list[Job], sold: int, next_sold: int | None) -> dict[str, Job]:
    found: dict[str, Job] = {}
    for job in jobs:
        is_of_this_sale = job.day >= sold and (next_sold is None or job.day < next_sold)
        if job.slot is not None and is_of_this_sale and job.row["visit_reason"] == "warranty_return":
            found.setdefault(job.slot, job)
    return found
