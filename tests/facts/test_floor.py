"""Use of controllers and times out of use, counted by hand."""

from __future__ import annotations

import pytest

from pipelines import warehouse
from pipelines.facts.floor import Downtime, stick_downtime, unit_use
from tests.answers.logs import Log, register

UNITS = """
unit_id family sticks in_service_on new_or_used usage_class
A Nolm S 2025-01-01 new heavy
B Nolm S 2025-01-01 new light
C Velm S 2025-01-01 new -
D Nolm S 2025-01-01 used heavy
"""
#: A 70 h in ten weeks, B 14 h in ten weeks, C none, D 100 h (from 50) in five weeks.
READINGS = """
unit_id read_on hours source
A 2025-03-12 70 meter
B 2025-03-12 14 meter
D 2025-02-05 50 meter
D 2025-03-12 150 meter
"""
JOBS = """
job_id unit_id stick family received_on action outcome
J1 A S Nolm 2025-04-01 test_only pass
"""
STOPS = """
station_id down_from down_to cause revenue_per_hour
P1 2025-02-01T10:00:00 2025-02-01T12:00:00 stick 5
P2 2025-02-02T10:00:00 2025-02-02T14:00:00 stick -
P3 2025-02-03T10:00:00 2025-02-03T23:00:00 console 9
P4 2025-02-04T10:00:00 - stick 5
"""


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    return Log(tmp_path_factory.mktemp("floor"), jobs=JOBS, units=UNITS, usage_readings=READINGS, downtime=STOPS)


def test_use_is_of_each_controller_between_its_first_and_last_reading(log):
    with warehouse.reading(log.path) as connection:
        (whole,) = unit_use(connection, ()).to_dict("records")
        by = unit_use(connection, ("family", "usage_class")).set_index(["family", "usage_class"])
    assert (whole["unit_count"], whole["metered_count"]) == (4, 3)
    assert (whole["low_h"], whole["median_h"]) == pytest.approx((1.4 + 0.2 * 5.6, 7.0))
    assert by.loc[("Nolm", "heavy"), ["unit_count", "metered_count"]].tolist() == [2, 2]
    assert by.loc[("Nolm", "heavy"), "median_h"] == pytest.approx((7 + 20) / 2)
    assert by.loc[("Nolm", "light"), "high_h"] == pytest.approx(1.4)
    velm = by.xs("Velm", level="family").iloc[0]
    assert (velm["unit_count"], velm["metered_count"]) == (1, 0)
    assert velm[["low_h", "median_h", "high_h"]].isna().all()


def test_times_out_of_use_are_those_of_sticks_that_are_over(log):
    with warehouse.reading(log.path) as connection:
        assert stick_downtime(connection) == Downtime(2, 3.0, 1, 5.0)


def test_a_log_without_any_tells_nothing(tmp_path):
    bare = Log(tmp_path, jobs=JOBS, units=register("A"))
    with warehouse.reading(bare.path) as connection:
        assert stick_downtime(connection) == Downtime(0, None, 0, None)
        (whole,) = unit_use(connection, ()).to_dict("records")
    assert (whole["unit_count"], whole["metered_count"]) == (1, 0)
