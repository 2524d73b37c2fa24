"""Hours and faults at seats, counted by hand, and against the spells; whose repairs came back; overlapping and missing stays."""

from __future__ import annotations

import pandas as pd
import pytest

from pipelines import warehouse
from pipelines.facts.build import build
from pipelines.facts.seats import Seats
from tests.answers.logs import Log
from tests.facts.nasty import nasty_log, nasty_settings
from tests.facts.warehouse_in_memory import filled
from tests.pipeline.made_fleet import loaded_fleet

UNITS = """
unit_id family sticks in_service_on new_or_used site_id
A1 Nolm S 2025-01-01 new north
A2 Nolm S 2025-01-01 new north
"""
JOBS = """
job_id unit_id received_on stick family action outcome visit_reason finding usage_hours usage_basis technician
J1 A1 2025-04-11 S Nolm clean_flush pass fault_report fault_confirmed 150 metered ann
J2 A1 2025-04-21 S Nolm replace_module pass fault_report fault_confirmed 160 metered bob
J3 A2 2025-06-30 S Nolm test_only pass check no_fault_found 360 metered ann
"""
READINGS = """
unit_id read_on hours source
A1 2025-03-02 30 meter
A1 2025-06-30 300 meter
"""
STAYS = """
unit_id station_id from_at to_at
A1 quiet 2025-01-01 2025-03-02
A1 busy 2025-03-02 -
A2 quiet 2025-03-02 -
"""


def read(tmp_path, stays: str | None = STAYS, *, is_hours: bool = True):
    tables = {"units": UNITS, "jobs": JOBS, "usage_readings": READINGS} | ({"assignments": stays} if stays else {})
    log = Log(tmp_path, **tables)
    with warehouse.reading(log.path) as connection:
        seats = Seats(connection)
        return seats.exposures(is_hours=is_hours), seats.stays(), seats.passed_jobs(horizon_days=30)


def at(found: pd.DataFrame, unit: str, station: str | None) -> tuple[float, int]:
    rows = found[(found["unit"] == unit) & (found["station"].isna() if station is None else found["station"] == station)]
    return float(rows["exposure"].sum()), int(rows["failure_count"].sum())


def test_hours_go_to_the_seat_as_the_meter_ran_and_a_fault_to_where_the_controller_was(tmp_path):
    found, stays, _ = read(tmp_path)
    # 30 h in the first 60 days at the quiet seat, 120 h to the first fault at the busy one, then 10 and 140
    assert at(found, "A1", "quiet") == (pytest.approx(30), 0)
    assert at(found, "A1", "busy") == (pytest.approx(120 + 10 + 140), 2)
    assert at(found, "A1", None) == (0, 0)
    # two hours a day, of which the first 60 days were at no seat that is on record
    assert at(found, "A2", None) == (pytest.approx(120), 0)
    assert at(found, "A2", "quiet") == (pytest.approx(240), 0)
    assert stays == (3, 0)


def test_days_do_the_same(tmp_path):
    found, _, _ = read(tmp_path, is_hours=False)
    assert at(found, "A1", "quiet") == (60, 0)
    assert at(found, "A1", "busy") == (40 + 10 + 70, 2)
    assert at(found, "A2", "quiet") == (120, 0)


def test_overlapping_stays_end_where_the_next_begins_and_are_counted(tmp_path):
    overlapping = STAYS.replace("2025-01-01 2025-03-02", "2025-01-01 2025-05-01")
    found, stays, _ = read(tmp_path, overlapping)
    assert at(found, "A1", "quiet") == (pytest.approx(30), 0)
    assert stays == (3, 1)


def test_without_assignments_no_seat_is_known(tmp_path):
    found, stays, _ = read(tmp_path, None)
    assert found["station"].isna().all()
    assert (found["exposure"].sum(), found["failure_count"].sum()) == (pytest.approx(300 + 360), 2)
    assert stays == (0, 0)


def test_who_repaired_what_and_whether_it_came_back(tmp_path):
    _, _, jobs = read(tmp_path)
    rows = {one.technician: (one.work, one.days, bool(one.is_back), one.job_count) for one in jobs.itertuples()}
    assert rows == {"ann": ("clean", 10.0, True, 1), "bob": ("new_part", 30.0, False, 1)}


@pytest.mark.parametrize("is_hours", [True, False])
@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_nothing_is_lost_or_counted_twice(seed, is_hours):
    tables, settings = nasty_log(seed), nasty_settings(seed)
    units = sorted(tables["job"]["unit_id"].unique())
    days = pd.date_range("2020-01-01", periods=200, freq="9D")
    stays = pd.DataFrame([
        {"unit_id": unit, "station_id": f"S{(place + number) % 5}", "from_at": days[(3 * place + 7 * number) % 200],
         "to_at": days[(3 * place + 7 * number) % 200] + pd.Timedelta(days=20 * (number + 1))}
        for place, unit in enumerate(units) for number in range(6)
    ])  # fmt: skip
    connection = filled({**tables, "assignment": stays})
    build(connection, settings)
    seats = Seats(connection)
    found = seats.exposures(is_hours=is_hours)
    length = "hours" if is_hours else "nullif(days, 0)"
    whole = connection.execute(
        f"SELECT coalesce(sum({length}), 0), count(*) FILTER (is_failure AND {length} > 0) FROM seat_spell"
    )
    exposure, failures = whole.fetchall()[0]
    assert found["exposure"].sum() == pytest.approx(exposure)
    assert found["failure_count"].sum() == failures
    assert (found["exposure"] >= 0).all()


def test_repairs_of_the_made_fleet_are_those_of_its_cleans(tmp_path):
    with loaded_fleet(1500, 3, tmp_path, easy=False) as (_, connection):
        jobs = Seats(connection).passed_jobs(horizon_days=30)
        cleans = connection.execute("""
            SELECT job.technician, attempt.has_failed_again, spell.upper_days - spell.entry_days AS found_days
            FROM attempt JOIN job ON job.job_key = attempt.job_key JOIN spell ON spell.spell_no = attempt.spell_no
            WHERE attempt.is_passed AND (spell.at_days > spell.entry_days OR spell.is_failure)
        """).df()
    mine = jobs[jobs["work"] == "clean"]
    assert mine.groupby("technician")["job_count"].sum().to_dict() == cleans["technician"].value_counts().to_dict()
    back = cleans["has_failed_again"] & (cleans["found_days"] <= 30)
    assert mine.loc[mine["is_back"], "job_count"].sum() == back.sum()
