"""The rules of lot units a second time, in plain Python: one unit and stay after the other. Shares no line with the SQL."""

from __future__ import annotations

import datetime as dt

import pandas as pd

from pipelines.settings import Settings
from tests.facts.oracle_rows import Job, Row, jobs_of, rows_of

DAY = dt.timedelta(days=1)


def log_end_of(tables: dict[str, pd.DataFrame], settings: Settings) -> dt.date:
    """Return the last day of the log."""
    ends = [row["received_on"] for row in rows_of(tables, "job")]
    ends += [day for row in rows_of(tables, "sale") for day in (row["sold_on"], row["returned_on"]) if day]
    return settings.log_end or max(ends)


def lot_units(tables: dict[str, pd.DataFrame], settings: Settings) -> list[Row]:
    """Return one row per unit and lot that it came in, with the columns of `Lots.units`."""
    jobs, units, sales, lots = (rows_of(tables, name) for name in ("job", "unit", "sale", "lot"))
    end = log_end_of(tables, settings)
    found = []
    for unit_id in sorted({row["unit_id"] for row in jobs}):
        own = jobs_of([row for row in jobs if row["unit_id"] == unit_id and row["received_on"] <= end], [], settings)
        register = next((row for row in units if row["unit_id"] == unit_id), None)
        sold = sorted(_sales(unit_id, sales, register, end), key=lambda sale: sale["sold_on"])
        intakes = {}
        for job in own:
            if job.row["lot_id"] and not _is_warranty(job):
                intakes[job.row["lot_id"]] = min(intakes.get(job.row["lot_id"], dt.date.max), job.row["received_on"])
        stays = sorted((day, lot) for lot, day in intakes.items())
        for (day, lot), following in zip(stays, [*stays[1:], (dt.date.max, "")], strict=False):
            here = [job for job in own if day <= job.row["received_on"] < following[0]]
            bought = [sale for sale in sold if day <= sale["sold_on"] < following[0]]
            family = register["family"] if register else _latest_family(own, lot)
            told = {"unit_id": unit_id, "lot_id": lot, "family": family, "intake_on": day, **_listing(lots, lot, family)}
            gone = _withdrawn(register, day, following[0], bought, end)
            found.append(told | _fate(here, bought, gone, day, end))
    return found


def _latest_family(own: list[Job], lot: str) -> str:
    of_lot = [job.row for job in own if job.row["lot_id"] == lot and not _is_warranty(job)]
    return max(of_lot, key=lambda row: (row["received_on"], len(row["job_key"]), row["job_key"]))["family"]


def _is_warranty(job: Job) -> bool:
    return job.row["visit_reason"] == "warranty_return"


def _sales(unit_id: str, sales: list[Row], register: Row | None, end: dt.date) -> list[Row]:
    own = [dict(row) for row in sales if row["unit_id"] == unit_id]
    if not own and register and register["out_reason"] == "sold":
        own = [dict.fromkeys(sales[0]) | {"sold_on": register["out_of_service_on"]}]
    for sale in own:
        is_back = sale["returned_on"] is not None and sale["returned_on"] <= end
        sale["returned_on"] = sale["returned_on"] if is_back else None
        sale["return_reason"] = (sale["return_reason"] or "unknown") if is_back else None
    return [sale for sale in own if sale["sold_on"] <= end]


def _withdrawn(register, day, next_day, bought, end) -> dt.date | None:
    if not register or register["out_reason"] != "scrapped":
        return None
    out = register["out_of_service_on"]
    is_here = day <= out < next_day and out <= end
    return out if is_here and not any(sale["sold_on"] <= out for sale in bought) else None


def _listing(lots: list[Row], lot: str, family: str) -> Row:
    lines = [row for row in lots if row["lot_id"] == lot]
    own = [row["stated_condition"] for row in lines if row["family"] == family]
    all_of_it = {row["stated_condition"] or "unknown" for row in lines}
    condition = (own[0] if own else None) or (all_of_it.pop() if len(all_of_it) == 1 else "unknown")
    first = lines[0] if lines else {}
    return {
        "is_listed": bool(lines),
        "seller": first.get("seller"),
        "bought_on": first.get("bought_on"),
        "stated_condition": condition,
    }


def _closed(job: Job) -> dt.date:
    return job.row["closed_on"] or job.row["received_on"]


def _fate(here: list[Job], bought: list[Row], withdrawn, intake: dt.date, end: dt.date) -> Row:
    claims = [job.row["received_on"] for job in here if _is_warranty(job) and job.row["received_on"] > intake]
    claim = min(claims, default=None)
    over = min(day for day in (bought[0]["sold_on"] + DAY if bought else dt.date.max, claim or dt.date.max))
    withdrawn = withdrawn if withdrawn and (claim is None or withdrawn < claim) else None
    before = [job for job in here if not _is_warranty(job) and job.row["received_on"] < over]
    scraps = [job for job in before if job.scraps or job.row["disposition"] in ("scrap", "harvest")]
    gone = min([job.row["received_on"] for job in scraps] + ([withdrawn] if withdrawn else []), default=None)
    if gone:
        here, before, scraps = ([job for job in jobs if job.row["received_on"] <= gone] for jobs in (here, before, scraps))
    left = {job.row["stick"]: _is_ready(job) for job in before}
    is_ready = bool(left) and all(left.values())
    is_for_parts = bool(bought) and bought[0]["grade"] == "parts"
    sale = bought[0] if bought and (gone is None or is_for_parts) else dict.fromkeys(
        ("sold_on", "price", "grade", "warranty_days", "returned_on", "return_reason"))  # fmt: skip
    last = bought[-1] if sale["sold_on"] else sale
    if gone or is_for_parts:
        fate, days = "scrap", [_closed(job) for job in scraps] + [withdrawn] + [sale["sold_on"] if is_for_parts else None]
    else:
        days = [max(_closed(job) for job in before) if is_ready else None, sale["sold_on"], claim]
        fate = "new_part" if any(_fits(job) for job in before) else "cleaned" if any(_mends(job) for job in before) else "works"
    known_on = min((day for day in days if day), default=None)
    known_on = known_on if known_on and known_on <= end else None
    after = [job for job in here if _is_warranty(job)]
    parts, consumables = (_spent(after, name, costs) for name, costs in (("parts_cost", _fits), ("consumables_cost", _cleans)))
    return {
        "fate": fate if known_on else "open", "finished_on": known_on,
        "bench_minutes": _spent(before, "bench_minutes", lambda job: True) if before else None,
        "parts_cost": _spent(before, "parts_cost", _fits) if here else None,
        "consumables_cost": _spent(before, "consumables_cost", _cleans) if here else None,
        "warranty_minutes": _spent(after, "bench_minutes", lambda job: True) if here else None,
        "warranty_cost": None if not here or parts is None or consumables is None else parts + consumables,
        **{f"{part}_count": sum(f"replace_{part}" in job.actions for job in before) for part in ("sensor", "module", "board")},
        **{name: sale[name] for name in ("sold_on", "price", "grade", "warranty_days", "returned_on", "return_reason")},
        "last_price": last["price"], "is_last_returned": last["returned_on"] is not None,
    }  # fmt: skip


def _is_ready(job: Job) -> bool:
    is_good = job.is_passed or (job.is_nff and job.outcome in ("unknown", "returned_unrepaired"))
    return is_good and job.row["disposition"] not in ("hold", "to_supplier")


def _fits(job: Job) -> bool:
    return any(action.startswith("replace_") for action in job.actions)


def _mends(job: Job) -> bool:
    return job.has_repair and not job.is_nff


def _cleans(job: Job) -> bool:
    return bool(job.cleans)


def _spent(jobs: list[Job], column: str, must_cost) -> float | None:
    """Add up a column; None where a job that must have cost something does not say."""
    if any(job.row[column] is None and must_cost(job) for job in jobs):
        return None
    return float(sum(job.row[column] or 0 for job in jobs))
