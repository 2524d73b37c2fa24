"""Read the histories as counts: a question's filter and grouping go in, a small frame comes out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import duckdb
import pandas as pd

from pipelines.facts.build import build, sql_text, words
from pipelines.settings import Settings

#: What a caller hands in; only this room opens or queries it.
Connection = duckdb.DuckDBPyConnection

#: The columns that questions can be split and filtered by.
GROUPINGS = ("family", "usage_class", "site", "stick", "sensor_type", "batch", "depth", "mechanism", "attempt_number")


@dataclass(frozen=True)
class Window:
    """The dates between which the log was watched (ISO), and what the log has."""

    log_start: str | None
    log_end: str | None
    has_register: bool
    has_good_sights: bool
    early_registered_count: int
    first_job_on: str | None


def standing(connection: duckdb.DuckDBPyConnection, settings: Settings) -> duckdb.DuckDBPyConnection:
    """Return a connection whose histories stand under `settings`: the same one, or a rebuilt copy in memory."""
    built = connection.execute("SELECT settings FROM history_built_with").fetchall()[0][0]
    return connection if built == words(settings) else rebuilt(connection, settings)


def rebuilt(connection: duckdb.DuckDBPyConnection, settings: Settings) -> duckdb.DuckDBPyConnection:
    """Return a new in-memory database with the same canonical rows and histories built under `settings`."""
    path = connection.execute(sql_text("questions", "own_path")).fetchall()[0][0]
    copy = duckdb.connect()
    copy.execute("SET enable_progress_bar = false")
    copy.execute("SET memory_limit = '1000MB'")
    copy.execute("ATTACH $path AS fleet (READ_ONLY)", {"path": path})
    # what is built lands in memory; what is only read is found in the file
    copy.execute("SET search_path = 'memory.main,fleet.main'")
    build(copy, settings)
    return copy


def window(connection: duckdb.DuckDBPyConnection) -> Window:
    """Return the window of the log and whether it has a register and as-found good sights."""
    row = connection.execute(sql_text("questions", "window")).fetchall()[0]
    return Window(*row)


def left_out(connection: duckdb.DuckDBPyConnection) -> dict[str, int]:
    """Return how many rows of the whole log no answer can use, by kind."""
    return dict(connection.execute("SELECT kind, CAST(row_count AS BIGINT) FROM left_out ORDER BY kind").fetchall())


def doubtful_hours(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """Return the lines whose play hours are not used, because they fell or beat the calendar, as set_aside has them."""
    return connection.execute(sql_text("questions", "doubtful_hours")).df()


def spelt_alike(connection: duckdb.DuckDBPyConnection) -> list[tuple[str, int, str, str]]:
    """Return kinds of names of which some differ only in capitals or spaces: kind, how many, and two of them."""
    return connection.execute(sql_text("questions", "spelt_alike")).fetchall()


def choices(connection: duckdb.DuckDBPyConnection, question: str) -> dict[str, list[str]]:
    """Return the values that occur in each grouping column of a question ('cleaning-success' or a life question)."""
    name = "attempt_choice" if question == "cleaning-success" else "spell_choice"
    frame = connection.execute(sql_text("questions", name)).df()
    return {column: list(part) for column, part in frame.groupby("grouping")["value"]}


def overview(connection: duckdb.DuckDBPyConnection) -> dict[str, object]:
    """Return the size of the fleet's record: jobs, units, modules, attempts, failures and the log's window."""
    frame = connection.execute(sql_text("questions", "overview")).df()
    return frame.iloc[0].to_dict()


class Spells:
    """The spells of one kind, filtered, on one clock; read as counts."""

    def __init__(
        self, connection: duckdb.DuckDBPyConnection, *, kind: str, is_hours: bool,
        by: Sequence[str], where: Mapping[str, Sequence[str]],
    ) -> None:  # fmt: skip
        self._connection = connection
        self._is_hours = is_hours
        connection.execute(sql_text("questions", "asked_spell"), {
            "kind": kind, "is_hours": is_hours, **_asked(by, where),
        })  # fmt: skip

    def numbers(self) -> pd.DataFrame:
        """Return one row per group, known age and end: GROUPINGS, is_age_known, is_failure and counts."""
        return _typed(self._connection.execute(sql_text("questions", "life_number"), {"is_hours": self._is_hours}).df())

    def modules(self) -> pd.DataFrame:
        """Return one row per group and known age: GROUPINGS, is_age_known, module_count (each module once)."""
        return _typed(self._connection.execute(sql_text("questions", "life_module")).df())

    def counts(self, *, grid: float) -> pd.DataFrame:
        """Return GROUPINGS, is_age_known, entry, lower, upper, at, is_failure, spell_count; times in the clock's unit."""
        frame = self._connection.execute(sql_text("questions", "life_count"), {"grid": grid}).df()
        return _typed(frame.rename(columns={"at_time": "at"}))


class Attempts:
    """The cleaning attempts of a question, filtered; read as counts."""

    def __init__(
        self, connection: duckdb.DuckDBPyConnection, *, by: Sequence[str], where: Mapping[str, Sequence[str]]
    ) -> None:
        self._connection = connection
        connection.execute(sql_text("questions", "asked_attempt"), _asked(by, where))

    def size(self) -> tuple[int, float]:
        """Return how many attempts there are, and the longest follow-up in hours (0 without any)."""
        return self._connection.execute(sql_text("questions", "attempt_size")).fetchall()[0]

    def counts(self, *, is_hours: bool, grid: float) -> pd.DataFrame:
        """Return GROUPINGS, is_worn_track, is_passed, at, is_failure, attempt_count, and what is known of the hours."""
        parameters = {"is_hours": is_hours, "grid": grid}
        frame = self._connection.execute(sql_text("questions", "attempt_count"), parameters).df()
        return _typed(frame.rename(columns={"at_time": "at"}))


def _asked(by: Sequence[str], where: Mapping[str, Sequence[str]]) -> dict[str, object]:
    filters = {f"where_{name}": list(where[name]) if name in where else None for name in GROUPINGS}
    dates = {name: where[name][0] if name in where else None for name in ("from_on", "to_on")}
    return {"by": list(by), **filters, **dates}


def _typed(frame: pd.DataFrame) -> pd.DataFrame:
    frame["attempt_number"] = frame["attempt_number"].astype("Int64")
    return frame
