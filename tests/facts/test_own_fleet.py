"""The own fleet, counted by hand: who is in service, how old and how much played, and what was done for it."""

from __future__ import annotations

import pandas as pd
import pytest

from pipelines.facts.build import build
from pipelines.facts.own_fleet import OwnFleet
from pipelines.settings import Settings
from tests.facts.warehouse_in_memory import filled

EXACT = Settings(notice_days=0, quiet_lag_days=0)
UNITS = """
unit_id family sticks in_service_on new_or_used out_of_service_on out_reason site_id usage_class
A Nolm S 2025-01-01 new - - north normal
B Nolm S 2025-01-01 new - - north normal
C Nolm S 2025-01-01 new 2025-06-01 stored north normal
D Velm L+R 2025-01-01 new - - south heavy
E Velm S 2025-01-01 used - - - -
"""
JOBS = """
job_key unit_id stick family received_on action outcome visit_reason finding sensor_type part_batch_fitted returned_to_service_on
J1 A S Nolm 2025-04-11 clean_open pass fault_report fault_confirmed hall - 2025-04-13
J2 B S Nolm 2025-12-01 clean_open fail fault_report fault_confirmed hall - -
J3 D L Velm 2025-07-20 replace_module pass fault_report fault_confirmed hall P1 2025-07-24
J4 D R Velm 2025-12-20 test_only pass check no_fault_found hall - -
J5 X S Nolm 2025-10-01 replace_module pass lot_intake fault_confirmed hall - -
"""
SALES = """
unit_id sold_on
X 2025-10-05
"""
READINGS = """
unit_id read_on hours
A 2025-07-10 400
A 2025-12-21 728
D 2025-12-31 364
"""
BATCHES = """
batch_id sensor_type received_on qty supplier part_type
P1 hall 2025-02-01 10 Ochre module
P2 hall 2026-02-01 99 Ochre module
"""


def table(text: str) -> pd.DataFrame:
    head, *rows = [line.split() for line in text.strip().splitlines()]
    return pd.DataFrame(rows, columns=head).replace("-", None)


@pytest.fixture(scope="module")
def fleet() -> OwnFleet:
    names = {"unit": UNITS, "job": JOBS, "sale": SALES, "usage_reading": READINGS, "part_batch": BATCHES}
    connection = filled({name: table(text) for name, text in names.items()})
    settings = Settings(notice_days=0, quiet_lag_days=0, log_end=pd.Timestamp("2025-12-31").date())
    build(connection, settings)
    return OwnFleet(connection)


def test_in_service_is_what_is_registered_unsold_good_and_not_withdrawn(fleet):
    sticks = fleet.sticks().set_index(["unit_id", "stick"])
    # B waits at the bench, C is stored, E was never seen good, X is a customer's
    assert list(sticks.index) == [("A", "S"), ("D", "L"), ("D", "R")]
    assert list(sticks["kind_days"]) == ["after_clean", "first_life", "first_life"]
    assert list(sticks["since_on"]) == ["2025-04-13", "2025-07-24", "2025-01-01"]
    assert list(sticks["age_days"]) == [262, 160, 364]
    assert list(sticks["faults_before"]) == [1, 1, 0]


def test_pace_is_that_of_the_readings_and_age_goes_on_with_it(fleet):
    sticks = fleet.sticks().set_index(["unit_id", "stick"])
    # new, 0 h on 1 January, 728 h on 21 December: 728 h in 354 days
    assert sticks.loc[("A", "S"), "hours_per_day"] == pytest.approx(728 / 354)
    # the clean was at 100 of 190 days to the first reading of 400 h; ten days since the last one
    assert sticks.loc[("A", "S"), "age_h"] == pytest.approx(728 - 400 * 100 / 190 + 10 * 728 / 354)
    assert sticks.loc[("D", "R"), "hours_per_day"] == pytest.approx(1.0)
    assert sticks.loc[("D", "R"), "age_h"] == pytest.approx(364)


def test_spells_are_those_of_own_sticks_on_both_clocks(fleet):
    watched = fleet.watched()
    assert len(watched) == 7
    assert watched["is_failure"].sum() == 3
    first = watched[(watched["kind_days"] == "first_life") & (watched["family"] == "Nolm")]
    bounds = sorted(zip(first["lower_days"], first["upper_days"], strict=True))
    assert bounds == [(100.0, 100.0), (151.0, float("inf")), (334.0, 334.0)]
    assert sorted(first["ended_on"]) == [-264.0, -213.0, -30.0]
    # B and C have no reading after the day they went into service
    assert list(watched.groupby("unit")["has_hours"].any()) == [True, False, False, True]
    assert watched.loc[~watched["has_hours"], "at_h"].isna().all()
    assert fleet.hours_missing() == pytest.approx(2 / 7)


def test_what_put_faults_right_and_when_they_were_found(fleet):
    repairs = fleet.repairs()
    assert list(zip(repairs["family"], repairs["is_put_right_by_part"], repairs["fault_count"], strict=True)) == [
        ("Nolm", False, 1), ("Velm", True, 1),
    ]  # fmt: skip
    faults = fleet.faults(since_days=200)
    assert list(zip(faults["unit_id"], faults["found_on"], strict=True)) == [("B", -30.0), ("D", -164.0)]


def test_jobs_and_parts_of_the_last_year_by_quarter(fleet):
    jobs = fleet.jobs()
    assert (jobs["other_count"].sum(), jobs["fault_count"].sum()) == (1, 3)
    use = fleet.part_use()
    assert list(zip(use["quarter"], use["fitted_count"], use["own_fault_count"], strict=True)) == [(1, 2, 1)]
    assert fleet.turnaround() == (2, 3.0)


def test_stock_is_what_came_by_the_end_less_what_was_fitted(fleet):
    (stock,) = fleet.part_stock().itertuples(index=False)
    assert tuple(stock) == ("hall", 10, 1, 1)


def test_an_empty_log_has_nobody():
    connection = filled({})
    build(connection, EXACT)
    fleet = OwnFleet(connection)
    assert fleet.sticks().empty
    assert fleet.watched().empty
    assert fleet.turnaround() == (0, None)
    assert fleet.season() is None
    assert fleet.hours_missing() == 1
