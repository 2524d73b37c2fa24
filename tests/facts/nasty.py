"""Seeded nasty logs: every trouble that a real log may hold, thick on the ground. Nothing in them means anything."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd

from pipelines.contract import WAREHOUSE_TABLE, columns_of
from pipelines.settings import Settings

BEGIN = dt.date(2024, 1, 8)
SPAN_DAYS = 540
FAMILIES = ("Testfam", "Otherfam", "Thirdfam")
MECHANISMS = ("contamination", "track_wear", "liquid_residue", "wiper_wear", "unknown", None)
ACTIONS = (
    "clean_air", "clean_flush", "clean_open", "clean_air+clean_flush", "clean_flush+clean_open", "clean_flush+recalibrate",
    "clean_open+replace_module", "clean_air+clean_open+replace_module", "replace_module", "replace_sensor", "replace_board",
    "clean_flush+replace_board", "recalibrate", "resolder", "adjust+recalibrate", "test_only", "scrap", "clean_open+scrap",
)  # fmt: skip
ACTION_ODDS = np.array([8, 8, 8, 4, 5, 4, 3, 1, 4, 2, 1.5, 1, 4, 2, 2, 5, 1, 1])
OUTCOMES = ("pass", "pass_with_note", "fail", "scrapped", "returned_unrepaired", "open", "unknown")
OUTCOME_ODDS = np.array([60, 8, 18, 1, 3, 4, 3])


class NastyLog:
    """Rows gathered for the tables, and the dice they are thrown with."""

    def __init__(self, seed: int):
        self.dice = np.random.default_rng(seed)
        self.rows: dict[str, list[dict]] = {"job": [], "unit": [], "sale": [], "usage_reading": [], "part_batch": []}
        self.is_basis_given = seed % 4 != 1
        self.has_register = seed % 5 != 4

    def chance(self, share: float) -> bool:
        return bool(self.dice.random() < share)

    def pick(self, choices, odds=None):
        share = None if odds is None else np.asarray(odds) / np.sum(odds)
        return choices[int(self.dice.choice(len(choices), p=share))]

    def days(self, low: int, high: int) -> int:
        return int(self.dice.integers(low, high + 1))

    def date(self, day: int) -> dt.date:
        return BEGIN + dt.timedelta(days=int(day))

    def job(self, unit: str, stick: str, day: int, *, shared_id: str | None = None, **cells: object) -> dict:
        """Write one job; `shared_id`: the id of a row that named both sticks and was split."""
        number = len(self.rows["job"]) + 1
        received = self.date(day)
        key = f"J{number}" if self.chance(0.9) else f"{unit}|{stick}|{received}|{number}"
        key = f"{shared_id}#{stick}" if shared_id else key
        row = {"unit_id": unit, "stick": stick, "received_on": received, "job_key": key} | cells
        if not key.count("|"):
            row["job_id"] = shared_id or key
        self.rows["job"].append(row)
        return row


def nasty_settings(seed: int) -> Settings:
    """Return settings to read the log of this seed with; every fourth seed keeps the defaults."""
    choices = (
        {},
        {"notice_days": 0, "quiet_lag_days": 0},
        {"log_start": BEGIN + dt.timedelta(days=100), "preventive_clean_censors": False, "notice_days": 7.5},
        {"pass_max_rest_offset_pct": 8, "pass_min_reach_pct": 92, "log_end": BEGIN + dt.timedelta(days=450)},
    )
    return Settings().overlaid(choices[seed % 4])


def nasty_log(seed: int, units: int = 40) -> dict[str, pd.DataFrame]:
    """Return the canonical tables of a nasty log, rows in no order: the contract's columns, and `job_key` on `job`."""
    log = NastyLog(seed)
    makers = (_rental, _for_sale, _rental, _for_sale, _customers, _rental, _for_sale, _silent)
    for number in range(units):
        makers[number % len(makers)](log, f"{'0' if number % 9 == 0 else 'U'}{number:03d}")
    log.rows["part_batch"] = [
        {"batch_id": batch, "supplier": "S1", "part_type": "module", "received_on": BEGIN, "qty": 90, "unit_cost": 2.5}
        for batch in ("B1", "B2")
    ]
    if not log.has_register:
        log.rows["unit"] = []
    return {name: _frame(log, name) for name in log.rows}


def _frame(log: NastyLog, name: str) -> pd.DataFrame:
    contract = next(table for table, warehouse in WAREHOUSE_TABLE.items() if warehouse == name)
    names = [column.name for column in columns_of(contract)] + (["job_key"] if name == "job" else [])
    rows = [log.rows[name][place] for place in log.dice.permutation(len(log.rows[name]))]
    frame = pd.DataFrame([[row.get(column) for column in names] for row in rows], columns=names, dtype=object)
    if name == "job" and not log.is_basis_given:
        frame["usage_basis"] = None
    if name == "usage_reading" and not log.is_basis_given:
        frame["source"] = None
    return frame.where(frame.notna(), None)


# ---------------------------------------------------------------- kinds of units


def _rental(log: NastyLog, unit: str) -> None:
    """A unit in service here: registered, visited now and then, perhaps scrapped and its tag used again."""
    condition = log.pick(("new", "used", "refurbished", "unknown", None), (6, 3, 1, 1, 1))
    begin = log.days(-200, 200)
    sticks = log.pick(("L+R", "S", None, "R, L"), (5, 2, 2, 1))
    slots = ("S",) if sticks == "S" else ("L", "R")
    register = _register(log, unit, begin, condition, sticks)
    start = max(begin, 0)
    meter = _Meter(log, unit, begin, 0 if condition == "new" else log.days(50, 900))
    known = _known_age(log, begin, condition)
    if condition == "new" and begin > 20 and log.chance(0.3):
        _visit(log, unit, slots, begin - log.days(3, 15), meter=None, reasons=("incoming_inspection",), known=known)
    day, is_scrapped = start, False
    while (day := day + log.days(2, 130)) < SPAN_DAYS:
        is_scrapped |= _visit(log, unit, slots, day, meter=meter, known={} if is_scrapped else known)
        if log.chance(0.15):
            _visit(log, unit, slots, day, meter=meter, known={} if is_scrapped else known)
    meter.write()
    leaves_on = register["out_of_service_on"]
    if leaves_on and register["out_reason"] == "sold" and log.chance(0.6):
        _sale_row(log, unit, (leaves_on - BEGIN).days)


def _register(log: NastyLog, unit: str, begin: int, condition: str | None, sticks: str | None) -> dict:
    row = {
        "unit_id": unit, "family": log.pick(FAMILIES), "usage_class": log.pick(("light", "normal", "heavy", None)),
        "sticks": sticks, "in_service_on": log.date(begin), "new_or_used": condition, "site_id": log.pick(("North", "South")),
        "out_of_service_on": None, "out_reason": None,
    }  # fmt: skip
    if log.chance(0.25):
        row["out_of_service_on"] = log.date(max(begin, 0) + log.days(60, 500))
        row["out_reason"] = log.pick(("sold", "lost", "stored", "transferred", "stolen", None))
    log.rows["unit"].append(row)
    return row


def _known_age(log: NastyLog, begin: int, condition: str | None) -> dict:
    """What the jobs say of the age of the first module."""
    if condition == "new" or log.chance(0.4):
        return {}
    if condition == "used":
        return log.pick(({"life_known_from": "bought_used"}, {"in_service_since": log.date(begin - log.days(20, 300))}))
    return log.pick(
        (
            {"life_known_from": "previous_replacement", "in_service_since": log.date(begin + log.days(-40, 5))},
            {"life_known_from": "bought_used"},
            {"life_known_from": "unknown"},
            {"life_known_from": "new", "in_service_since": log.date(begin)},
        )
    )


def _silent(log: NastyLog, unit: str) -> None:
    """Registered and never seen at the bench."""
    begin = log.days(-200, 300)
    register = _register(log, unit, begin, log.pick(("new", "used", None)), log.pick(("L+R", "S")))
    meter = _Meter(log, unit, begin, 0)
    for day in range(begin + 20, SPAN_DAYS, 110):
        meter.read(day)
    meter.write()
    if register["out_reason"] == "sold":
        _sale_row(log, unit, (register["out_of_service_on"] - BEGIN).days)


def _for_sale(log: NastyLog, unit: str) -> None:
    """Bought in a lot, worked on, perhaps sold, perhaps returned and sold again."""
    slots = log.pick((("L", "R"), ("S",)))
    lot = log.pick(("X1", "X2", None), (4, 4, 1))
    day = log.days(0, 350)
    for turn in range(log.pick((1, 2, 3), (5, 3, 1))):
        reason = "lot_intake" if turn == 0 else "warranty_return"
        cells = {"lot_id": lot, "disposition": log.pick(("grade_a", "grade_b", None), (5, 3, 2))}
        if log.chance(0.04):
            cells = {"lot_id": lot, "disposition": log.pick(("harvest", "to_supplier", "scrap"))}
        told = slots if turn == 0 or log.chance(0.6) else slots[:1]
        if turn == 0 or log.chance(0.75):
            _visit(log, unit, told, day, meter=None, reasons=(reason,), cells=cells, is_whole=turn == 0)
        if log.chance(0.1):
            _visit(log, unit, slots, day + log.days(1, 9), meter=None, reasons=("check", "lot_intake"), cells=cells)
        if log.chance(0.2):
            return
        sold = day + log.days(10, 50)
        back = _sale_row(log, unit, sold)
        if back is None:
            return
        day = back + log.days(-2 if back > sold + 3 else 0, 6)


def _sale_row(log: NastyLog, unit: str, sold: int) -> int | None:
    """Write a sale; return the day the unit came back, None if it did not."""
    warranty = log.pick((None, 0, 30, 90), (1, 0.5, 3, 5))
    back = sold + log.days(2, 110) if log.chance(0.55) else None
    reason = log.pick(("drift", "other_fault", "no_fault_found", "buyer_remorse", None), (8, 1, 1, 1, 1))
    if sold >= SPAN_DAYS:
        return None
    back = None if back is None or back >= SPAN_DAYS else back
    log.rows["sale"].append(
        {
            "unit_id": unit, "sold_on": log.date(sold), "price": 20.0, "warranty_days": warranty,
            "returned_on": None if back is None else log.date(back), "return_reason": None if back is None else reason,
        }
    )  # fmt: skip
    return back


def _customers(log: NastyLog, unit: str) -> None:
    """A customer's own controller: known from its jobs only."""
    slots = log.pick((("L", "R"), ("S",), ("L",)))
    day = log.days(0, 200)
    meter = _Meter(log, unit, day - 100, log.days(0, 600)) if log.chance(0.5) else None
    known = _known_age(log, day - log.days(5, 100), None)
    while day < SPAN_DAYS:
        cells = {"warranty_days": log.pick((None, 30, 90))}
        _visit(log, unit, slots[: log.days(1, len(slots))], day, meter=meter, cells=cells, known=known)
        day += log.days(20, 250)
    if meter:
        meter.write()


# ---------------------------------------------------------------- visits and hours


def _visit(log: NastyLog, unit: str, slots, day: int, *, meter, reasons=None, cells=None, known=None, is_whole=False) -> bool:
    """Write the jobs of one visit; return whether one of them scrapped the unit."""
    if day >= SPAN_DAYS:
        return False
    usual = ("fault_report", "check", "preventive", "unknown", None, "warranty_return", "incoming_inspection", "lot_intake")
    reason = log.pick(reasons) if reasons else log.pick(usual, (10, 6, 5, 1, 1, 0.5, 0.3, 0.3))
    closed = day + log.days(0, 6) if log.chance(0.7) else None
    back = day + log.days(0, 9) if log.chance(0.3) else None
    is_scrapped = False
    shared_id = f"V{len(log.rows['job'])}" if len(slots) > 1 and log.chance(0.15) else None
    for stick in slots:
        if not is_whole and len(slots) > 1 and log.chance(0.25):
            continue
        work = _work(log, reason)
        hours = meter.cells(day) if meter else {}
        family = log.rows["unit"][-1]["family"] if log.rows["unit"] and log.rows["unit"][-1]["unit_id"] == unit else FAMILIES[0]
        dates = {
            "closed_on": None if closed is None or work["outcome"] == "open" else log.date(closed),
            "returned_to_service_on": None if back is None else log.date(back),
        }
        named = "U" if log.chance(0.02) else stick
        left = {"disposition": log.pick((None, "service", "hold", "grade_a"), (20, 6, 0.4, 0.4))} if not cells else {}
        told = {"visit_reason": reason, "family": family, **work, **dates, **hours, **left, **(known or {}), **(cells or {})}
        log.job(unit, named, day, shared_id=shared_id if named == stick else None, **told)
        is_scrapped |= "scrap" in work["action"] or work["outcome"] == "scrapped"
    return is_scrapped


def _work(log: NastyLog, reason: str | None) -> dict:
    finding = log.pick(("fault_confirmed", "intermittent", "no_fault_found", "not_tested", None), (10, 2, 6, 3, 2))
    action = log.pick(ACTIONS, ACTION_ODDS)
    if finding == "no_fault_found" and log.chance(0.7):
        action = "test_only"
    if reason == "preventive" and log.chance(0.6):
        finding, action = log.pick(("not_tested", None)), log.pick(("clean_air", "clean_flush"))
    outcome = "scrapped" if action.endswith("scrap") and log.chance(0.8) else log.pick(OUTCOMES, OUTCOME_ODDS)
    return {
        "finding": finding, "action": action, "outcome": outcome,
        "failure_mode": log.pick(("centre_offset", "jitter", "click_fault", "mechanical", None), (8, 3, 1, 0.5, 2)),
        "failure_mechanism": log.pick((*MECHANISMS, "software", "impact"), (5, 3, 2, 2, 1, 3, 0.3, 0.3)),
        "part_batch_fitted": log.pick(("B1", "B2", None)) if "replace_" in action else None,
        "al_rest_offset_pct": log.days(1, 12) * 1.0 if log.chance(0.5) else None,
        "al_reach_pct": log.days(88, 104) * 1.0 if log.chance(0.2) else None,
    }  # fmt: skip


class _Meter:
    """The play hours of one unit, read at visits and between them, sometimes wrong."""

    def __init__(self, log: NastyLog, unit: str, begin: int, hours: float):
        self.log, self.unit, self.begin, self.hours = log, unit, begin, float(hours)
        self.rate = log.days(2, 14)
        self.reset_day = log.days(100, 400) if log.chance(0.2) else None
        self.kind = log.pick(("metered", "sessions", "estimated", None), (10, 4, 1, 1))

    def on(self, day: int) -> float:
        total = self.hours + self.rate * (day - self.begin)
        if self.reset_day is None or day < self.reset_day:
            return total
        return self.rate * float(day - self.reset_day)

    def cells(self, day: int) -> dict:
        log = self.log
        if log.chance(0.2) or day < self.begin:
            return {}
        hours, kind = self.on(day), self.kind if log.chance(0.9) else log.pick(("estimated", "unknown", "metered"))
        if self.reset_day is None and log.chance(0.08):
            hours = log.pick((max(hours - 300, 0.0), hours + 5000.0, hours * 10))
        return {"usage_hours": hours, "usage_basis": kind}

    def read(self, day: int) -> None:
        if self.begin <= day < SPAN_DAYS:
            source = self.log.pick(("meter", "sessions", "cash_system", "estimate", None), (12, 4, 1, 1, 1))
            self._row(day, self.on(day), source, None)

    def write(self) -> None:
        for day in sorted(self.log.days(0, SPAN_DAYS - 1) for _ in range(self.log.days(0, 7))):
            self.read(day)
        if self.reset_day is not None and self.begin < self.reset_day:
            before = self.reset_day - 1
            self._row(before, self.on(before), "meter", None)
            self._row(self.reset_day, 0.0, "meter", True)

    def _row(self, day: int, hours: float, source: str | None, is_reset: bool | None) -> None:
        at = dt.datetime.combine(self.log.date(day), dt.time(self.log.days(0, 23), 30))
        row = {"unit_id": self.unit, "read_on": at, "hours": hours, "meter_reset": is_reset, "source": source}
        self.log.rows["usage_reading"].append(row)
