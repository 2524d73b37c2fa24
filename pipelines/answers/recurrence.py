"""Recurrence: from a passed clean to the next failure of the same module."""

from __future__ import annotations

from dataclasses import replace

from pipelines.answers.frame import answer
from pipelines.answers.life import life_answer_parts, life_words
from pipelines.answers.life_detail import detailed
from pipelines.answers.question import Asked
from pipelines.answers.record import Answer, LifePart
from pipelines.answers.recurrent_detail import recurrent_detail
from pipelines.answers.spells import read_spells
from pipelines.facts.read import Connection, window
from pipelines.vocabulary import Clock, SpellKind


def recurrence(connection: Connection, asked: Asked) -> Answer:
    """Answer how long passed cleans hold; the histories must stand under the asked settings."""
    read = read_spells(connection, asked, SpellKind.AFTER_CLEAN)
    lives = life_answer_parts(read, asked, refused=None, say=_held, say_since_seen=None)
    groups, whole = detailed(lives, read, asked)
    if lives.known is not None and not asked.is_brief:
        groups, whole["mean_difference"] = recurrent_detail(connection, read, asked, groups)
    given = answer(
        connection, asked, window=window(connection), clock=read.clock, of_question=read.left_out,
        settings=read.settings_used, warnings=lives.warnings, groups=groups,
    )  # fmt: skip
    return replace(given, **whole)


def _held(part: LifePart, clock: Clock, level: float) -> str:
    return life_words(part, clock, level, what="passed cleans", event="drifted again", start=" after the clean")
