"""Open the histories, read what the log as a whole has, and the cleaning attempts and failures as counts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import duckdb
import numpy as np
import pandas as pd

from pipelines.facts.build import build, sql_text, words
from pipelines.settings import Settings

#: What a caller hands in; only this room opens or queries it.
Connection = duckdb.DuckDBPyConnection

#: The columns that questions can be split and filtered by.
GROUPINGS = ("family", "usage_class", "site", "stick", "sensor_type", "batch", "depth", "mechanism", "attempt_number")
#: Those that are known of a module or its controller, whatever was done to it.
MODULE_GROUPINGS = GROUPINGS[:6]
#: Those of a failure: what was found as well.
FAILURE_GROUPINGS = (*MODULE_GROUPINGS, "mechanism")


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
    copy = _beside(connection)
    build(copy, settings)
    return copy


def steady(connection: duckdb.DuckDBPyConnection, settings: Settings) -> duckdb.DuckDBPyConnection:
    """Return the histories under `settings` in a database of their own, connection: to the file itself.

    One thread reads it, so that what is summed up comes out the same to the last digit every time.
    """
    built = connection.execute("SELECT settings FROM history_built_with").fetchall()[0][0]
    copy = _beside(connection)
    copy.execute("SET threads = 1")
    if built != words(settings):
        build(copy, settings)
    return copy


def _beside(connection: duckdb.DuckDBPyConnection) -> duckdb.DuckDBPyConnection:
    """Return a new in-memory database that also finds what is in the file of `connection`."""
    path = connection.execute(sql_text("questions", "own_path")).fetchall()[0][0]
    copy = duckdb.connect()
    copy.execute("SET enable_progress_bar = false")
    copy.execute("SET memory_limit = '1000MB'")
    copy.execute("ATTACH $path AS fleet (READ_ONLY)", {"path": path})
    # what is built lands in memory; what is only read is found in the file
    copy.execute("SET search_path = 'memory.main,fleet.main'")
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


def holds(connection: duckdb.DuckDBPyConnection, question: str, column: str, value: str) -> bool:
    """Tell whether a grouping column of a question has a value somewhere in the log; quicker than all its choices."""
    name = "attempt_holds" if question == "cleaning-success" else "spell_holds"
    return connection.execute(sql_text("questions", name), {"grouping": column, "value": value}).fetchall()[0][0]


def overview(connection: duckdb.DuckDBPyConnection) -> dict[str, object]:
    """Return the size of the fleet's record: jobs, units, modules, attempts, failures and the log's window."""
    frame = connection.execute(sql_text("questions", "overview")).df()
    return frame.iloc[0].to_dict()


class Failures:
    """Every stick found failed, once an episode, at intake too; what it read, and what its first clean did."""

    def __init__(self, connection: duckdb.DuckDBPyConnection, *, by: Sequence[str], where: Mapping[str, Sequence[str]]) -> None:
        self._connection = connection
        # what each visit says is not kept in the warehouse: judge the visits again
        connection.execute(sql_text("macros"))
        for name in ("action_kind", "visit"):
            connection.execute(sql_text("tables", name))
        connection.execute(sql_text("questions", "asked_failure"), asked_parameters(by, where, FAILURE_GROUPINGS))

    def counts(self) -> pd.DataFrame:
        """Return FAILURE_GROUPINGS, band, is_tried, is_passed, failure_count.

        band: severity_1 (mildest) to at most severity_10 by the worst as-found departure of all failures asked for,
        in % of half-scale; where nothing was read, the failure mechanism, else not_recorded. is_tried: cleaned at the
        visit that found it; is_passed: the first clean of that visit passed (false where not tried). Cleans without a
        known result are left out.
        """
        return worded(self._connection.execute(sql_text("questions", "failure_count")).df())


class Attempts:
    """The cleaning attempts of a question, filtered; read as counts."""

    def __init__(self, connection: duckdb.DuckDBPyConnection, *, by: Sequence[str], where: Mapping[str, Sequence[str]]) -> None:
        self._connection = connection
        connection.execute(sql_text("questions", "asked_attempt"), asked_parameters(by, where))

    def size(self) -> tuple[int, float]:
        """Return how many attempts there are, and the longest follow-up in hours (0 without any)."""
        return self._connection.execute(sql_text("questions", "attempt_size")).fetchall()[0]

    def counts(self, *, is_hours: bool, grid: float) -> pd.DataFrame:
        """Return GROUPINGS, is_worn_track, is_passed, at, is_failure, attempt_count, and what is known of the hours."""
        parameters = {"is_hours": is_hours, "grid": grid}
        frame = self._connection.execute(sql_text("questions", "attempt_count"), parameters).df()
        return typed(frame.rename(columns={"at_time": "at"}))

    def counts_by_controller(self) -> pd.DataFrame:
        """Return GROUPINGS, attempt_count, passed_count, controller_count: how many controllers had so many of each."""
        return typed(self._connection.execute(sql_text("questions", "attempt_cluster")).df())


def asked_parameters(
    by: Sequence[str], where: Mapping[str, Sequence[str]], names: Sequence[str] = GROUPINGS
) -> dict[str, object]:
    """Return the parameters of an `asked_*.sql`; where: column → values, and from_on, to_on. A filter not given is null."""
    filters = {f"where_{name}": list(where[name]) if name in where else None for name in names}
    dates = {name: where[name][0] if name in where else None for name in ("from_on", "to_on")}
    return {"by": list(by), **filters, **dates}


def worded(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the frame with plain text, null where blank, for the words that the warehouse numbers."""
    for name in frame.columns[frame.dtypes == "category"]:
        numbered = frame[name].cat
        words = np.append(numbered.categories.to_numpy(object), None)
        frame[name] = words[numbered.codes.to_numpy()]
    return frame


def typed(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the frame with its words as text and the attempt number a whole number beside blanks."""
    frame["attempt_number"] = frame["attempt_number"].astype("Int64")
    return worded(frame)
