"""Recurrence: from a passed clean to the next failure of the same module."""

from __future__ import annotations

import duckdb

from pipelines.answers.frame import answered, checked_window
from pipelines.answers.life import life_groups, read_spells, refused_groups, without_denominator
from pipelines.answers.question import Asked
from pipelines.answers.record import Answer
from pipelines.vocabulary import Because, SpellKind
from pipelines.wording import sentences


def recurrence(connection: duckdb.DuckDBPyConnection, asked: Asked) -> Answer:
    """Answer how long passed cleans hold. `connection` must have its histories under the asked settings."""
    window = checked_window(connection)
    read = read_spells(connection, asked, SpellKind.AFTER_CLEAN)
    blank = without_denominator(read.numbers, asked.by)
    if read.is_hours_refused:
        because = Because.CLOCK_REFUSED
        groups = refused_groups(read, asked, because, sentences.clock_refused_sentence(read.hours))
    elif blank:
        because = Because.NO_DENOMINATOR
        groups = refused_groups(read, asked, because, sentences.no_denominator_sentence(blank))
    else:
        groups = life_groups(read, asked, say=sentences.recurrence_sentence)
    return answered(connection, asked, read, window, groups)
