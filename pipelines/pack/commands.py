"""The commands that work a pack out anew."""

from __future__ import annotations

from shlex import quote

from pipelines.answers.batch_exhibit_record import BatchExhibit


def commands(answer: BatchExhibit) -> list[str]:
    """Return the one command that works the pack out anew and compares it, and the one that makes it from a loaded log."""
    words = [quote(f"batch={answer.case.batch}"), *(["notes=yes"] if answer.case.notes else [])]
    changed = [quote(f"{name}={'' if value is None else value}") for name, value in answer.changed.items()]
    chosen = ["--set", *changed] if changed else []
    made = ["stickfleet answer batch-exhibit --case", *words, "--level", f"{answer.level:g}", *chosen, "--out PACK.zip"]
    return ["stickfleet reproduce PACK.zip PATH…", " ".join(made)]
