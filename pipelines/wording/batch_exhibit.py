"""The evidence on a supplier batch and what came of working it out anew, as sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipelines.wording.verdict import counted

#: What each answer of a pack is called on its page.
TITLES = {
    "verdict": "Against other batches at equal age", "pattern": "What kind of worse", "alarm": "How soon it could be known",
    "inspection": "Incoming inspection", "containment": "Where it is, and what it cost",
}  # fmt: skip
#: What stands under the figures.
CAPTIONS = {
    "verdict": "Each batch against others of its age, with its limits; this one in colour.",
    "pattern": "Modules still free of failure since they were fitted, this batch and the others made alike, with limits.",
    "alarm": "Evidence against the batch as it would have stood, with the limits of both alarms.",
}
#: What a pack holds: member → what it is.
MEMBERS = {
    "exhibit.html": "a page to read and print",
    "verdict.json": "the batches compared, with all figures",
    "alarm.json": "the watch replayed, look by look",
    "pattern.json": "what kind of worse, with both curves and the mechanisms",
    "containment.json": "where its modules are, and the cost",
    "inspection.json": "incoming inspection, its plans and the field",
    "compared.csv": "failures observed and expected, batch by batch",
    "rows.csv": "rows of the job log about its modules, each with file and line",
    "manifest.json": "files, settings, software and checksums",
}  # fmt: skip
#: What a reader must not take from the figures.
READ_WITH_CARE = (
    "The figures say how often the batch failed beside others in like places at the same age. They do not say why: what went "
    "along with the batch and is not on record (who fitted it, how it was kept) may have a part in it.",
    "A batch is what the log says was fitted. Modules of unknown batch are left out; a wrong label moves a failure to another.",
    "The limits hold the luck of the draw, not mistakes of the record; the pack counts those, as far as they can be seen.",
    "All batches were looked at together, and how many are named by luck is limited over all of them. Whoever picks one of many "
    "in another way has more luck in it.",
    "The alarm is replayed on what is known today. On its day some failures may have waited for their entry.",
    "The excess is of failures that can be compared. It is no count of what the supplier owes.",
)


def delivered_words(row) -> str:
    """Say what the delivery of a batch was. row: as `BatchRow`."""
    if not row.is_on_record:
        return "No delivery on record."
    said = [row.supplier or "supplier not recorded", (row.part_type or "part not recorded").replace("_", " ")]
    said += [f"received {row.received_on}"] if row.received_on else []
    said += [counted(row.received, "piece")] if row.received is not None else []
    return f"{', '.join(said)}{', from a mixed bin' if row.is_mixed else ''}."


def chance_words(chance: float | None) -> str | None:
    """Return '0.012', or 'under 0.001'."""
    return None if chance is None else "under 0.001" if chance < 0.001 else f"{chance:.3f}"


def warnings(answers: Mapping[str, object], *, has_notes: bool) -> list[str]:
    """Return what to mind of a pack. answers: name → answer, or why there is none (`what`, `remedy`)."""
    said = [f"{TITLES[name]}: not told. {one.what} {one.remedy}" for name, one in answers.items() if hasattr(one, "remedy")]
    if has_notes:
        said.append("The notes of the jobs are in rows.csv; they may name people. Read them before you give the pack away.")
    else:
        said.append("Notes of the jobs are left out of rows.csv, because they may name people; technicians are as in the log.")
    return said


def altered_words(pack: str, altered: Sequence[str], lost: Sequence[str]) -> str:
    """Say which members of a pack are not those that its manifest names."""
    parts = [f"{', '.join(names)} {why}" for names, why in ((altered, "not as its manifest has it"), (lost, "missing")) if names]
    return f"{pack} was altered after it was made: {'; '.join(parts)}."


def files_trouble(missing: Sequence[str], changed: Sequence[str]) -> str:
    """Say which files the figures cannot be worked out without."""
    parts = []
    for names, one, many in ((missing, "is missing", "are missing"), (changed, "has changed", "have changed")):
        if names:
            more = f" and {len(names) - 8:,} more" if len(names) > 8 else ""
            parts.append(f"{counted(len(names), 'file')} {one if len(names) == 1 else many}: {', '.join(names[:8])}{more}.")
    return " ".join(parts)


def software_words(made_with: Mapping[str, str], here: Mapping[str, str]) -> str:
    """Say which software differs; blank where none does."""
    other = [f"{name} {made_with.get(name, 'of no known version')} (here {here.get(name, 'none')})"
             for name in sorted({*made_with, *here}) if made_with.get(name) != here.get(name)]  # fmt: skip
    return f"It was made with other software: {', '.join(other)}." if other else ""


def words_differ(count: int) -> str:
    """Say that other versions word things otherwise; blank where none does."""
    return f"{counted(count, 'text')} of it came out otherwise or new, as other versions may have it." if count else ""


def extra_words(names: Sequence[str]) -> str:
    """Say which files were left out; blank without any."""
    if not names:
        return ""
    more = f" and {len(names) - 8:,} more" if len(names) > 8 else ""
    return f"Left out, because the log did not have {'it' if len(names) == 1 else 'them'}: {', '.join(names[:8])}{more}."


def reproduced_sentence(figures: int, exact: int, gap: float, differences: int) -> str:
    """Say what came of comparing all figures. gap: the largest difference taken as the same, as a share of the figure."""
    if differences:
        return f"{counted(differences, 'thing')} of the pack came out otherwise; {counted(figures, 'figure')} compared."
    if exact == figures:
        return f"All {figures:,} figures are the same."
    return f"All {figures:,} figures are the same to one part in a million; {figures - exact:,} differ, by {gap:.0e} at most."


def difference_words(member: str, place: str, packed: object, anew: object) -> str:
    """Return one difference, short enough for a line."""
    return f"  {member} {place}: {_short(packed)} in the pack, {_short(anew)} worked out anew"


def _short(value: object) -> str:
    text = "nothing" if value is None else f"{value!r}"
    return text if len(text) <= 60 else f"{text[:57]}…"
