"""What to keep on the shelf, as sentences."""

from __future__ import annotations

from collections.abc import Sequence

from pipelines.settings import Settings
from pipelines.vocabulary import Because
from pipelines.wording.label import label
from pipelines.wording.outlook import refused_words
from pipelines.wording.verdict import counted, share_words, value_words

MODULE = "module"


def part_words(row) -> str:
    """Return what a row of the shelf is, such as 'hall modules' or 'Lorquay controllers, site north'."""
    if row.kind == MODULE:
        return "modules of a type not recorded" if row.part is None else f"{value_words('sensor_type', row.part)} modules"
    family = row.part or "family not recorded"
    return f"{family} controllers, {label({'site': row.site})}"


def shelf_sentence(because: Because | None, rows: Sequence, settings: Settings) -> str:
    """Say what to keep, and what is short."""
    if because is Because.NOT_GIVEN:
        return "Nothing to say yet of what to keep: it needs the lead time of the supplier."
    if because is not None:
        return f"Nothing to say of what to keep on the shelf: {refused_words(because)}."
    modules = [row for row in rows if row.kind == MODULE and row.because is None]
    spares = [row for row in rows if row.kind != MODULE and row.because is None]
    said, chance = [], share_words(settings.fill_chance)
    if modules:
        kept = ", ".join(f"{row.keep:,} {part_words(row)}" for row in modules)
        lead = counted(settings.lead_time_days, "day")
        said.append(f"To last {lead} until delivery with a chance of {chance}, order anew at: {kept}.")
        short = [part_words(row) for row in modules if row.is_short]
        if short:
            said.append(f"By the deliveries on record there are already fewer of: {', '.join(short)}.")
    elif any(row.kind == MODULE for row in rows):
        said.append("Of modules nothing can be said without the supplier's lead time.")
    if spares:
        said.append(f"Keep {counted(sum(row.keep for row in spares), 'spare controller')} in all, by family and site as listed.")
    return " ".join(said)


def shelf_warnings(record, rows: Sequence, origin: str | None, away: float | None) -> list[str]:
    """Say where the stock at hand and the time away are from."""
    said = []
    modules = [row for row in rows if row.kind == MODULE]
    if any(row.at_hand is not None for row in modules):
        said.append(
            "Stock at hand is what deliveries on record brought less what the jobs fitted of them; parts lost or spoilt, and "
            "deliveries that nobody wrote down, are not in it: count the shelf."
        )
    unrecorded = sum(row.unrecorded or 0 for row in modules)
    if unrecorded:
        parts = counted(unrecorded, "fitted part")
        said.append(f"Of {parts} the delivery was not written down, so they are not taken off the stock.")
    if any(row.at_hand is None for row in modules):
        said.append("Of some modules no delivery is on record, so their stock at hand is not known.")
    if origin == "record":
        jobs = counted(record.turnaround_jobs, "job")
        said.append(f"A controller is taken to be away {away:,.1f} days for a fault, the mean of {jobs} of the last 52 weeks.")
    return said
