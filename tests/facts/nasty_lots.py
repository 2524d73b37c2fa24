"""Seeded nasty logs of a bench that buys lots: every trouble a unit of a lot may have. Nothing in them means anything."""

from __future__ import annotations

import pandas as pd

from pipelines.contract import WAREHOUSE_TABLE, columns_of
from tests.facts.nasty import ACTION_ODDS, ACTIONS, FAMILIES, OUTCOME_ODDS, OUTCOMES, SPAN_DAYS, NastyLog

LOTS = ("A1", "A2", "A3", "A4", "A5", "unlisted")
CONDITIONS = ("working", "untested", "for_parts", None)
TABLES = ("job", "unit", "sale", "lot")


def nasty_lots(seed: int, units: int = 90) -> dict[str, pd.DataFrame]:
    """Return the canonical tables `job`, `unit`, `sale` and `lot`, rows in no order."""
    log = NastyLog(seed)
    log.rows["lot"] = _lots(log)
    for number in range(units):
        _unit(log, f"{'0' if number % 9 == 0 else 'U'}{number:03d}")
    return {name: _frame(log, name) for name in TABLES}


def _lots(log: NastyLog) -> list[dict]:
    rows = []
    for lot in LOTS[:-1]:
        day, price, seller = log.days(-5, 200), log.days(50, 400), log.pick(("Alder", "Birch", None))
        condition = log.pick(CONDITIONS)
        for family in log.pick((FAMILIES[:1], FAMILIES[:2], FAMILIES)):
            bought = log.days(5, 25)
            rows.append({
                "lot_id": lot, "family": family, "bought_on": log.date(day), "seller": seller, "units_bought": bought,
                "stated_condition": condition if log.chance(0.7) else log.pick(CONDITIONS),
                "units_received": log.pick((None, bought, bought - 2)), "lot_price": price if log.chance(0.6) else price + 7,
                "buyer_premium": log.pick((None, 12.5)), "freight": 8, "tax": log.pick((None, 3)),
            })  # fmt: skip
    return rows


def _unit(log: NastyLog, unit: str) -> None:
    family = log.pick(FAMILIES)
    sticks = log.pick((("L", "R"), ("S",), ("L", "R"), ("L", "U")))
    day = log.days(0, 250)
    for lot in log.dice.permutation(LOTS)[: log.pick((1, 2, 3), (7, 3, 1))]:
        day = _stay(log, unit, family if log.chance(0.95) else FAMILIES[0], sticks, str(lot), day)
        # now and then the unit comes in twice on one day
        day += log.pick((0, log.days(1, 60)), (1, 9))
    if log.chance(0.12):
        reason = log.pick(("scrapped", "sold", "stored", "lost"))
        log.rows["unit"].append({
            "unit_id": unit, "family": log.pick(FAMILIES), "in_service_on": log.date(-50), "new_or_used": "used",
            "out_of_service_on": log.date(log.days(0, SPAN_DAYS)), "out_reason": reason,
        })  # fmt: skip


def _stay(log: NastyLog, unit: str, family: str, sticks: tuple[str, ...], lot: str, day: int) -> int:
    """Write the jobs and sales of one stay; return a day after it."""
    for visit in range(log.pick((1, 2, 3), (6, 3, 1))):
        reason = "lot_intake" if visit == 0 else log.pick(("check", "lot_intake", None))
        _visit(log, unit, family, sticks, lot, day + visit * log.days(0, 9), reason)
    day += log.days(0, 20)
    if log.chance(0.05):
        _visit(log, unit, family, sticks, lot, day, "warranty_return")
    sold_days: set[int] = set()
    for _ in range(log.pick((0, 1, 2), (2, 6, 1))):
        day += log.days(0, 40)
        if day in sold_days or day >= SPAN_DAYS:
            break
        sold_days.add(day)
        back = day + log.days(0, 100) if log.chance(0.3) else None
        log.rows["sale"].append({
            "unit_id": unit, "sold_on": log.date(day), "price": float(log.days(8, 60)),
            "warranty_days": log.pick((None, 0, 30, 90)),
            "grade": log.pick(("A", "B", "C", "parts", None), (5, 5, 3, 1, 1)),
            "returned_on": None if back is None or back >= SPAN_DAYS else log.date(back),
            "return_reason": log.pick(("drift", "buyer_remorse", None)) if back is not None and back < SPAN_DAYS else None,
        })  # fmt: skip
        if log.chance(0.4):
            _visit(log, unit, family, sticks[:1], lot, day + log.days(0, 60), log.pick(("warranty_return", "fault_report")))
    return day + 1


def _visit(log: NastyLog, unit: str, family: str, sticks: tuple[str, ...], lot: str, day: int, reason: str | None) -> None:
    if day >= SPAN_DAYS:
        return
    for stick in sticks:
        if log.chance(0.1):
            continue
        action = log.pick(ACTIONS, ACTION_ODDS)
        outcome = "scrapped" if action.endswith("scrap") and log.chance(0.8) else log.pick(OUTCOMES, OUTCOME_ODDS)
        grades = (None, "grade_a", "service", "hold", "to_supplier", "harvest", "scrap")
        log.job(
            unit, stick, day, family=family, lot_id=lot if log.chance(0.85) else None, visit_reason=reason, action=action,
            outcome=outcome, finding=log.pick(("fault_confirmed", "no_fault_found", "not_tested", None)),
            closed_on=log.date(day + log.days(0, 12)) if log.chance(0.7) else None,
            disposition=log.pick(grades, (20, 10, 5, 2, 1, 0.5, 0.5)),
            bench_minutes=float(log.days(3, 50)) if log.chance(0.95) else None,
            parts_cost=2.5 if log.chance(0.8) else None, consumables_cost=0.5 if log.chance(0.9) else None,
            al_rest_offset_pct=log.days(1, 12) * 1.0 if log.chance(0.3) else None,
        )  # fmt: skip


def _frame(log: NastyLog, name: str) -> pd.DataFrame:
    contract = next(table for table, warehouse in WAREHOUSE_TABLE.items() if warehouse == name)
    names = [column.name for column in columns_of(contract)] + (["job_key"] if name == "job" else [])
    rows = [log.rows[name][place] for place in log.dice.permutation(len(log.rows[name]))]
    frame = pd.DataFrame([[row.get(column) for column in names] for row in rows], columns=names, dtype=object)
    return frame.where(frame.notna(), None)
