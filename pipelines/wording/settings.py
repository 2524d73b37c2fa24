"""The settings as text."""

from __future__ import annotations

from dataclasses import fields
from textwrap import fill

from pipelines.settings import Settings


def settings_text(settings: Settings) -> str:
    """Return every setting with its value, default, unit and help."""
    lines = []
    for one in fields(settings):
        value, default = getattr(settings, one.name), one.default
        changed = "" if value == default else f"  (default {_word(default)})"
        lines.append(f"{one.name} = {_word(value)}{changed}  [{one.metadata['unit']}]")
        lines.append(fill(one.metadata["help"], 100, initial_indent="    ", subsequent_indent="    "))
    return "\n".join(lines)


def _word(value: object) -> str:
    return "blank" if value is None else str(value).lower() if isinstance(value, bool) else str(value)
