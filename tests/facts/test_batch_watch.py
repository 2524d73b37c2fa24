"""The watch over supplier batches: by hand, against a plain loop over the spells, and without a look ahead."""

from __future__ import annotations

import datetime as dt
from collections import Counter

import pytest

from pipelines import warehouse
from pipelines.facts.batch_watch import AGE_DAYS, batch_watch
from pipelines.facts.batches import Batches
from tests.answers.logs import Log
from tests.facts.test_readings_by_loop import SEEDS, standing

UNITS = """
unit_id family sticks in_service_on new_or_used site_id usage_class
A1 Nolm L+R 2025-01-01 new north heavy
A2 Nolm L+R 2025-01-01 new north heavy
"""
#: A1: both sticks get B1 on day 10 (look 1); the left one is found bad on day 40 (look 5), so the right one counts no longer.
#: A2: one of B2 on day 12 (look 1), which comes back on day 33 (look 4). B9 is on record only on a module that came in.
JOBS = """
job_id unit_id received_on stick family action outcome part_batch_fitted part_batch_found visit_reason finding
J1 A1 2025-01-11 L Nolm replace_module pass B1 - fault_report fault_confirmed
J2 A1 2025-01-11 R Nolm replace_module pass B1 - fault_report fault_confirmed
J3 A2 2025-01-13 L Nolm replace_module pass B2 - fault_report fault_confirmed
J4 A2 2025-02-03 L Nolm clean_air pass - B2 fault_report fault_confirmed
J5 A1 2025-02-10 L Nolm clean_air pass - B1 fault_report fault_confirmed
J6 A1 2025-02-17 R Nolm clean_air pass - B1 fault_report fault_confirmed
J7 A2 2025-03-01 R Nolm test_only pass - B9 check no_fault_found
"""


def test_a_batch_by_hand(tmp_path):
    log = Log(tmp_path, jobs=JOBS, units=UNITS)
    with warehouse.reading(log.path) as connection:
        Batches(connection, is_hours=False, where={})
        watch = batch_watch(connection)
    assert (watch.batches, watch.only_found, watch.look_days, watch.looks) == (["B1", "B2"], ["B9"], 7, 9)
    assert (watch.starts_on, watch.ends_on) == (dt.date(2025, 1, 1), dt.date(2025, 3, 1))
    assert [watch.last_day(look) for look in (0, 8)] == [dt.date(2025, 1, 7), dt.date(2025, 3, 1)]
    rows = watch.counts.sort_values(["batch", "look"])
    assert rows["stratum"].nunique() == rows["fitting_period"].nunique() == 1
    found = list(rows[["batch", "look", "age_step", "at_risk", "failures"]].itertuples(index=False, name=None))
    first = [(0, look, (look - 1) // 4, 2.0, 1.0 if look == 5 else 0.0) for look in range(1, 6)]
    assert found == [*first, *((1, look, 0, 1.0, 1.0 if look == 4 else 0.0) for look in range(1, 5))]
    told = watch.progress.set_index(["batch", "look"])[["fitted_count", "found_count"]]
    assert told.to_dict("split")["data"] == [[2, 0], [0, 1], [0, 1], [1, 0], [0, 1]]


@pytest.mark.parametrize("seed", SEEDS)
def test_the_loop_finds_the_same_numbers_at_risk_and_failures(seed):
    connection, _ = standing(seed)
    Batches(connection, is_hours=False, where={})
    watch = batch_watch(connection)
    start, cut = connection.execute("SELECT log_start_day, cut_day FROM history_setting").fetchall()[0]
    spells = connection.execute("""
        SELECT batch, unit, spell_no, family, usage_class, site, fitting_period, entered_day - entry, entered_day,
            entered_day + upper - entry, ended_day, is_failure
        FROM batch_spell WHERE has_length OR is_open
    """).fetchall()
    found_on: dict = {}
    for batch, unit, number, *_, found, _, is_failure in spells:
        if is_failure and found <= cut:
            found_on[batch, unit] = min(found_on.get((batch, unit), (1e9, 0)), (found, number))
    at_risk, failures = Counter(), Counter()
    for batch, unit, number, family, use, site, period, fitted, entered, found, ended, is_failure in spells:
        until, by = found_on.get((batch, unit), (1e9, None))
        if entered > until:
            continue
        last = int((min(min(found, cut) if is_failure else ended, until) - start) // 7)
        for look in range(int((entered - start) // 7), last + 1):
            age = (look - int((fitted - start) // 7)) // (AGE_DAYS // 7)
            at_risk[family, use, site, period, batch, look, age] += 1
        if number == by:
            failures[family, use, site, period, batch, last, age] += 1
    rows = watch.counts.groupby(["stratum", "fitting_period", "age_step", "look", "batch"], as_index=False).sum()
    assert sorted(rows["at_risk"]) == sorted(at_risk.values())
    assert rows["failures"].sum() == sum(failures.values()) == len(found_on)
    for keys, places in (("batch", (4,)), (["batch", "look"], (4, 5)), (["batch", "age_step", "fitting_period"], (4, 6, 3))):
        for name, counted in (("at_risk", at_risk), ("failures", failures)):
            wanted = Counter()
            for key, count in counted.items():
                wanted[tuple(key[place] for place in places)] += count
            summed = rows.assign(batch=[watch.batches[one] for one in rows["batch"]]).groupby(keys)[name].sum()
            summed = {key if isinstance(key, tuple) else (key,): value for key, value in summed.items() if value}
            assert summed == dict(wanted)
