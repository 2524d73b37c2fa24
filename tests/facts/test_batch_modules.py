"""Which modules are of a batch, and where: each hold and each state in a log that can be read by eye."""

from __future__ import annotations

import pytest

from pipelines import warehouse
from pipelines.facts.batch_modules import BatchModules
from tests.answers.logs import Log

#: What is known of each controller: unit → (hold, state), or None where its module is no matter of the batch.
EXPECTED = {
    "in_service": ("fitted", "in_service"),
    "failed": ("fitted", "failed"),
    "mended": ("fitted", "in_service"),
    "replaced": ("fitted", "replaced"),
    "scrapped": ("fitted", "scrapped"),
    "warranty": ("fitted", "sold_in_warranty"),
    "sold": ("fitted", "sold"),
    "returned": ("fitted", "returned"),
    "lost": ("fitted", "lost"),
    "shelf": ("fitted", "not_in_service"),
    "found": ("found", "failed"),
    "contradicted": ("contradicted", "failed"),
    "two": ("two_named", "in_service"),
    "alike": ("spelt_alike", "in_service"),
    "mixed": ("mixed", "in_service"),
    "mixed_before": None,
    "mixed_other_type": None,
    "unmixed": None,
    "other": None,
}
FIT = "replace_module pass L Nolm fault_report fault_confirmed"


@pytest.fixture(scope="module")
def connection(tmp_path_factory):
    units = ["unit_id family sticks in_service_on new_or_used site_id out_of_service_on out_reason"]
    units += [
        f"{unit} Nolm L 2025-01-01 new north {'2025-09-01 lost' if unit == 'lost' else '- -'}"
        for unit in (*EXPECTED, "unwritten", "unwritten_before", "unwritten_hall")
        if unit not in ("shelf", "warranty", "sold", "returned")
    ]  # fmt: skip
    jobs = ["job_id unit_id received_on action outcome stick family visit_reason finding part_batch_fitted part_batch_found "
            "sensor_type disposition"]  # fmt: skip

    def fitted(unit: str, batch: str = "B-1", day: str = "2025-03-01", sensor: str = "carbon_pot", more: str = "-") -> None:
        jobs.append(f"F{len(jobs)} {unit} {day} {FIT} {batch} - {sensor} {more}")

    def later(unit: str, action: str, outcome: str, found: str = "-", batch: str = "-") -> None:
        jobs.append(f"L{len(jobs)} {unit} 2025-07-01 {action} {outcome} L Nolm fault_report fault_confirmed {batch} {found} "
                    "carbon_pot -")  # fmt: skip

    for unit in ("in_service", "failed", "mended", "replaced", "scrapped", "lost"):
        fitted(unit)
    for unit in ("warranty", "sold", "returned", "shelf"):
        fitted(unit, more="grade_a")
    later("failed", "clean_open", "fail")
    later("mended", "clean_open", "pass")
    later("replaced", "replace_module", "pass", batch="B-9")
    later("scrapped", "scrap", "scrapped")
    later("found", "clean_open", "fail", found="B-1")
    fitted("contradicted", "B-9")
    later("contradicted", "clean_open", "fail", found="B-1")
    fitted("two", "B-9/B-1")
    fitted("alike", "b1")
    fitted("mixed", "B-2")
    fitted("mixed_before", "B-2", day="2025-01-15")
    fitted("mixed_other_type", "B-3")
    fitted("unmixed", "B-4")
    fitted("other", "B-9")
    fitted("unwritten", "-")
    fitted("unwritten_before", "-", day="2025-01-15")
    fitted("unwritten_hall", "-", sensor="hall")
    jobs.append("END in_service 2025-12-31 test_only pass L Nolm check no_fault_found - - carbon_pot -")
    log = Log(
        tmp_path_factory.mktemp("batch"), units="\n".join(units), jobs="\n".join(jobs),
        part_batches="batch_id supplier part_type received_on qty unit_cost sensor_type mixed_flag\n"
        "B-1 Umber pot_module 2025-02-01 40 2 carbon_pot true\nB-2 Umber pot_module 2025-01-10 40 2 carbon_pot true\n"
        "B-3 Umber other_module 2025-01-10 40 2 carbon_pot true\nB-4 Umber pot_module 2025-01-10 40 2 carbon_pot false",
        sales="unit_id sold_on price warranty_days returned_on return_reason\nwarranty 2025-12-01 20 90 - -\n"
        "sold 2025-05-01 20 30 - -\nreturned 2025-05-01 20 30 2025-05-20 buyer_remorse",
        assignments="station_id unit_id from_at to_at\nS-1 in_service 2025-01-01 -\nS-2 replaced 2025-01-01 -\n"
        "S-3 mended 2025-01-01 2025-04-01",
    )  # fmt: skip
    with warehouse.reading(log.path) as opened:
        yield opened


@pytest.fixture(scope="module")
def rows(connection):
    return BatchModules(connection, "B-1").rows().set_index("unit_id")


@pytest.mark.parametrize("unit", EXPECTED)
def test_each_module_is_held_and_found_where_it_is(rows, unit):
    found = None if unit not in rows.index else (rows.loc[unit, "hold"], rows.loc[unit, "state"])
    assert found == EXPECTED[unit]


def test_modules_without_a_batch_on_record_are_counted_apart(connection):
    """One of the sensor type, fitted while the batch was in stock; not the one before it came, nor one of another sensor."""
    assert BatchModules(connection, "B-1").unrecorded() == (1, 1)


def test_seat_age_and_days_are_those_of_the_log(rows):
    one = rows.loc["in_service"]
    assert (one["station"], one["fitted_on"], one["age_days"], one["site"]) == ("S-1", "2025-03-01", 305, "north")
    assert rows["station"].dropna().index.tolist() == ["in_service"]
    assert rows.loc["replaced", "age_days"] == 122
    assert rows.loc["warranty", "warranty_to"] == "2026-03-01"
    assert rows.loc["mended", ["first_failed_on", "failure_count"]].tolist() == ["2025-07-01", 1]


def test_failures_are_counted_by_family_of_what_is_of_the_batch(connection):
    """Failed, mended, replaced, scrapped, and the one found; the one returned was for no fault."""
    assert BatchModules(connection, "B-1").families() == {"Nolm": 5}


def test_stock_that_is_used_up_ends_the_time_in_which_others_may_be_of_it(connection):
    """Of B-9 nothing was received on record, so its stock time runs to the end of the log, from its first fitting."""
    rows = BatchModules(connection, "B-9").rows()
    assert set(rows["hold"]) == {"fitted", "two_named", "contradicted"}


def test_a_batch_that_nobody_wrote_has_no_modules(connection):
    assert not len(BatchModules(connection, "B-77").rows())
