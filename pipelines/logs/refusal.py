"""A cell that cannot be read: why, and what to do about it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Refusal:
    """Both texts are shown to the person who exported the file."""

    reason: str
    remedy: str
