"""Modules of supplier batches as spells: by hand, and against a plain loop over the jobs of nasty logs."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from pipelines import warehouse
from pipelines.estimates.batch_cells import Cells
from pipelines.estimates.batch_law import SharedLaw
from pipelines.facts.batches import Batches
from tests.answers.logs import Log
from tests.facts.oracle_batches import batches_of
from tests.facts.test_readings_by_loop import SEEDS, loop_spells, standing, units_of

UNITS = """
unit_id family sticks in_service_on new_or_used site_id usage_class
A1 Nolm L+R 2025-01-01 new north heavy
A2 Nolm L+R 2025-01-01 new south light
A3 Velm S 2025-01-01 new north -
"""
#: B1 fitted three times, twice before it came; B2 once, and it came in as B1; b-2 is B2 spelt otherwise, and not on record.
#: A3 came in with B9, of which no fitting is on record, and with B1 before it was fitted.
JOBS = """
job_id unit_id received_on stick family action outcome part_batch_fitted part_batch_found usage_hours visit_reason finding
J1 A1 2025-02-01 L Nolm replace_module pass B1 - 10 fault_report fault_confirmed
J2 A1 2025-02-01 R Nolm replace_module pass B1 - 10 fault_report fault_confirmed
J3 A1 2025-04-01 L Nolm replace_module pass B2 B1 70 fault_report fault_confirmed
J4 A1 2025-06-01 L Nolm clean_flush pass - B1 130 fault_report fault_confirmed
J5 A2 2025-03-01 L Nolm replace_module pass b-2 - 20 fault_report fault_confirmed
J6 A2 2025-03-11 R Nolm replace_module pass - - 20 fault_report fault_confirmed
J7 A3 2025-03-01 S Velm clean_air pass - B9 30 fault_report fault_confirmed
J8 A3 2025-05-01 S Velm replace_module pass B1 - 50 fault_report fault_confirmed
J9 A3 2025-12-31 S Velm test_only pass - - 300 check no_fault_found
"""
BATCHES = """
batch_id supplier part_type received_on qty unit_cost mixed_flag
B1 Aldermoor module 2025-03-01 20 3.5 no
B2 Aldermoor module 2025-01-10 10 3.5 yes
B7 Tarnside module 2025-01-10 10 3.5 -
"""
#: As EXACT reads it, on days: a failure is dated by its visit.
SPELLS = """
batch unit_id stick site fitted_on entry at is_failure is_open is_mixed
B1 A1 L north 2025-02-01 0 59 yes no no
B1 A1 R north 2025-02-01 0 333 no yes no
B1 A3 S north 2025-05-01 0 244 no yes no
B2 A1 L north 2025-04-01 0 61 yes no yes
b-2 A2 L south 2025-03-01 0 305 no yes no
"""


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    return Log(tmp_path_factory.mktemp("batches"), jobs=JOBS, units=UNITS, part_batches=BATCHES)


def spells_by_hand() -> pd.DataFrame:
    head, *lines = [line.split() for line in SPELLS.strip().splitlines()]
    return pd.DataFrame(lines, columns=head)


def test_a_module_counts_from_its_fitting_to_its_first_failure(log):
    with warehouse.reading(log.path) as connection:
        Batches(connection, is_hours=False, where={})
        found = connection.execute("""
            SELECT batch, slot.unit_id, slot.stick, batch_spell.site,
                DATE '1970-01-01' + CAST(fitted_day AS INTEGER) AS fitted_on, entry, at_time AS at, batch_spell.is_failure,
                is_open, is_mixed
            FROM batch_spell JOIN slot ON slot.slot_no = batch_spell.slot_no ORDER BY batch, unit_id, stick
        """).df()
    wanted = spells_by_hand()
    found["fitted_on"] = found["fitted_on"].dt.date.astype(str)
    for name in ("is_failure", "is_open", "is_mixed"):
        found[name] = found[name].map({True: "yes", False: "no"})
    for name in ("entry", "at"):
        found[name] = found[name].map("{:g}".format)
    assert sorted(found.itertuples(index=False, name=None)) == sorted(wanted.itertuples(index=False, name=None))


def test_what_stands_against_a_batch_is_counted(log):
    with warehouse.reading(log.path) as connection:
        batches = Batches(connection, is_hours=False, where={})
        numbers = batches.numbers().set_index("batch")
        assert batches.unnamed() == (5, 1, 0)
    counts = ["fitted_count", "found_only_count", "fitted_early_count", "contradicted_count", "found_before_fitting_count"]
    assert numbers.loc["B1", counts].tolist() == [3, 0, 2, 0, 0]
    assert numbers.loc["B2", counts].tolist() == [1, 0, 0, 1, 0]
    assert numbers.loc["B9", counts].tolist() == [0, 1, 0, 0, 0]
    assert numbers.loc["B7", counts].tolist() == [0, 0, 0, 0, 0]
    spells = ["spell_count", "failure_count", "open_count", "unit_count"]
    assert numbers.loc["B1", spells].tolist() == [3, 1, 2, 2]
    assert numbers["is_on_record"].to_dict() == {"B1": True, "B2": True, "B7": True, "B9": False, "b-2": False}
    assert numbers["same_code_as"].dropna().to_dict() == {"B2": "b-2", "b-2": "B2"}
    assert (numbers.loc["B1", "received_count"], numbers["received_count"].isna().sum()) == (20, 2)


def test_a_module_that_came_in_before_it_was_fitted_is_counted(tmp_path):
    jobs = JOBS.replace("J7 A3 2025-03-01 S Velm clean_air pass - B9", "J7 A3 2025-03-01 S Velm clean_air pass - B1")
    late = Log(tmp_path, jobs=jobs, units=UNITS, part_batches=BATCHES)
    with warehouse.reading(late.path) as connection:
        numbers = Batches(connection, is_hours=False, where={}).numbers().set_index("batch")
    assert numbers.loc["B1", ["found_before_fitting_count", "found_only_count"]].tolist() == [1, 1]


def test_a_label_that_names_several_batches_is_no_batch(tmp_path):
    """b-2/B1 names two; B1/B8 is delivered by that name, and of 24/17 neither part is a batch: these are codes."""
    jobs = JOBS.replace("pass B2 B1 70", "pass b-2/B1 b-2+B9 70").replace("J6 A2 2025-03-11 R Nolm replace_module pass - -",
                        "J6 A2 2025-03-11 R Nolm replace_module pass B1/B8 24/17")  # fmt: skip
    several = Log(tmp_path, jobs=jobs, units=UNITS, part_batches=f"{BATCHES.strip()}\nB1/B8 Tarnside module 2025-01-10 10 3.5 -")
    with warehouse.reading(several.path) as connection:
        batches = Batches(connection, is_hours=False, where={})
        assert set(batches.numbers()["batch"]) == {"B1", "B2", "B7", "B9", "b-2", "B1/B8", "24/17"}
        assert batches.unnamed() == (5, 0, 1)
        named = connection.execute("SELECT batches_named FROM module WHERE batches_named IS NOT NULL ORDER BY 1").fetchall()
    assert named == [("b-2+B9",), ("b-2/B1",)]


def test_filters_and_periods_of_fitting(log):
    with warehouse.reading(log.path) as connection:
        batches = Batches(connection, is_hours=True, where={"site": ["north"], "from_on": ["2025-03-15"]}, period_months=3)
        assert batches.numbers().set_index("batch").loc[["B1", "B2", "b-2"], "spell_count"].tolist() == [1, 1, 0]
        periods = connection.execute("SELECT batch, fitting_period FROM batch_spell ORDER BY batch").fetchall()
        assert periods == [("B1", 55 * 4 + 1), ("B2", 55 * 4 + 1)]
        counted = batches.counts(grid=0).set_index("batch")
    assert counted.loc["B2", "failed_by"] == "not_recorded"
    assert counted["spell_count"].tolist() == [1, 1]


@pytest.mark.parametrize(("is_hours", "clock"), [(False, "days"), (True, "h")])
@pytest.mark.parametrize("seed", SEEDS)
def test_the_loop_finds_the_same_spells(seed, is_hours, clock):
    connection, _ = standing(seed)
    rows = loop_spells(seed, clock)
    rows = rows[rows["kind"] == "first_life"]
    fitted = {unit: batches_of(units_of(seed)[unit]) for unit in set(rows["unit_id"])}
    wanted: Counter = Counter()
    for row in rows.to_dict("records"):
        batch, day = fitted[row["unit_id"]].get((row["stick"], row["life"], row["generation"]), (None, None))
        if batch is None:
            continue
        times = tuple(round(float(row[f"{name}_{clock}"]), 5) for name in ("entry", "lower", "at"))
        wanted[row["unit_id"], row["stick"], batch, day, *times, row["is_failure"]] += 1
    batches = Batches(connection, is_hours=is_hours, where={})
    found = Counter(
        (unit, stick, batch, int(day) + 719163, round(entry, 5) + 0.0, round(lower, 5) + 0.0, round(at, 5) + 0.0, failed)
        for unit, stick, batch, day, entry, lower, at, failed in connection.execute("""
            SELECT unit_id, stick, batch, fitted_day, entry, lower, at_time, is_failure
            FROM batch_spell JOIN slot ON slot.slot_no = batch_spell.slot_no WHERE has_length
        """).fetchall()
    )
    assert found == wanted
    assert len(wanted) > 3
    named = batches.counts(grid=0)
    assert named.groupby("batch")["spell_count"].sum().to_dict() == dict(_by_batch(wanted))


@pytest.mark.parametrize("is_hours", [True, False])
@pytest.mark.parametrize("seed", [0, 1, 2, 3])
def test_cells_and_what_modules_of_a_controller_share_are_those_of_a_loop(seed, is_hours):
    connection, _ = standing(seed)
    batches = Batches(connection, is_hours=is_hours, where={}, period_months=3)
    steps = batches.steps(5)
    read = batches.cells(steps)
    cells = Cells.of(read.counts, steps, len(read.batches))
    rows = connection.execute("""
        SELECT batch, family, usage_class, site, fitting_period, unit, entry, at_time, is_failure, is_open, at_days
        FROM batch_spell WHERE has_length
    """).fetchall()
    strata = [tuple(None if pd.isna(cell) else cell for cell in row) for row in read.strata.itertuples(index=False, name=None)]
    rng = np.random.default_rng(seed)
    hazard, factor = rng.uniform(0.001, 0.02, (len(strata), len(steps) - 1)), rng.uniform(0.5, 2, len(read.batches))
    exposure: Counter = Counter()
    failures: Counter = Counter()
    residual: Counter = Counter()
    squares, pace = np.zeros(len(read.batches)), np.zeros(len(read.batches))
    for batch, family, usage, site, period, unit, entry, at, failed, is_open, days in rows:
        pair = strata.index((family, usage, site, period)), read.batches.index(batch)
        due = 0.0
        for step, (low, high) in enumerate(pairwise(steps)):
            inside = low < at <= high
            counted = high if failed and inside else min(max(at, low), high)
            exposure[*pair, step] += counted - min(max(entry, low), counted)
            failures[*pair, step] += failed and inside
            due += hazard[pair[0], step] * max(min(at, high) - max(entry, low), 0)
            pace[pair[1]] += hazard[pair[0], step] * at / days if is_open and inside else 0
        left = failed - factor[pair[1]] * due
        squares[pair[1]] += left**2
        residual[unit, pair[1]] += left
    for pair, key in enumerate(zip(cells.stratum, cells.batch, strict=True)):
        assert cells.exposure[pair] == pytest.approx([exposure[*key, step] for step in range(len(steps) - 1)])
        assert cells.failures[pair].tolist() == [failures[*key, step] for step in range(len(steps) - 1)]
    found = batches.alike(SharedLaw(hazard, factor, steps).table(), factor)
    by_unit = np.zeros(len(read.batches))
    for (_, batch), value in residual.items():
        by_unit[batch] += value**2
    assert found["by_unit"].to_numpy() == pytest.approx(by_unit)
    assert found["by_module"].to_numpy() == pytest.approx(squares)
    assert found["expected_per_day"].to_numpy() == pytest.approx(pace)


def _by_batch(found: Counter) -> Counter:
    total: Counter = Counter()
    for row, count in found.items():
        total[row[2]] += count
    return total
