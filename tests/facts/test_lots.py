"""What became of units of lots: the SQL against the plain loop on nasty logs, and cases worked by hand."""

from __future__ import annotations

import datetime as dt
import statistics
from collections import Counter, defaultdict
from functools import cache

import pandas as pd
import pytest

from pipelines.facts.build import build
from pipelines.facts.lots import Lots, known_before
from pipelines.settings import Settings
from tests.facts.nasty import nasty_settings
from tests.facts.nasty_lots import nasty_lots
from tests.facts.oracle_lots import log_end_of, lot_units
from tests.facts.warehouse_in_memory import filled

SEEDS = range(16)
AS_OF = dt.date(2024, 10, 1)


def lots_of(tables: dict[str, pd.DataFrame], settings: Settings) -> Lots:
    connection = filled(tables)
    build(connection, settings)
    return Lots(connection)


@cache
def standing(seed: int) -> tuple[Lots, list[dict], dt.date]:
    tables, settings = nasty_lots(seed), nasty_settings(seed)
    return lots_of(tables, settings), lot_units(tables, settings), log_end_of(tables, settings)


def plain(value: object) -> object:
    if value is None or value is pd.NA or value is pd.NaT or (isinstance(value, float) and pd.isna(value)):
        return None
    if isinstance(value, pd.Timestamp):
        return value.date()
    if isinstance(value, (bool, str, dt.date)):
        return value
    return bool(value) if type(value).__name__ == "bool" else round(float(value), 6)


def rows(frame: pd.DataFrame, names: list[str] | None = None) -> Counter:
    names = names or list(frame.columns)
    return Counter(tuple(plain(value) for value in row) for row in frame[names].itertuples(index=False, name=None))


@pytest.mark.parametrize("seed", SEEDS)
def test_units_of_lots_by_sql_and_by_plain_loop_agree(seed):
    lots, units, _ = standing(seed)
    found = lots.units()
    names = list(found.columns)
    assert rows(found) == Counter(tuple(plain(unit[name]) for name in names) for unit in units)
    assert len(units) > 50


def test_the_nasty_logs_hold_every_fate_and_trouble():
    units = [unit for seed in SEEDS for unit in standing(seed)[1]]
    assert {unit["fate"] for unit in units} == {"works", "cleaned", "new_part", "scrap", "open"}
    assert min(Counter(unit["fate"] for unit in units).values()) > 30
    assert sum(unit["fate"] == "scrap" and unit["sold_on"] is None for unit in units) > 30
    assert sum(unit["price"] != unit["last_price"] for unit in units) > 20
    assert sum(not unit["is_listed"] for unit in units) > 20


@pytest.mark.parametrize("seed", range(4))
def test_the_order_of_rows_does_not_matter(seed):
    tables, settings = nasty_lots(seed), nasty_settings(seed)
    shuffled = {name: frame.sample(frac=1, random_state=seed) for name, frame in tables.items()}
    first, second = (lots_of(one, settings) for one in (tables, shuffled))
    for read in ("units", "lines", "fates", "work", "resale", "returns", "earned"):
        pd.testing.assert_frame_equal(getattr(first, read)(), getattr(second, read)())


@pytest.mark.parametrize("seed", range(8))
def test_lines_count_the_units_seen_and_those_not_seen_yet(seed):
    lots, units, _ = standing(seed)
    lines = lots.lines()
    seen = Counter((unit["lot_id"], unit["family"]) for unit in units)
    assert {(r.lot_id, r.family): r.seen_count for r in lines.itertuples() if r.seen_count} == dict(seen)
    for lot, part in lines.groupby("lot_id"):
        listed = part[part["is_listed"]]
        came = listed["received_count"].fillna(listed["bought_count"])
        missing = max(0, came.sum() - sum(count for (one, _), count in seen.items() if one == lot))
        gaps = [max(0, c - seen[lot, family]) for c, family in zip(came, listed["family"], strict=True)]
        assert list(listed["not_seen_count"]) == [min(gap, missing) for gap in gaps]
        assert (part.loc[~part["is_listed"], "not_seen_count"] == 0).all()
        assert set(part["is_price_repeated"]) == {len(listed) > 1 and listed["lot_price"].nunique() == 1}


@pytest.mark.parametrize("seed", range(8))
def test_fates_are_counted_by_the_day_they_were_known_and_cut_without_looking_ahead(seed):
    lots, units, _ = standing(seed)
    fates = lots.fates()
    names = ["lot_id", "family", "is_listed", "seller", "stated_condition", "bought_on", "fate", "finished_on"]
    counted = Counter(tuple(plain(unit[name]) for name in names) for unit in units)
    assert {tuple(plain(v) for v in row[:-1]): row[-1] for row in fates.itertuples(index=False, name=None)} == dict(counted)
    cut = known_before(fates, AS_OF)
    known = Counter()
    for unit in units:
        if unit["bought_on"] is None or unit["bought_on"] < AS_OF:
            is_known = unit["finished_on"] is not None and unit["finished_on"] < AS_OF
            known[unit["lot_id"], unit["family"], unit["fate"] if is_known else "open"] += 1
    assert cut.groupby(["lot_id", "family", "fate"])["unit_count"].sum().to_dict() == dict(known)
    assert not (cut["finished_on"] >= pd.Timestamp(AS_OF)).any()


@pytest.mark.parametrize("as_of", [None, AS_OF])
@pytest.mark.parametrize("seed", range(8))
def test_bench_work_and_resale_are_means_over_units_that_say_it(seed, as_of):
    lots, units, end = standing(seed)
    work, sales = defaultdict(list), defaultdict(list)
    for unit in units:
        if unit["fate"] != "open" and (as_of is None or unit["finished_on"] < as_of):
            work[unit["family"], unit["fate"]].append(unit)
        if unit["price"] is not None and unit["fate"] != "open" and (as_of is None or unit["sold_on"] < as_of):
            sales[unit["family"], unit["fate"], unit["grade"]].append(unit)
    found = lots.work(as_of=as_of)
    assert len(found) == len(work)
    for row in found.itertuples():
        part = work[row.family, row.fate]
        minutes = [unit["bench_minutes"] / 60 for unit in part if unit["bench_minutes"] is not None]
        costs = [unit["parts_cost"] for unit in part if unit["parts_cost"] is not None]
        assert (row.unit_count, row.timed_count, row.parts_costed_count) == (len(part), len(minutes), len(costs))
        assert plain(row.bench_mean_h) == (round(statistics.fmean(minutes), 6) if minutes else None)
        assert plain(row.bench_sd_h) == (round(statistics.stdev(minutes), 6) if len(minutes) > 1 else None)
        assert plain(row.parts_mean) == (round(statistics.fmean(costs), 6) if costs else None)
        assert row.modules_per_unit == pytest.approx(statistics.fmean(unit["module_count"] for unit in part))
    found = lots.resale(as_of=as_of)
    assert len(found) == len(sales)
    since = (as_of or end) - dt.timedelta(days=365)
    for row in found.itertuples():
        part = sales[row.family, row.fate, plain(row.grade)]
        recent = [unit["price"] for unit in part if unit["sold_on"] > since]
        assert (row.sold_count, row.recent_count) == (len(part), len(recent))
        assert row.price_mean == pytest.approx(statistics.fmean(unit["price"] for unit in part))
        assert row.last_price == max((unit["sold_on"], unit["price"]) for unit in part)[1]
        assert plain(row.recent_mean) == (round(statistics.fmean(recent), 6) if recent else None)


SALE = ("lot_id", "seller", "stated_condition", "family", "fate", "grade", "warranty_days")


@pytest.mark.parametrize("as_of", [None, AS_OF])
@pytest.mark.parametrize("seed", range(8))
def test_returns_are_followed_to_the_end_of_warranty_or_the_quiet_lag(seed, as_of):
    lots, units, end = standing(seed)
    cut = min(end, as_of or end) - dt.timedelta(days=nasty_settings(seed).quiet_lag_days)
    expected = Counter()
    for unit in units:
        if not unit["warranty_days"] or unit["fate"] == "open" or unit["sold_on"] > cut:
            continue
        until = min(unit["sold_on"] + dt.timedelta(days=unit["warranty_days"]), cut)
        is_back = unit["returned_on"] is not None and unit["returned_on"] <= until
        days = max((unit["returned_on"] - unit["sold_on"]).days, 0.5) if is_back else (until - unit["sold_on"]).days
        if days > 0:
            sale = tuple(unit[name] for name in SALE)
            expected[*sale, float(days), is_back, unit["return_reason"] if is_back else None] += 1
    found = lots.returns(as_of=as_of)
    assert {tuple(plain(v) for v in row[:-1]): row[-1] for row in found.itertuples(index=False, name=None)} == dict(expected)


@pytest.mark.parametrize("seed", range(8))
def test_what_a_lot_earned_adds_up(seed):
    lots, units, _ = standing(seed)
    for row in lots.earned().itertuples():
        part = [unit for unit in units if unit["lot_id"] == row.lot_id]
        assert plain(row.seen_count or None) == (len(part) or None)
        if not part:
            continue
        income = [unit["last_price"] for unit in part if unit["last_price"] is not None]
        assert row.sale_income == pytest.approx(sum(income))
        assert row.returned_income == pytest.approx(sum(u["last_price"] or 0 for u in part if u["is_last_returned"]))
        assert row.sold_count == sum(unit["sold_on"] is not None for unit in part)
        assert row.unsold_count == sum(unit["sold_on"] is None and unit["fate"] not in ("open", "scrap") for unit in part)
        spent = sum((unit["parts_cost"] or 0) + (unit["consumables_cost"] or 0) for unit in part)
        assert row.spent == pytest.approx(spent)
        assert row.warranty_spent == pytest.approx(sum(unit["warranty_cost"] or 0 for unit in part))
        assert row.bench_h == pytest.approx(sum(unit["bench_minutes"] or 0 for unit in part) / 60)


# ---------------------------------------------------------------- worked by hand

HEAD = ("unit_id", "stick", "received_on", "closed_on", "visit_reason", "finding", "action", "outcome", "lot_id")
NFF = ("no_fault_found", "test_only", "pass")


def told(*jobs: tuple, sales: tuple = (), units: tuple = ()) -> dict[str, pd.DataFrame]:
    """Return tables: jobs as (day, stick, reason, finding, action, outcome[, closed day]); one unit U1 in lot X."""
    day = lambda number: dt.date(2025, 1, 1) + dt.timedelta(days=number)  # noqa: E731
    listed = [
        {**dict(zip(HEAD, ("U1", job[1], day(job[0]), day(job[6] if len(job) > 6 else job[0]), *job[2:6], "X"), strict=True)),
         "family": "Nolm", "job_key": f"J{place}", "job_id": f"J{place}"}
        for place, job in enumerate(jobs)
    ]  # fmt: skip
    sold = [{"unit_id": "U1", "sold_on": day(one[0]), "price": 30.0, "grade": one[1], "warranty_days": 30} for one in sales]
    late = [{"unit_id": "Z", "sold_on": day(400), "price": 1.0}]
    return {"job": pd.DataFrame(listed), "sale": pd.DataFrame(sold + late), "unit": pd.DataFrame(units)}


@pytest.mark.parametrize(
    ("fate", "day", "jobs", "sales"),
    [
        # both sticks good as found
        ("works", 2, [(0, "L", "lot_intake", *NFF, 1), (0, "R", "lot_intake", *NFF, 2)], []),
        # a stick that works was blown out: no repair
        ("works", 0, [(0, "S", "lot_intake", "no_fault_found", "clean_air", "pass")], []),
        # the worst of both sticks
        ("cleaned", 0, [(0, "L", "lot_intake", *NFF), (0, "R", "lot_intake", "fault_confirmed", "clean_open", "pass")], []),
        # a failed clean, then a module at the second visit
        ("new_part", 9, [(0, "S", "lot_intake", "fault_confirmed", "clean_open", "fail"),
                         (9, "S", "check", "fault_confirmed", "replace_module", "pass")], []),
        # still failing, nobody sold it
        ("open", None, [(0, "L", "lot_intake", *NFF), (0, "R", "lot_intake", "fault_confirmed", "clean_air", "fail")], []),
        # the bench did not say how it ended, but it was sold
        ("cleaned", 20, [(0, "S", "lot_intake", "fault_confirmed", "clean_air", "unknown")], [(20, "B")]),
        ("scrap", 3, [(0, "S", "lot_intake", "fault_confirmed", "clean_open+scrap", "scrapped", 3)], []),
        ("scrap", 20, [(0, "S", "lot_intake", "fault_confirmed", "clean_air", "fail")], [(20, "parts")]),
        # scrapped under warranty: it left the bench cleaned
        ("cleaned", 1, [(0, "S", "lot_intake", "fault_confirmed", "clean_open", "pass", 1),
                        (40, "S", "warranty_return", "fault_confirmed", "scrap", "scrapped")], [(20, "A")]),
        # the same without the sale on record
        ("cleaned", 1, [(0, "S", "lot_intake", "fault_confirmed", "clean_open", "pass", 1),
                        (40, "S", "warranty_return", "fault_confirmed", "replace_module", "pass")], []),
        # a new owner's fault
        ("works", 0, [(0, "S", "lot_intake", *NFF),
                      (90, "S", "fault_report", "fault_confirmed", "replace_module", "pass")], [(9, "A")]),
    ],
)  # fmt: skip
def test_a_fate_worked_by_hand(fate, day, jobs, sales):
    unit = lots_of(told(*jobs, sales=tuple(sales)), Settings()).units().iloc[0]
    expected = None if day is None else dt.date(2025, 1, 1) + dt.timedelta(days=day)
    assert (unit["fate"], plain(unit["finished_on"])) == (fate, expected)


def test_a_tag_used_again_after_scrap_is_another_controller():
    jobs = [(0, "S", "lot_intake", "fault_confirmed", "scrap", "scrapped"), (30, "S", "check", *NFF)]
    unit = lots_of(told(*jobs, sales=((40, "A"),)), Settings()).units().iloc[0]
    assert (unit["fate"], plain(unit["sold_on"]), plain(unit["finished_on"])) == ("scrap", None, dt.date(2025, 1, 1))


def test_a_unit_withdrawn_as_scrapped_is_scrap():
    register = {"unit_id": "U1", "family": "Nolm", "in_service_on": dt.date(2025, 1, 1), "out_of_service_on": dt.date(2025, 1, 9),
                "out_reason": "scrapped"}  # fmt: skip
    unit = lots_of(told((0, "S", "lot_intake", *NFF), units=(register,)), Settings()).units().iloc[0]
    assert (unit["fate"], plain(unit["finished_on"])) == ("scrap", dt.date(2025, 1, 9))


def test_an_empty_warehouse_has_empty_frames():
    lots = lots_of({}, Settings())
    for read in ("units", "lines", "fates", "work", "resale", "returns", "earned"):
        assert len(getattr(lots, read)()) == 0
    assert len(known_before(lots.fates(), AS_OF)) == 0
