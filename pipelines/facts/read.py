"""Read the histories as counts: a question's filter and grouping go in, a small frame comes out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import duckdb
import pandas as pd

from pipelines.errors import InputError
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
#: Width of the steps of hours per day, on the logarithm: 10 %.
USE_STEP = 0.1


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


def at_hand(connection: duckdb.DuckDBPyConnection) -> duckdb.DuckDBPyConnection:
    """Return the same histories with the spells joined once into memory, for a reader who asks many questions of them."""
    if connection.execute("SELECT current_database()").fetchall()[0][0] == "memory":
        return connection  # rebuilt: they are there
    copy = _beside(connection)
    copy.execute("CREATE TABLE described_spell AS SELECT * FROM fleet.described_spell")
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


class Spells:
    """The spells of one kind, filtered, on one clock; read as counts."""

    def __init__(
        self, connection: duckdb.DuckDBPyConnection, *, kind: str, is_hours: bool,
        by: Sequence[str], where: Mapping[str, Sequence[str]],
    ) -> None:  # fmt: skip
        self._connection = connection
        self._is_hours = is_hours
        _ask(connection, kind, is_hours=is_hours, by=by, where=where)

    def in_days(self) -> None:
        """Turn from hours to days."""
        self._is_hours = False
        _say(self._connection, asked_hours=False)

    def numbers(self) -> pd.DataFrame:
        """Return one row per group, known age and end: GROUPINGS, is_age_known, is_failure and counts."""
        return _typed(self._connection.execute(sql_text("questions", "life_number"), {"is_hours": self._is_hours}).df())

    def modules(self) -> pd.DataFrame:
        """Return one row per group and known age: GROUPINGS, is_age_known, module_count (each module once)."""
        return _typed(self._connection.execute(sql_text("questions", "life_module")).df())

    def counts(self, *, grid: float) -> pd.DataFrame:
        """Return GROUPINGS, is_age_known, entry, lower, upper, at, is_failure, spell_count; times in the clock's unit."""
        return self._rounded("life_count", grid)

    def counts_by_mechanism(self, *, grid: float) -> pd.DataFrame:
        """Return GROUPINGS, is_age_known, entry, at, is_failure, failed_by, spell_count.

        failed_by: the failure mechanism found at the end ('not_recorded' where none was), null where not failed. The
        grouping `mechanism` is another one: that found before the clean which opened the spell.
        """
        return self._rounded("life_mechanism", grid)

    def counts_by_cluster(self, *, grid: float, cluster: str = "controller") -> pd.DataFrame:
        """Return the columns of `counts` and `cluster`, the number of the controller or ('site') of its home site.

        The numbers hold within one build. A site that is not known is null.
        """
        if cluster not in ("controller", "site"):
            raise InputError(f"There are no clusters by {cluster}.", "Take controller or site.")
        frame = self._rounded("life_cluster", grid, {"cluster": cluster})
        frame["cluster"] = frame["cluster"].astype("Int64")
        return frame

    def counts_by_usage(self, *, grid: float) -> pd.DataFrame:
        """Return the columns of `counts`, in days, and hours_per_day: the play hours a day of the spell's controller.

        hours_per_day lies within 5 % of what the readings say; null where they do not say, or nobody played.
        """
        if self._is_hours:
            raise InputError("Hours per day go with ages in days.", "Read the spells in days.")
        return self._rounded("life_usage", grid, {"step": USE_STEP})

    def _rounded(self, question: str, grid: float, parameters: Mapping[str, object] | None = None) -> pd.DataFrame:
        _say(self._connection, asked_grid=grid)
        self._connection.execute(sql_text("questions", "rounded_spell"))
        frame = self._connection.execute(sql_text("questions", question), parameters).df()
        return _typed(frame.rename(columns={"at_time": "at"}))


class Gaps:
    """The spells of whole module lives in their order, as ages of the module; filter by what MODULE_GROUPINGS know."""

    def __init__(
        self, connection: duckdb.DuckDBPyConnection, *, is_hours: bool, by: Sequence[str], where: Mapping[str, Sequence[str]]
    ) -> None:
        self._connection = connection
        self._is_hours = is_hours
        _place_spells(connection, is_hours=is_hours, by=by, where=where)

    def rows(self) -> pd.DataFrame:
        """Return one row per spell with length: MODULE_GROUPINGS, module, cluster (its controller), place, kind,
        is_age_known, opened, entry, lower, upper, ended_by, failed_by, depth_before, depth_after; in order of module, place.

        Ages are those of the module: since its start, else (not is_age_known) since it was first seen. opened: when the
        spell began, which is before `entry` where the log begins later (first lives begin at 0). lower and upper bound a
        failure; upper is infinite where there was none. ended_by: failure, planned_clean or censored; failed_by: as in
        `Spells.counts_by_mechanism`. depth_before: the clean that opened the spell; depth_after: the one that opened the
        next; null where no clean did, and where it was a planned one of a stick that nobody had tested that day.
        place: number within the module, from 1; a number left out is a spell that this clock cannot use.
        """
        return self._connection.execute(sql_text("questions", "gap"), {"is_hours": self._is_hours}).df()


class Recurrent:
    """The failures of controllers, or of their sticks, by age; filter by what MODULE_GROUPINGS know.

    Watched is a controller while one of its sticks is at risk: in service and good. So the shelf, storage, the bench,
    and the time after a warranty are left out, and a controller may have several intervals.
    """

    def __init__(
        self, connection: duckdb.DuckDBPyConnection, *, is_hours: bool, by: Sequence[str],
        where: Mapping[str, Sequence[str]], is_by_stick: bool = False,
    ) -> None:  # fmt: skip
        self._connection = connection
        _place_spells(connection, is_hours=is_hours, by=by, where=where)
        connection.execute(sql_text("questions", "recurrent_spell"), {"is_hours": is_hours, "is_by_stick": is_by_stick})

    def units(self) -> pd.DataFrame:
        """Return one row per watched interval: MODULE_GROUPINGS, unit, is_age_known, entry, exit, is_ended_by_failure.

        Ages are those of the controller: since it was new, else (not is_age_known) since it was first watched.
        is_ended_by_failure: the visit that found its last failure ended the interval.
        """
        return self._connection.execute(sql_text("questions", "recurrent_watch")).df()

    def failures(self) -> pd.DataFrame:
        """Return one row per failure: MODULE_GROUPINGS, unit, is_age_known, at, failed_by, ended_by.

        at: midpoint of the bounds; failed_by: as in `Spells.counts_by_mechanism`; ended_by: what put the stick right
        (clean, other_repair, replacement), null where nothing did so far.
        """
        frame = self._connection.execute(sql_text("questions", "recurrent_failure")).df()
        return frame.rename(columns={"at_time": "at"})

    def ages(self) -> pd.DataFrame:
        """Return the first columns of `failures`, up to `at`, for less."""
        frame = self._connection.execute(sql_text("questions", "recurrent_age")).df()
        return frame.rename(columns={"at_time": "at"})


class Failures:
    """Every stick found failed, once an episode, at intake too; what it read, and what its first clean did."""

    def __init__(self, connection: duckdb.DuckDBPyConnection, *, by: Sequence[str], where: Mapping[str, Sequence[str]]) -> None:
        self._connection = connection
        # what each visit says is not kept in the warehouse: judge the visits again
        connection.execute(sql_text("macros"))
        for name in ("action_kind", "visit"):
            connection.execute(sql_text("tables", name))
        connection.execute(sql_text("questions", "asked_failure"), _asked(by, where, FAILURE_GROUPINGS))

    def counts(self) -> pd.DataFrame:
        """Return FAILURE_GROUPINGS, band, is_tried, is_passed, failure_count.

        band: severity_1 (mildest) to at most severity_10 by the worst as-found departure of all failures asked for,
        in % of half-scale; where nothing was read, the failure mechanism, else not_recorded. is_tried: cleaned at the
        visit that found it; is_passed: the first clean of that visit passed (false where not tried). Cleans without a
        known result are left out.
        """
        return self._connection.execute(sql_text("questions", "failure_count")).df()


class Attempts:
    """The cleaning attempts of a question, filtered; read as counts."""

    def __init__(self, connection: duckdb.DuckDBPyConnection, *, by: Sequence[str], where: Mapping[str, Sequence[str]]) -> None:
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

    def counts_by_controller(self) -> pd.DataFrame:
        """Return GROUPINGS, attempt_count, passed_count, controller_count: how many controllers had so many of each."""
        return _typed(self._connection.execute(sql_text("questions", "attempt_cluster")).df())


def _ask(
    connection: duckdb.DuckDBPyConnection, kind: str | None, *, is_hours: bool,
    by: Sequence[str], where: Mapping[str, Sequence[str]],
) -> None:  # fmt: skip
    asked = _asked(by, where)
    _say(connection, asked_kind=kind, asked_hours=is_hours, asked_by=asked.pop("by"), **asked)
    connection.execute(sql_text("questions", "asked_spell"))


def _say(connection: duckdb.DuckDBPyConnection, **values: object) -> None:
    """Set the variables that the views of a question read."""
    for name, value in values.items():
        connection.execute(f"SET VARIABLE {name} = $value", {"value": value})


def _place_spells(
    connection: duckdb.DuckDBPyConnection, *, is_hours: bool, by: Sequence[str], where: Mapping[str, Sequence[str]]
) -> None:
    for name in (*by, *where):
        if name in GROUPINGS and name not in MODULE_GROUPINGS:
            raise InputError(f"Whole histories have no {name}.", f"Take {', '.join(MODULE_GROUPINGS)}.")
    _ask(connection, None, is_hours=is_hours, by=by, where=where)
    connection.execute(sql_text("questions", "spell_zero"), {"is_hours": is_hours})


def _asked(by: Sequence[str], where: Mapping[str, Sequence[str]], names: Sequence[str] = GROUPINGS) -> dict[str, object]:
    filters = {f"where_{name}": list(where[name]) if name in where else None for name in names}
    dates = {name: where[name][0] if name in where else None for name in ("from_on", "to_on")}
    return {"by": list(by), **filters, **dates}


def _typed(frame: pd.DataFrame) -> pd.DataFrame:
    frame["attempt_number"] = frame["attempt_number"].astype("Int64")
    return frame
