"""The rules of the histories a second time: walk the events of each unit in order, in plain Python.

Slow and simple on purpose. It shares no line with the SQL, so that where both agree the rules are kept, and where
they differ one of them is wrong.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass

import pandas as pd

from pipelines.settings import Settings
from tests.facts.oracle_hours import unit_hours
from tests.facts.oracle_rows import Row, jobs_of, rows_of, slots_of
from tests.facts.oracle_spells import Watch
from tests.facts.oracle_walk import Stick, Unit, walk

ATTEMPT_COLUMNS = (
    "unit_id", "stick", "life", "generation", "job_key", "step", "received_on", "depth", "attempt_number", "is_passed",
    "mechanism", "family",
)  # fmt: skip
MEASURES = ("is_age_known_days", "is_age_known_hours", "entry_days", "lower_days", "upper_days", "at_days", "is_failure",
            "entry_h", "lower_h", "upper_h", "at_h")  # fmt: skip
SPELL_COLUMNS = (
    "unit_id", "stick", "life", "generation", "kind", "opened_on", "age_zero_on", *MEASURES, "depth", "attempt_number",
    "mechanism", "failed_by", "family",
)  # fmt: skip
LIFE_COLUMNS = ("unit_id", "stick", "life", "generation", "opened_on", *MEASURES, "exit_days", "exit_h", "family")
LEFT_OUT = ("intake_untested", "no_outcome", "stick_unknown", "return_stick_unknown", "unconfirmed_returns", "assumed_failures")


@dataclass(frozen=True)
class Histories:
    """attempts: one row per cleaning attempt. spells: one per interval at risk. module_lives: one per module.

    `_days` are days and `_h` play hours since age zero, since first seen where the age is unknown, since the opening
    for every kind but first_life. left_out: counts over the whole log.
    """

    attempts: pd.DataFrame
    spells: pd.DataFrame
    module_lives: pd.DataFrame
    left_out: dict[str, int]
    log_start: dt.date | None
    log_end: dt.date | None


def histories(tables: dict[str, pd.DataFrame], settings: Settings) -> Histories:
    """Return the histories of canonical tables (`job`, `unit`, `sale`, `usage_reading`; absent ones are empty)."""
    jobs, units, sales, readings = (rows_of(tables, name) for name in ("job", "unit", "sale", "usage_reading"))
    log_start, log_end = _watched(jobs, units, sales, readings, settings)
    if log_end is None:
        empty = [pd.DataFrame(columns=list(names)) for names in (ATTEMPT_COLUMNS, SPELL_COLUMNS, LIFE_COLUMNS)]
        return Histories(*empty, dict.fromkeys(LEFT_OUT, 0), log_start, log_end)
    cut = log_end.toordinal() - settings.quiet_lag_days
    watch = Watch((log_start or log_end).toordinal(), log_end.toordinal(), cut)
    found = []
    for unit_id in sorted({row["unit_id"] for row in (*jobs, *units)}):
        unit = _unit(unit_id, jobs, units, sales, readings, settings, watch)
        walk(unit)
        found.append(unit)
    count = sum((unit.left_out for unit in found), Counter())
    return Histories(
        _frame([row for unit in found for row in unit.attempts], ATTEMPT_COLUMNS),
        _frame([row for unit in found for row in unit.spells], SPELL_COLUMNS),
        _frame([row for unit in found for row in unit.module_lives], LIFE_COLUMNS),
        {name: count[name] for name in LEFT_OUT},
        log_start,
        log_end,
    )


def _frame(rows: list[dict], columns: tuple[str, ...]) -> pd.DataFrame:
    return pd.DataFrame([[row.get(name) for name in columns] for row in rows], columns=list(columns), dtype=object)


def _watched(jobs: list[Row], units: list[Row], sales: list[Row], readings: list[Row], settings: Settings) -> tuple:
    starts = [row["received_on"] for row in jobs] + [row["in_service_on"] for row in units]
    ends = [row["received_on"] for row in jobs] + [row["read_on"] for row in readings]
    ends += [sale["sold_on"] for sale in sales] + [sale["returned_on"] for sale in sales if sale["returned_on"]]
    return settings.log_start or min(starts, default=None), settings.log_end or max(ends, default=None)


def _unit(unit_id, jobs, units, sales, readings, settings, watch) -> Unit:
    """Gather the rows of one unit. Rows dated after the end of the log are not read."""
    end = watch.log_end
    rows = [row for row in jobs if row["unit_id"] == unit_id and row["received_on"].toordinal() <= end]
    read = [row for row in readings if row["unit_id"] == unit_id and row["read_on"].toordinal() <= end]
    sold = [sale for sale in sales if sale["unit_id"] == unit_id and sale["sold_on"].toordinal() <= end]
    register = next((row for row in units if row["unit_id"] == unit_id), None)
    slots = slots_of(register, rows)
    ordered = jobs_of(rows, slots, settings)
    hours = unit_hours(
        rows,
        read,
        new_since=_new_unit_since(register, rows),
        is_basis_given=any(row["usage_basis"] is not None for row in jobs),
        is_source_given=any(row["source"] is not None for row in readings),
    )
    sold = [_seen(sale, end) for sale in sorted(sold, key=lambda sale: sale["sold_on"])]
    sticks = {slot: Stick(slot) for slot in slots}
    return Unit(unit_id, register, ordered, sold, hours, bool(units), sticks, watch, settings)


def _seen(sale: Row, end: int) -> Row:
    back = sale["returned_on"]
    return sale if back is None or back.toordinal() <= end else {**sale, "returned_on": None}


def _new_unit_since(register: Row | None, rows: list[Row]) -> int | None:
    """Return the day on which the unit's meter stood at 0: registered as new, or said to be new in an unregistered log."""
    if register is not None:
        return register["in_service_on"].toordinal() if register["new_or_used"] == "new" else None
    known = [row["in_service_since"] for row in rows if row["life_known_from"] == "new" and row["in_service_since"]]
    return min(known).toordinal() if known else None
