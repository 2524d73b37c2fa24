"""Read the modules of supplier batches from fitting to first failure (`batch_spell`), and what stands against a batch."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.facts.build import sql_text
from pipelines.facts.read import MODULE_GROUPINGS, Connection, worded
from pipelines.facts.spells import ask_spells, say

#: Ages are put into steps by a table of so many parts of the longest.
STEP_PARTS = 512


@dataclass(frozen=True)
class BatchCounts:
    """steps: ends of the age steps; strata: family, usage_class, site, fitting_period, by number; batches: names, by number;
    counts: stratum_no, batch_no, step, is_entry, spell_count, age_sum, failure_count."""

    steps: np.ndarray
    strata: pd.DataFrame
    batches: list[str]
    counts: pd.DataFrame


class Batches:
    """The spells of modules that a job of this log fitted with a batch, filtered, on one clock.

    A module counts from its fitting to its first failure, as `first_life` does. Its batch is the one written when it was fitted;
    a batch that is written only when a module comes in is known for those that failed alone, and has no denominator.
    Other questions read the table `batch_spell` that this makes; it stands until another `Batches` is made.
    """

    def __init__(
        self, connection: Connection, *, is_hours: bool, where: Mapping[str, Sequence[str]], period_months: int = 6
    ) -> None:
        """where: column of MODULE_GROUPINGS, from_on or to_on → values. period_months: length of a fitting period."""
        self._connection = connection
        connection.execute(sql_text("macros"))
        ask_spells(connection, "first_life", is_hours=is_hours, by=MODULE_GROUPINGS, where=where)
        say(connection, asked_period_months=period_months)
        connection.execute(sql_text("questions", "batch_spell"))

    def clocks(self) -> pd.DataFrame:
        """Return one row per is_failure: day_count, no_hours_count, is_age_known (true), as the check of the hour clock takes."""
        return self._read("batch_clock")

    def in_days(self) -> None:
        """Turn from hours to days."""
        say(self._connection, asked_hours=False)
        self._connection.execute(sql_text("questions", "batch_spell"))

    def numbers(self) -> pd.DataFrame:
        """Return one row per batch code written anywhere: batch, supplier, part_type, received_on, unit_cost, received_count
        (null: not on record), is_on_record, is_mixed, same_code_as (another code spelt alike, or null), and counts.

        Of modules of the whole log: fitted_count, found_only_count (batch known only as found), fitted_early_count (before
        the batch was received), contradicted_count (came in as another batch), found_before_fitting_count (came in as this
        batch before one was fitted there). Of the spells asked for: spell_count, failure_count, open_count (still watched),
        unit_count (controllers), no_length_count (the clock cannot use them; in none of the others), longest (time).
        """
        return self._read("batch_number")

    def unnamed(self) -> tuple[int, int, int]:
        """Return how many modules asked for are of no batch: those controllers came with, those fitted without one, and those
        whose label names several."""
        return tuple(int(count) for count in self._read("batch_unnamed").iloc[0])

    def counts(self, *, grid: float) -> pd.DataFrame:
        """Return batch, entry, lower, upper, at, is_failure, failed_by, spell_count, as `Spells.counts` and
        `counts_by_mechanism` have them; ages are known, from 0 at the fitting."""
        frame = self._read("batch_count", {"grid": grid})
        return frame.rename(columns={"at_time": "at"})

    def steps(self, count: int) -> np.ndarray:
        """Return the ends of so many steps of age, (count + 1,), from 0 to the longest; each with about as many failures.

        Fewer where failures fall together; none (1,) without a spell. The ends are multiples of the longest over STEP_PARTS.
        """
        inner = [place / count for place in range(1, count)]
        row = self._connection.execute(sql_text("questions", "batch_age"), {"shares": inner}).fetchall()[0]
        longest, ages = row[0] or 0.0, np.array(row[1] or [], dtype=float)
        if not longest > 0:
            return np.zeros(1)
        width = longest / STEP_PARTS
        places = np.unique(np.clip(np.round(ages / width), 1, STEP_PARTS - 1))
        return np.concatenate([[0.0], places * width, [longest]])

    def cells(self, steps: np.ndarray) -> BatchCounts:
        """Return the spells with length as counts by stratum, batch and age step. steps: as `steps` gives them."""
        width = steps[-1] / STEP_PARTS
        place = np.searchsorted(np.round(steps[1:-1] / width), np.arange(STEP_PARTS + 1), side="right")
        for question in ("batch_stratum", "batch_code"):
            self._connection.execute(sql_text("questions", question))
        self._connection.execute(sql_text("questions", "batch_row"), {"steps": place.tolist(), "width": float(width)})
        strata = worded(self._connection.execute("FROM batch_stratum ORDER BY stratum_no").df())
        names = [row[0] for row in self._connection.execute("SELECT batch FROM batch_code ORDER BY batch_no").fetchall()]
        return BatchCounts(steps, strata.drop(columns="stratum_no"), names, self._read("batch_cell"))

    def alike(self, law: pd.DataFrame, factor: np.ndarray) -> pd.DataFrame:
        """Return by batch, in the order of `cells`: by_unit, by_module (sums of squares of failures less those expected, summed
        by controller and by module), expected_per_day (failures of the modules still watched, by the law without the factor).

        law: stratum_no, step, from_age, hazard, until_step (cumulative hazard up to from_age); factor: of each batch.
        """
        factors = pd.DataFrame({"batch_no": np.arange(len(factor), dtype=np.int32), "factor": factor})
        for name, frame in (("batch_law", law), ("batch_factor", factors)):
            self._connection.register(name, frame)
        found = self._read("batch_alike")
        for name in ("batch_law", "batch_factor"):
            self._connection.unregister(name)
        return found

    def _read(self, question: str, parameters: Mapping[str, object] | None = None) -> pd.DataFrame:
        return worded(self._connection.execute(sql_text("questions", question), parameters).df())
