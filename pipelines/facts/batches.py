"""Read the modules of supplier batches from fitting to first failure (`batch_spell`), and what stands against a batch."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from pipelines.facts.build import sql_text
from pipelines.facts.read import MODULE_GROUPINGS, Connection
from pipelines.facts.spells import ask_spells, say


class Batches:
    """The spells of modules that a job of this log fitted with a batch, filtered, on one clock.

    A module counts from its fitting to its first failure, as `first_life` does. Its batch is the one written when it was fitted;
    a batch that is written only when a module comes in is known for those that failed alone, and has no denominator.
    Other questions read the view `batch_spell` that this opens; it stands until another `Batches` is made.
    """

    def __init__(
        self, connection: Connection, *, is_hours: bool, where: Mapping[str, Sequence[str]], period_months: int = 6
    ) -> None:
        """where: column of MODULE_GROUPINGS, from_on or to_on → values. period_months: length of a fitting period."""
        self._connection = connection
        ask_spells(connection, "first_life", is_hours=is_hours, by=MODULE_GROUPINGS, where=where)
        say(connection, asked_period_months=period_months)
        connection.execute(sql_text("questions", "batch_spell"))

    def numbers(self) -> pd.DataFrame:
        """Return one row per batch code written anywhere: batch, supplier, part_type, received_on, unit_cost, received_count
        (null: not on record), is_on_record, is_mixed, same_code_as (another code spelt alike, or null), and counts.

        Of modules of the whole log: fitted_count, found_only_count (batch known only as found), fitted_early_count (before
        the batch was received), contradicted_count (came in as another batch), found_before_fitting_count (came in as this
        batch before one was fitted there). Of the spells asked for: spell_count, failure_count, open_count (still watched),
        unit_count (controllers), no_length_count (the clock cannot use them; in none of the others), longest (time).
        """
        return self._read("batch_number")

    def unnamed(self) -> tuple[int, int]:
        """Return how many modules asked for are of no batch: those controllers came with, and those fitted without one."""
        row = self._read("batch_unnamed").iloc[0]
        return int(row["original_count"]), int(row["no_batch_count"])

    def counts(self, *, grid: float) -> pd.DataFrame:
        """Return batch, entry, lower, upper, at, is_failure, failed_by, spell_count, as `Spells.counts` and
        `counts_by_mechanism` have them; ages are known, from 0 at the fitting."""
        frame = self._read("batch_count", {"grid": grid})
        return frame.rename(columns={"at_time": "at"})

    def _read(self, question: str, parameters: Mapping[str, object] | None = None) -> pd.DataFrame:
        return self._connection.execute(sql_text("questions", question), parameters).df()
