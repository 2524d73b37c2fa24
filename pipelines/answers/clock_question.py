"""Whether first lives go by play hours or by days, read off how life in days goes with the hours a day."""

from __future__ import annotations

from pipelines.answers.detail import ClockQuestion
from pipelines.answers.question import Asked
from pipelines.answers.spells import grid_for
from pipelines.estimates.clock_choice import clock_choice
from pipelines.estimates.estimate import Estimate
from pipelines.facts.read import Connection
from pipelines.facts.spells import Spells
from pipelines.vocabulary import Because, ClockVerdict, SpellKind


def clock_question(connection: Connection, asked: Asked) -> ClockQuestion:
    """Return which clock the first lives of all groups together bear out, of units whose hours a day are known.

    Reads the spells anew, in days; what was read before is no longer at hand.
    """
    spells = Spells(connection, kind=SpellKind.FIRST_LIFE, is_hours=False, by=(), where=asked.where)
    numbers = spells.numbers()
    grid = 0.0
    if len(numbers):
        # A grid that was set may be in hours.
        plain = asked.settings.overlaid({"grid": None})
        grid = grid_for(plain, int(numbers["spell_count"].sum()), float(numbers["longest"].max()))
    counts = spells.counts_by_usage(grid=grid)
    usable = counts["is_age_known"].astype(bool) & counts["hours_per_day"].notna()
    found = clock_choice(counts[usable], by=[], level=asked.level)
    if not found:
        return ClockQuestion(Because.NO_SPELLS, ClockVerdict.CANNOT_TELL, Estimate.refused(Because.NO_SPELLS), 0)
    return ClockQuestion(found[0].because, found[0].verdict, found[0].coefficient, found[0].failures)
