"""Recurrence: from a passed clean to the next failure of the same module."""

from __future__ import annotations

from pipelines.answers.frame import answer
from pipelines.answers.life import life_answer_parts, life_words, read_spells
from pipelines.answers.question import Asked
from pipelines.answers.record import Answer, LifePart
from pipelines.facts.read import Connection, window
from pipelines.vocabulary import Clock, SpellKind


def recurrence(connection: Connection, asked: Asked) -> Answer:
    """Answer how long passed cleans hold; the histories must stand under the asked settings."""
    read = read_spells(connection, asked, SpellKind.AFTER_CLEAN)
    groups, warnings = life_answer_parts(read, asked, refused=None, say=_held, say_since_seen=None)
    return answer(
        connection, asked, window=window(connection), clock=read.clock, of_question=read.left_out,
        settings=read.settings_used, warnings=warnings, groups=groups,
    )  # fmt: skip


def _held(part: LifePart, clock: Clock, level: float) -> str:
    return life_words(part, clock, level, what="passed cleans", event="drifted again", start=" after the clean")
