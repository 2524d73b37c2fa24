"""Read the spells as counts: a question's filter and grouping go in, a small frame comes out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from pipelines.errors import InputError
from pipelines.facts.build import sql_text
from pipelines.facts.read import GROUPINGS, MODULE_GROUPINGS, Connection, asked_parameters, typed, worded

#: Width of the steps of hours per day, on the logarithm: 10 %.
USE_STEP = 0.1


class Spells:
    """The spells of one kind, filtered, on one clock; read as counts."""

    def __init__(
        self, connection: Connection, *, kind: str, is_hours: bool,
        by: Sequence[str], where: Mapping[str, Sequence[str]],
    ) -> None:  # fmt: skip
        self._connection = connection
        self._is_hours = is_hours
        ask_spells(connection, kind, is_hours=is_hours, by=by, where=where)

    def in_days(self) -> None:
        """Turn from hours to days."""
        self._is_hours = False
        say(self._connection, asked_hours=False)

    def numbers(self) -> pd.DataFrame:
        """Return one row per group, known age and end: GROUPINGS, is_age_known, is_failure and counts."""
        return typed(self._connection.execute(sql_text("questions", "life_number"), {"is_hours": self._is_hours}).df())

    def modules(self) -> pd.DataFrame:
        """Return one row per group and known age: GROUPINGS, is_age_known, module_count (each module once)."""
        return typed(self._connection.execute(sql_text("questions", "life_module")).df())

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
        say(self._connection, asked_grid=grid)
        self._connection.execute(sql_text("questions", "rounded_spell"))
        frame = self._connection.execute(sql_text("questions", question), parameters).df()
        return typed(frame.rename(columns={"at_time": "at"}))


class Gaps:
    """The spells of whole module lives in their order, as ages of the module; filter by what MODULE_GROUPINGS know."""

    def __init__(self, connection: Connection, *, is_hours: bool, by: Sequence[str], where: Mapping[str, Sequence[str]]) -> None:
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
        return worded(self._connection.execute(sql_text("questions", "gap"), {"is_hours": self._is_hours}).df())


class Recurrent:
    """The failures of controllers, or of their sticks, by age; filter by what MODULE_GROUPINGS know.

    Watched is a controller while one of its sticks is at risk: in service and good. So the shelf, storage, the bench,
    and the time after a warranty are left out, and a controller may have several intervals.
    """

    def __init__(
        self, connection: Connection, *, is_hours: bool, by: Sequence[str],
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
        return worded(self._connection.execute(sql_text("questions", "recurrent_watch")).df())

    def failures(self) -> pd.DataFrame:
        """Return one row per failure: MODULE_GROUPINGS, unit, is_age_known, at, failed_by, ended_by.

        at: midpoint of the bounds; failed_by: as in `Spells.counts_by_mechanism`; ended_by: what put the stick right
        (clean, other_repair, replacement), null where nothing did so far.
        """
        frame = worded(self._connection.execute(sql_text("questions", "recurrent_failure")).df())
        return frame.rename(columns={"at_time": "at"})

    def ages(self) -> pd.DataFrame:
        """Return the first columns of `failures`, up to `at`, for less."""
        frame = worded(self._connection.execute(sql_text("questions", "recurrent_age")).df())
        return frame.rename(columns={"at_time": "at"})


def ask_spells(
    connection: Connection, kind: str | None, *, is_hours: bool,
    by: Sequence[str], where: Mapping[str, Sequence[str]],
) -> None:  # fmt: skip
    """Open the view `asked_spell`: spells of a kind (None: all), on a clock, split and filtered as `asked_parameters` says."""
    asked = asked_parameters(by, where)
    say(connection, asked_kind=kind, asked_hours=is_hours, asked_by=asked.pop("by"), **asked)
    connection.execute(sql_text("questions", "asked_spell"))


def say(connection: Connection, **values: object) -> None:
    """Set the variables that the views of a question read."""
    for name, value in values.items():
        connection.execute(f"SET VARIABLE {name} = $value", {"value": value})


def _place_spells(connection: Connection, *, is_hours: bool, by: Sequence[str], where: Mapping[str, Sequence[str]]) -> None:
    for name in (*by, *where):
        if name in GROUPINGS and name not in MODULE_GROUPINGS:
            raise InputError(f"Whole histories have no {name}.", f"Take {', '.join(MODULE_GROUPINGS)}.")
    ask_spells(connection, None, is_hours=is_hours, by=by, where=where)
    connection.execute(sql_text("questions", "spell_zero"), {"is_hours": is_hours})
