"""Time to failure: the age of a module at its first drift, from first-life spells only."""

from __future__ import annotations

from dataclasses import replace

from pipelines.answers.clock_question import clock_question
from pipelines.answers.frame import answer
from pipelines.answers.life import life_answer_parts, life_words
from pipelines.answers.life_detail import detailed
from pipelines.answers.question import Asked
from pipelines.answers.record import Answer, LifePart
from pipelines.answers.spells import Read, read_spells
from pipelines.facts.read import Connection, Window, window
from pipelines.vocabulary import Because, Clock, SpellKind
from pipelines.wording import verdict


def time_to_failure(connection: Connection, asked: Asked) -> Answer:
    """Answer how long modules last until they first drift; the histories must stand under the asked settings.

    Refused for a log of failures only: no register, and no stick seen good as found (truncated on the right).
    """
    seen = window(connection)
    read = read_spells(connection, asked, SpellKind.FIRST_LIFE)
    truncated = (Because.FAILURES_ONLY, verdict.failures_only_sentence()) if is_truncated(seen) else None
    lives = life_answer_parts(read, asked, refused=truncated, say=_known, say_since_seen=_since_seen)
    groups, whole = detailed(lives, read, asked)
    if whole:
        whole["clock_question"] = clock_question(connection, asked)
    warnings = lives.warnings
    if not seen.has_register and truncated is None:
        warnings = [verdict.bench_only_warning(), *warnings]
    given = answer(
        connection, asked, window=seen, clock=read.clock, of_question=_left_out(read), settings=read.settings_used,
        warnings=warnings, groups=groups,
    )  # fmt: skip
    return replace(given, **whole)


def is_truncated(seen: Window) -> bool:
    """Tell whether the log holds failures only, so that first lives are truncated on the right."""
    return not seen.has_register and not seen.has_good_sights


def _left_out(read: Read) -> dict[str, int]:
    return {**read.left_out, "age_unknown": read.unknown_age_count}


def _known(part: LifePart, clock: Clock, level: float) -> str:
    return life_words(part, clock, level)


def _since_seen(part: LifePart, clock: Clock, level: float) -> str:
    return life_words(part, clock, level, what="modules of unknown age", start=" after they were first seen")
