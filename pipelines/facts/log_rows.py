"""Read which files a log was loaded from, in their order, and the rows of them that are about one supplier batch."""

from __future__ import annotations

import pandas as pd

from pipelines.errors import WarehouseError
from pipelines.facts.batch_modules import BatchModules
from pipelines.facts.build import sql_text
from pipelines.facts.read import Connection

#: Free text, which may name people.
FREE_TEXT = "note"


def log_files(connection: Connection) -> pd.DataFrame:
    """Return one row per file and load, in the order of reading: load_id, file, sha256, tables, lines_read, loaded, set_aside,
    repeated, replaced, not_data, mapping (digest) and as_of (ISO: read on that day, a load refuses the
    same dates as lying ahead; null: it refused none).

    Raises WarehouseError where the warehouse was begun before mapping files were kept.
    """
    if not connection.execute("SELECT 1 FROM duckdb_tables() WHERE table_name = 'mapping_file'").fetchall():
        raise WarehouseError("This warehouse does not keep how its files were read.", "Load the exports into a new folder.")
    return _objects(connection, "log_file")


def mapping_files(connection: Connection) -> dict[str, str]:
    """Return digest → content of the mapping files that files of the log were read with."""
    return dict(connection.execute("SELECT digest, content FROM mapping_file ORDER BY digest").fetchall())


def batch_jobs(connection: Connection, batch: str, *, has_free_text: bool) -> pd.DataFrame:
    """Return the rows of the job log about modules that are or may be of a batch: hold, module_fitted_on, file, sheet, line, and
    the columns of the contract as read; the free text of a row only where asked for, as it may name people."""
    BatchModules(connection, batch)
    rows = _objects(connection, "batch_job")
    return rows if has_free_text else rows.drop(columns=FREE_TEXT)


def _objects(connection: Connection, question: str) -> pd.DataFrame:
    """Return rows as Python has them: whole numbers stay whole beside blanks, and dates are dates."""
    found = connection.execute(sql_text("questions", question))
    return pd.DataFrame(found.fetchall(), columns=[column[0] for column in found.description], dtype=object)
