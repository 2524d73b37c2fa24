"""Read which modules are, or may be, of one supplier batch, where each is at the end of the log and what became of it."""

from __future__ import annotations

import pandas as pd

from pipelines.facts.build import sql_text
from pipelines.facts.read import Connection


class BatchModules:
    """The modules of a batch: those whose record says so, those that may be of it, and those of which no batch was written."""

    def __init__(self, connection: Connection, batch: str) -> None:
        self._connection = connection
        connection.execute(sql_text("macros"))
        for question, parameters in (("seat_stay", None), ("batch_module", {"batch": batch})):
            connection.execute(sql_text("questions", question), parameters)

    def rows(self) -> pd.DataFrame:
        """Return one row per module that is or may be of it: hold, label, unit_id, stick, family, site, station, state, and
        fitted_on, first_failed_on, warranty_to (ISO dates), failure_count, age_days, age_h. Null: not known, or does not apply.

        hold, state: of `Hold` and `Whereabouts`; station: where it is in service now; age: now, or when it was replaced.
        """
        return self._read("batch_module_row")

    def unrecorded(self) -> tuple[int, int]:
        """Return how many modules of its sensor type were fitted without a batch while it was in stock, and those in service."""
        return self._connection.execute(sql_text("questions", "batch_module_unrecorded")).fetchall()[0]

    def families(self) -> dict[str | None, int]:
        """Return family → failures of the modules that are of it; without those that never failed."""
        return dict(self._connection.execute(sql_text("questions", "batch_module_family")).fetchall())

    def _read(self, question: str) -> pd.DataFrame:
        return self._connection.execute(sql_text("questions", question)).df()
