"""What a column that an export lacks would add to the answers."""

from __future__ import annotations

_ADDS = {
    ("jobs", "job_id"): "corrected exports replace the right row even when dates were edited",
    ("jobs", "sensor_type"): "answers split by sensor principle",
    ("jobs", "closed_on"): "a clean's clock starts when the work ended, and open jobs are told from finished ones",
    ("jobs", "returned_to_service_on"): "the time on the shelf no longer counts as time in use",
    ("jobs", "visit_reason"): "reported faults are told from those found at a check, and intake from failures",
    ("jobs", "finding"): "faults that were tested are told from assumed ones, and good sights narrow when a fault began",
    ("jobs", "failure_mode"): "click and mechanical faults are no longer taken for drift",
    ("jobs", "failure_mechanism"): "answers split by mechanism; worn tracks are named",
    ("jobs", "usage_hours"): "lifetimes in play hours",
    ("jobs", "usage_basis"): "metered hours are told from estimated ones, which are not used",
    ("jobs", "usage_class"): "answers split by light, normal and heavy use",
    ("jobs", "in_service_since"): "the age of modules in units that the register lacks",
    ("jobs", "life_known_from"): "bought-used units enter at their age instead of with age unknown",
    ("jobs", "part_batch_found"): "lifetimes by batch, once fitted batches are known too",
    ("jobs", "part_batch_fitted"): "lifetimes by batch",
    ("jobs", "lot_id"): "units bought for sale are told from the fleet in use",
    ("jobs", "site_id"): "answers split by site",
    ("jobs", "reading_basis"): "readings behind a dead zone are told from raw ones",
    ("jobs", "bench_minutes"): "what a clean costs in time",
    ("jobs", "warranty_days"): "customers' sticks are watched no longer than their warranty",
    ("units", "sticks"): "sticks that never came in count as still good",
    ("units", "out_of_service_on"): "units that left are no longer taken as still in use",
    ("units", "out_reason"): "why a unit left",
    ("units", "new_or_used"): "new units start at age 0 instead of with age unknown",
    ("units", "site_id"): "answers split by site, sticks that never failed included",
    ("units", "usage_class"): "answers split by use, sticks that never failed included",
    ("units", "sensor_type"): "answers split by sensor principle, sticks that never failed included",
    ("usage_readings", "source"): "metered readings are told from estimates, which are not used",
    ("usage_readings", "meter_reset"): "changed meters are no longer taken for hours that fell",
    ("sales", "warranty_days"): "sold units can be followed at all",
    ("sales", "returned_on"): "drift returns count as failures",
    ("sales", "return_reason"): "drift returns are told from other returns",
}
_TABLE_ADDS = {
    "units": "the register of all units: without it, lifetimes can only be told of units seen at the bench",
    "usage_readings": "play hours of sticks that never came in",
    "sales": "how long cleaned sticks hold after they were sold",
    "aliases": "one spelling for families, sites and batches",
    "part_batches": "lifetimes by batch of modules",
    "lots": "what came of each purchase",
    "batch_inspections": "whether batches passed their plan, and whether that told how they did",
    "repeat_readings": "how much of the spread of readings is the tester",
}
_NEED = {"R": "required", "S": "wanted", "O": "optional"}


def adds_words(table: str, column: str) -> str | None:
    """Return what the column would add, or None for one that no answer uses yet."""
    return _ADDS.get((table, column))


def table_adds_words(table: str) -> str | None:
    """Return what a whole table would add, or None for one that no answer uses yet."""
    return _TABLE_ADDS.get(table)


def need_words(need: str) -> str:
    """Return 'required', 'wanted' or 'optional' for a need of the contract, which may carry a condition."""
    return _NEED[need[0]] + need[1:]
