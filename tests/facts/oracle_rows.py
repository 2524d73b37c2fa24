"""What one row of the log says by itself, for the oracle: plain rows, the state a job shows, and when exposure begins."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import pandas as pd

from pipelines.contract import WAREHOUSE_TABLE, columns_of
from pipelines.settings import Settings

Row = dict[str, object]

DEPTHS = {"clean_air": "air", "clean_flush": "flush", "clean_open": "open"}
#: (setting, column, sign): the job fails when sign × (reading − limit) is above 0.
LIMITS = (
    ("pass_max_rest_offset_pct", "al_rest_offset_pct", 1),
    ("pass_max_jitter_pct", "al_jitter_pct", 1),
    ("pass_max_return_spread_pct", "al_return_spread_pct", 1),
    ("pass_min_reach_pct", "al_reach_pct", -1),
)
_DAY_COLUMNS = {"read_on"}


def rows_of(tables: dict[str, pd.DataFrame], name: str) -> list[Row]:
    """Return the rows of a canonical table with every column of the contract; blank is None, a time is its day."""
    contract = next(table for table, warehouse in WAREHOUSE_TABLE.items() if warehouse == name)
    types = {column.name: column.type for column in columns_of(contract)}
    frame = tables.get(name, pd.DataFrame())
    kept = [column for column in ("job_key", *types) if column in frame.columns]
    blank = dict.fromkeys(types)
    cells = ({**blank, **dict(zip(kept, values, strict=True))} for values in frame[kept].itertuples(index=False, name=None))
    return [{name: _plain(value, types.get(name, "string"), name) for name, value in row.items()} for row in cells]


def _plain(value: object, kind: str, name: str) -> object:
    if value is None or pd.isna(value):
        return None
    if kind == "date" or name in _DAY_COLUMNS:
        return value if type(value) is dt.date else pd.Timestamp(value).date()
    if kind in ("number", "money"):
        return float(value)
    if kind == "integer":
        return int(value)
    return bool(value) if kind == "boolean" else value


@dataclass(frozen=True)
class Job:
    """One job with what it says by itself. Days are ordinals."""

    row: Row
    slot: str | None
    day: int
    actions: tuple[str, ...]
    outcome: str

    @property
    def cleans(self) -> list[int]:
        """Places in the list of actions that are cleans."""
        return [place for place, action in enumerate(self.actions) if action in DEPTHS]

    @property
    def is_untested(self) -> bool:
        return self.row["finding"] in (None, "not_tested")

    @property
    def is_other_fault(self) -> bool:
        return self.row["failure_mode"] in ("click_fault", "mechanical") or self.row["failure_mechanism"] in (
            "software",
            "impact",
        )

    @property
    def is_nff(self) -> bool:
        return self.row["finding"] == "no_fault_found"

    @property
    def is_bad(self) -> bool:
        return self.row["finding"] in ("fault_confirmed", "intermittent") and not self.is_other_fault

    @property
    def is_intake(self) -> bool:
        return self.row["visit_reason"] in ("lot_intake", "incoming_inspection")

    @property
    def is_reported(self) -> bool:
        return not self.is_intake and self.row["visit_reason"] not in ("check", "preventive")

    @property
    def has_repair(self) -> bool:
        return any(action not in ("test_only", "scrap") for action in self.actions)

    @property
    def is_assumed(self) -> bool:
        """Never tested, yet repaired after a complaint: taken for a failure."""
        reason = self.row["visit_reason"] in ("fault_report", "warranty_return", "unknown", None)
        return self.is_untested and self.has_repair and reason and not self.is_other_fault

    @property
    def is_drift(self) -> bool:
        return self.is_bad or self.is_assumed

    @property
    def is_passed(self) -> bool:
        return self.outcome in ("pass", "pass_with_note")

    @property
    def is_good_sight(self) -> bool:
        has_reading = any(value is not None for name, value in self.row.items() if name.startswith("al_"))
        return self.is_nff or (self.is_passed and (self.row["finding"] != "not_tested" or has_reading))

    @property
    def scraps(self) -> bool:
        return "scrap" in self.actions or self.outcome == "scrapped"

    @property
    def replaces(self) -> bool:
        fitted = self.row["part_batch_fitted"] is not None
        new = {"replace_module", "replace_sensor"} | ({"replace_board"} if fitted else set())
        return not self.scraps and any(action in new for action in self.actions)

    @property
    def leaves(self) -> bool:
        return self.row["disposition"] in ("harvest", "scrap", "to_supplier", "hold")


def jobs_of(rows: list[Row], slots: list[str], settings: Settings) -> list[Job]:
    """Return the jobs of one unit in their order; a stick U is the unit's only slot, or none."""
    found = []
    for row in rows:
        stick = row["stick"] if row["stick"] != "U" else (slots[0] if len(slots) == 1 else None)
        actions = tuple(action.strip() for action in str(row["action"] or "test_only").split("+"))
        found.append(Job(row, stick, row["received_on"].toordinal(), actions, _outcome(row, settings)))
    return sorted(found, key=lambda job: _order(job.row))


def _order(row: Row) -> tuple:
    return row["received_on"], row["closed_on"] or row["received_on"], len(row["job_key"]), row["job_key"]


def _outcome(row: Row, settings: Settings) -> str:
    """Return the outcome, `fail` where an as-left reading breaks a pass limit that is set."""
    for setting, column, sign in LIMITS:
        limit, reading = getattr(settings, setting), row[column]
        if limit is not None and reading is not None and sign * (reading - limit) > 0 and row["outcome"] != "scrapped":
            return "fail"
    return row["outcome"] or "unknown"


def slots_of(register: Row | None, rows: list[Row]) -> list[str]:
    """Return the known sticks of a unit: those in the register and those in its jobs, U apart."""
    words = str(register["sticks"] or "") if register else ""
    listed = {word for word in words.replace("+", " ").replace(",", " ").split() if word != "U"}
    return sorted(listed | {row["stick"] for row in rows if row["stick"] not in ("U", None)})


@dataclass(frozen=True)
class Opening:
    """Where exposure begins: the day, the day whose hours it begins with, the sale that began it, the last day followed."""

    day: int
    read_on: int
    sale: int | None = None
    until: int | None = None


def back_in_service(job: Job, register: Row | None, *, is_first_life: bool) -> Opening:
    """Return where exposure begins after a job when the unit is not sold first."""
    row = job.row
    back = row["returned_to_service_on"] or row["closed_on"] or row["received_on"]
    day = read_on = max(back.toordinal(), job.day)
    if register is not None and is_first_life:
        day = read_on = max(day, register["in_service_on"].toordinal())
    if register is None or not is_first_life or register["in_service_on"].toordinal() <= job.day:
        read_on = job.day
    is_customers = register is None and row["warranty_days"]
    return Opening(day, read_on, until=day + row["warranty_days"] if is_customers else None)


def may_be_sold(job: Job, register: Row | None) -> bool:
    """Would a sale that comes next begin the exposure? So for stock and lots, and for every unit that is not registered."""
    return register is None or job.row["lot_id"] is not None or _is_stock(job)


def is_on_shelf(job: Job, sales: list[Row], register: Row | None, *, is_buyers: bool) -> bool:
    """Does the unit wait for a sale? Taken in or graded for sale; not registered, no buyer's, and of a lot or sold later."""
    is_sold = any(sale["sold_on"].toordinal() >= job.day for sale in sales)
    return _is_stock(job) or (register is None and not is_buyers and (job.row["lot_id"] is not None or is_sold))


def _is_stock(job: Job) -> bool:
    return job.row["visit_reason"] == "lot_intake" or str(job.row["disposition"]).startswith("grade_")
