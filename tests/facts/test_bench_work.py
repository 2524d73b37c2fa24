"""What bench work takes, against plain sums over the jobs; how often a stick was cleaned, by hand and against its attempts."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.facts.build import build
from pipelines.facts.readings import bench_work, cleans_so_far, part_holds
from tests.facts.nasty import nasty_log, nasty_settings
from tests.facts.warehouse_in_memory import filled
from tests.facts.worked_text import worked
from tests.pipeline.made_fleet import loaded_fleet

HISTORY = worked(
    "one module cleaned three times, twice in vain since it passed; one replaced; one never seen at the bench",
    expected={},
    unit="unit sticks in_service condition\nA1 L+R d0 new\nA2 S d0 new\nA3 S d0 new",
    job="""
    unit stick received reason finding mode action outcome
    A1   L     d50      check  bad     jitter  air        pass
    A1   L     d90      check  bad     jitter  air+flush  fail
    A2   S     d60      check  bad     jitter  flush      fail
    A2   S     d70      check  bad     jitter  replace_module pass""",
)  # fmt: skip


def test_the_cleans_of_the_module_that_is_in_it_now_are_counted():
    connection = filled(HISTORY.tables)
    build(connection, HISTORY.settings)
    found = cleans_so_far(connection, ["A1", "A2", "A3", "nobody"])
    assert {(one.unit_id, one.stick): (one.clean_count, one.failed_tries) for one in found.itertuples()} == {
        ("A1", "L"): (3, 2), ("A1", "R"): (0, 0), ("A2", "S"): (0, 0), ("A3", "S"): (0, 0),
    }  # fmt: skip
    assert not len(cleans_so_far(connection, []))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_they_are_those_of_the_last_module_in_a_plain_look_at_the_attempts(seed):
    tables, settings = nasty_log(seed), nasty_settings(seed)
    connection = filled(tables)
    build(connection, settings)
    modules = connection.execute("SELECT slot_no, module_no FROM module").df().groupby("slot_no")["module_no"].max()
    slots = connection.execute("SELECT slot_no, unit_id, stick FROM slot").df()
    attempts = connection.execute("SELECT slot_no, module_no, attempt_number, is_passed FROM attempt").df()
    found = cleans_so_far(connection, slots["unit_id"].unique().tolist()).set_index(["unit_id", "stick"])
    assert len(found) == len(slots)
    for slot in slots.itertuples():
        mine = attempts[(attempts["slot_no"] == slot.slot_no) & (attempts["module_no"] == modules.get(slot.slot_no, -1))]
        mine = mine.sort_values("attempt_number")
        failed = 0
        for is_passed in mine["is_passed"]:
            failed = 0 if is_passed else failed + 1
        row = found.loc[(slot.unit_id, slot.stick)]
        assert (row["clean_count"], row["failed_tries"]) == (len(mine), failed)


PARTS = worked(
    "a part found bad 40 days after it was fitted, one that lasts to the end of the log, and a first life that is no fitted part",
    expected={},
    unit="unit sticks in_service condition\nA1 S d0 new\nA2 S d0 new\nA3 S d0 new",
    job="""
    unit stick received reason finding mode action outcome
    A1   S     d50      check  bad     jitter  replace_module  pass
    A1   S     d80      check  good    -       test_only       pass
    A1   S     d90      check  bad     jitter  air             pass
    A2   S     d60      check  bad     jitter  replace_module  pass
    A3   S     d100     check  good    -       test_only       pass""",
)  # fmt: skip


def test_fitted_parts_are_watched_from_their_fitting_to_their_first_fault():
    connection = filled(PARTS.tables)
    build(connection, PARTS.settings)
    exact, rounded = (part_holds(connection, grid=grid) for grid in (0, 7))
    # good at 30 days, bad at 40: the middle
    assert exact[["at", "is_failure", "part_count"]].to_numpy().tolist() == [[35.0, True, 1], [340.0, False, 1]]
    assert rounded["at"].tolist() == [35.0, 343.0]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_they_are_the_first_spells_of_fitted_modules_in_a_plain_look(seed):
    connection = filled(nasty_log(seed))
    build(connection, nasty_settings(seed))
    spells, modules = (connection.execute(f"SELECT * FROM {name}").df() for name in ("spell", "module"))
    fitted = {(one.slot_no, one.module_no) for one in modules[modules["is_fitted_here"]].itertuples()}
    mine = [
        one for one in spells.itertuples()
        if (one.slot_no, one.module_no) in fitted and one.kind == "first_life" and one.entry_days == 0 and one.at_days > 0
    ]  # fmt: skip
    found = part_holds(connection, grid=0)
    assert found["part_count"].sum() == len(mine) > 0
    assert found.loc[found["is_failure"], "part_count"].sum() == sum(one.is_failure for one in mine)
    assert (found["at"] * found["part_count"]).sum() == pytest.approx(sum(one.at_days for one in mine))


def test_bench_work_has_the_means_of_the_jobs_that_are_one_clean_or_one_part(tmp_path):
    with loaded_fleet(1500, 5, tmp_path, easy=False) as (_, connection):
        found = bench_work(connection).set_index(["family", "work"])
        jobs = connection.execute("SELECT family, action, bench_minutes, parts_cost, consumables_cost FROM job").df()
    steps = jobs["action"].str.split("+").map(set)
    cleans = steps.map(lambda some: [one for one in some if one.startswith("clean_")])
    has_part = steps.map(lambda some: bool(some & {"replace_module", "replace_sensor"}))
    is_other = steps.map(lambda some: bool(some & {"scrap", "replace_board"}))
    is_clean, is_part = (cleans.map(len) == 1) & ~has_part & ~is_other, (cleans.map(len) == 0) & has_part & ~is_other
    work = np.where(is_clean, cleans.map(lambda some: some[0].removeprefix("clean_") if some else ""), "new_part")
    rows = jobs.assign(work=work)[is_clean | is_part]
    assert set(found.index) == set(zip(rows["family"], rows["work"], strict=True))
    for key, mine in rows.groupby(["family", "work"]):
        row, parts = found.loc[key], mine["parts_cost"].replace(0, np.nan)
        assert (row["job_count"], row["timed_count"], row["parts_costed_count"], row["consumables_costed_count"]) == (
            len(mine), mine["bench_minutes"].count(), parts.count(), mine["consumables_cost"].count()
        )  # fmt: skip
        told = [row["minutes_mean"], row["parts_mean"], row["consumables_mean"]]
        plain = [mine["bench_minutes"].mean(), parts.mean(), mine["consumables_cost"].mean()]
        np.testing.assert_allclose(np.array(told, dtype=float), plain, rtol=1e-12)


def test_a_log_without_work_gives_an_empty_table():
    connection = filled({"unit": pd.DataFrame()})
    assert not len(bench_work(connection))
