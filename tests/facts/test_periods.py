"""Stretches, hours, faults, work and stops of a period, counted by hand on a small floor."""

from __future__ import annotations

import datetime as dt

import pytest

from pipelines import warehouse
from pipelines.facts.periods import Periods
from tests.answers.logs import Log

MARCH, APRIL = (dt.date(2025, 3, 1), dt.date(2025, 3, 31)), (dt.date(2025, 4, 1), dt.date(2025, 4, 30))
UNITS = """
unit_id family sticks in_service_on new_or_used site_id out_of_service_on out_reason
A Nolm S 2025-01-01 new north - -
B Nolm S 2025-03-11 new south 2025-04-10 stored
C Nolm S 2025-01-01 new north - -
D Nolm S 2025-01-01 new north 2025-02-01 sold
"""
#: A: 2 h a day, bad on 20 March, back on the 24th; bad again on 5 April. B: a fault on the day of its last reading. C: no hours.
JOBS = """
job_id unit_id stick family received_on closed_on visit_reason finding action outcome bench_minutes parts_cost station_id
J1 A S Nolm 2025-03-20 2025-03-24 fault_report fault_confirmed clean_open pass 30 - N1
J2 A S Nolm 2025-04-05 2025-04-05 fault_report fault_confirmed replace_module pass 20 4.5 N1
J3 B S Nolm 2025-04-01 2025-04-02 fault_report fault_confirmed clean_open pass 10 - S1
J4 C S Nolm 2025-03-02 2025-03-02 check no_fault_found test_only pass - - N2
J5 C S Nolm 2025-03-03 2025-03-03 fault_report fault_confirmed replace_module pass 5 - N2
J6 A S Nolm 2025-06-30 2025-06-30 check no_fault_found test_only pass 5 - N1
"""
READINGS = """
unit_id read_on hours
A 2025-02-28 100
A 2025-03-20 140
A 2025-03-24 140
A 2025-06-30 336
B 2025-03-11 0
B 2025-04-01 42
"""
SEATS = """
unit_id station_id from_at to_at
A N1 2025-01-01T00:00 -
B S1 2025-03-11T00:00 -
C N2 2025-01-01T00:00 -
"""
DOWN = """
station_id down_from down_to cause revenue_per_hour
N1 2025-03-20T06:00 2025-03-24T06:00 stick 5
N1 2025-03-24T00:00 2025-03-24T12:00 - 5
S1 2025-03-31T12:00 2025-04-01T12:00 network -
N2 2025-03-31T18:00 - stick 2
"""


@pytest.fixture(scope="module")
def periods(tmp_path_factory):
    log = Log(tmp_path_factory.mktemp("floor"), units=UNITS, jobs=JOBS, usage_readings=READINGS, downtime=DOWN, assignments=SEATS)
    with warehouse.reading(log.path) as connection:
        yield Periods(connection, [MARCH, APRIL])


@pytest.fixture(scope="module")
def watches(periods):
    frame = periods.watches()
    return frame.assign(days=frame["to_day"] - frame["from_day"], hours=frame["to_h"] - frame["from_h"])


def of(frame, unit: str, period: int):
    return frame[(frame["unit_id"] == unit) & (frame["period_no"] == period)]


def test_a_controller_is_watched_while_a_stick_is_in_service_and_good(watches):
    assert of(watches, "A", 0)["days"].tolist() == [20, 7]  # up to the visit, and from the return on
    assert of(watches, "A", 1)["days"].sum() == 30
    assert of(watches, "B", 0)["days"].tolist() == [20]
    assert of(watches, "B", 1)["days"].tolist() == [1, 8]
    assert "D" not in set(watches["unit_id"])  # it left before


def test_hours_are_read_or_lie_between_two_readings(watches):
    assert of(watches, "A", 0)["hours"].tolist() == pytest.approx([40, 14])
    assert of(watches, "A", 1)["hours"].sum() == pytest.approx(60)
    assert of(watches, "B", 0)["hours"].tolist() == pytest.approx([40])
    assert of(watches, "C", 0)["metered_days"].isna().all()
    assert of(watches, "B", 1)["metered_days"].tolist()[0] == 1


def test_faults_are_dated_and_those_at_a_last_reading_have_no_hours(periods, watches):
    faults = periods.faults().merge(watches[["unit_no", "unit_id"]].drop_duplicates(), on="unit_no")
    mine = faults[faults["unit_id"] == "A"]
    assert (mine["period_no"].tolist(), mine["at_h"].tolist()) == ([0, 1], pytest.approx([140, 164]))
    # B is watched on after its last reading, which was at the fault
    assert faults.loc[faults["unit_id"] == "B", "at_h"].isna().all()
    assert faults.loc[faults["unit_id"] == "C", "at_h"].isna().all()


def test_work_counts_jobs_parts_and_what_is_known_of_them(periods, watches):
    work = periods.work().merge(watches[["unit_no", "unit_id"]].drop_duplicates(), on="unit_no")
    names = ["job_count", "module_count", "timed_count", "minutes", "costed_count", "parts_cost"]
    assert of(work, "A", 0)[names].to_numpy().tolist() == [[1, 0, 1, 30, 0, 0]]
    assert of(work, "A", 1)[names].to_numpy().tolist() == [[1, 1, 1, 20, 1, 4.5]]
    assert of(work, "C", 0)[names].to_numpy().tolist() == [[2, 1, 1, 5, 0, 0]]


def test_stops_are_cut_at_the_month_and_counted_once(periods):
    stops = periods.stops().set_index(["site", "period_no", "is_stick"])
    north = stops.loc[("north", 0, True)]
    # 96 h, and 6 h more of the stop that overlaps it; the one without an end lasts 6 h to the end of its month
    assert (north["stop_count"], north["hours"], north["takings"]) == (3, 108, 96 * 5 + 6 * 5 + 6 * 2)
    assert north["hours_squared"] == 96**2 + 6**2 + 6**2
    assert (stops.loc[("south", 0, False), "hours"], stops.loc[("south", 1, False), "hours"]) == (12, 12)
    assert stops.loc[("south", 0, False), "priced_hours"] == 0
    later = stops.loc[("north", 1, True)]
    assert (later["hours"], later["open_count"], north["open_count"]) == (0, 1, 0)
    assert periods.has_downtime()


def test_a_log_without_readings_and_stops_still_has_its_days_and_no_hours(tmp_path):
    # of E, bought used, not even the 0 h of a new one are known
    seen = "J7 E S Nolm 2025-01-20 2025-01-20 check no_fault_found test_only pass 5 - N3\n"
    log = Log(tmp_path, units=UNITS + "E Nolm S 2025-01-01 used north - -\n", jobs=JOBS + seen)
    with warehouse.reading(log.path) as connection:
        periods = Periods(connection, [MARCH, APRIL])
        watches = periods.watches()
        assert set(watches["unit_id"]) == {"A", "B", "C", "E"}
        assert watches["metered_days"].isna().all()
        assert len(periods.faults()) == 4
        assert not periods.has_downtime()
        assert periods.stops().empty
