"""A batch to be contained: where it is, what is left, the excess with its limits and its cost, doubts in words, and the list."""

from __future__ import annotations

import json
import re
from dataclasses import fields

import pandas as pd
import pytest

from pipelines import cli, warehouse
from pipelines.answers import ask
from pipelines.answers.batch_containment_record import (
    BatchCase,
    BatchContainment,
    BatchTold,
    Cost,
    Excess,
    HeldModule,
    Place,
    Stock,
    ToCome,
)
from pipelines.answers.batch_containment_text import containment_csv, containment_text
from pipelines.errors import SettingError
from pipelines.settings import Settings
from pipelines.vocabulary import BatchVerdict, Because, Hold, Whereabouts
from tests.answers.logs import EXACT, Log
from tests.answers.made_batches import Bench
from tests.answers.test_contract import inside, keys
from tests.pipeline.made_fleet import loaded_fleet

COMPUTER_WORD = re.compile(r"\b(nan|None|inf|NaN|null|Estimate|NaT)\b")


def contained(connection, *, settings: Settings = EXACT, **case: str) -> BatchContainment:
    answer = ask("batch-containment", connection, settings=settings, case=case)
    assert not COMPUTER_WORD.search(containment_text(answer))
    json.dumps(answer.to_dict(), allow_nan=False)
    return answer


@pytest.fixture(scope="module")
def example(tmp_path_factory):
    """Return the example's fleet, in which batch UC-09 has 2.5 times the hazard of the others."""
    with loaded_fleet(8000, 7, tmp_path_factory.mktemp("fleet"), easy=False) as (_, connection):
        yield connection


@pytest.fixture(scope="module")
def doubtful(tmp_path_factory) -> Log:
    """Return a log in which three are of B-1, one more than came, and others may be."""
    jobs = ["job_id unit_id received_on action outcome stick family visit_reason finding part_batch_fitted sensor_type"]
    fit = "replace_module pass L Nolm fault_report fault_confirmed"
    for number, batch in enumerate(("B-1", "B-2", "B-1", "B-1", "B-9/B-1", "b1", "-")):
        jobs.append(f"J{number} U{number} 2025-03-0{number + 1} {fit} {batch} hall")
    jobs.append("END U0 2025-12-31 test_only pass L Nolm check no_fault_found - hall")
    units = [f"U{number} Nolm L 2025-01-01 new {'north' if number else 'south'}" for number in range(7)]
    return Log(
        tmp_path_factory.mktemp("doubt"), jobs="\n".join(jobs),
        units="\n".join(["unit_id family sticks in_service_on new_or_used site_id", *units]),
        part_batches="batch_id supplier part_type received_on qty unit_cost sensor_type mixed_flag\n"
        "B-1 Umber module 2025-02-01 2 2 hall true\nB-2 Umber module 2025-02-01 9 2 hall true",
    )  # fmt: skip


def test_the_excess_of_a_batch_known_to_be_bad_is_told_with_limits(example):
    answer = contained(example, settings=Settings(fault_cost=12), batch="UC-09")
    excess = answer.excess
    assert excess.verdict is BatchVerdict.WORSE
    assert excess.ratio.low < 2.5 < excess.ratio.high
    assert 0 < excess.so_far.low < excess.so_far.estimate < excess.so_far.high
    assert excess.so_far.estimate == pytest.approx(excess.observed * (1 - 1 / excess.ratio.estimate))
    assert answer.cost.so_far.low == pytest.approx(12 * excess.so_far.low)
    assert "not shown" not in answer.sentence


def test_an_excess_that_is_not_shown_is_not_claimed(example):
    others = [contained(example, batch=batch).excess for batch in ("TC-11", "OC-13")]
    assert all(one.verdict is not BatchVerdict.WORSE and one.so_far.low < 0 for one in others)
    assert "not shown to fail more often" in contained(example, batch="TC-11").sentence


def test_every_module_fitted_is_somewhere(example):
    answer = contained(example, batch="UC-09")
    mine = [one for one in answer.modules if one.hold is Hold.FITTED]
    fitted = example.execute("SELECT count(*) FROM job WHERE part_batch_fitted = 'UC-09'").fetchall()[0][0]
    assert len(mine) == answer.stock.fitted == fitted
    assert answer.counts["modules"] + sum(answer.gone.values()) == len(mine)
    assert answer.stock.left == answer.stock.received - fitted
    assert sum(one.carries for one in answer.sites) == answer.counts["units"]
    assert {one.state for one in mine if one.station} <= {Whereabouts.IN_SERVICE, Whereabouts.FAILED}


def test_longer_ahead_brings_more_failures_and_costs(example):
    short, long = (contained(example, settings=Settings(fault_cost=1), batch="TC-20", days=days) for days in ("30", "180"))
    assert any("at their age as known" in one for one in short.warnings)
    assert 0 < short.to_come.failures.estimate < long.to_come.failures.estimate <= long.to_come.modules
    assert abs(short.cost.to_come.estimate) < abs(long.cost.to_come.estimate)


def test_costs_are_asked_for_and_a_cost_all_told_is_enough(example):
    plain = contained(example, batch="UC-09")
    assert plain.cost.because is Because.NOT_GIVEN
    assert "refund_per_fault" in [one.name for one in plain.asked_for]
    assert "Excess" not in plain.sentence.split("excess")[0]
    told = contained(example, settings=Settings(refund_per_fault=0, callout_cost=5, downtime_hours=0, labour_per_hour=20,
                                                clean_minutes=10, replace_minutes=20, consumables_per_clean=1, part_cost=3),
                     batch="UC-09")  # fmt: skip
    assert told.cost.because is None
    assert told.cost.per_failure == pytest.approx(20 * 10 / 60 + 1 + 5, abs=20 * 20 / 60 + 3)
    assert not contained(example, settings=Settings(fault_cost=3), batch="UC-09").asked_for


def test_doubts_are_listed_apart_and_said(doubtful):
    with warehouse.reading(doubtful.path) as connection:
        answer = contained(connection, batch="B-1")
    assert [one.hold for one in answer.modules].count(Hold.FITTED) == 3
    assert {one.hold for one in answer.modules} == {Hold.FITTED, Hold.TWO_NAMED, Hold.SPELT_ALIKE, Hold.MIXED}
    assert (answer.stock.left, answer.unrecorded, answer.counts["may_carry"]) == (-1, 0, 3)
    said = " ".join([answer.sentence, *answer.warnings])
    for words in ("1 more than came", "spelt alike: b1", "bins were mixed", "3 modules may be of it", "a delivery is missing"):
        assert words in said
    assert [(one.site, one.carries, one.may_carry) for one in answer.sites] == [("north", 2, 3), ("south", 1, 0)]


def of_bench(bench: Bench, folder, deliveries: str, batch: str) -> BatchContainment:
    """Ask with settings as they come: the last weeks are not used, so the longest watched have not failed."""
    with warehouse.reading(bench.log(folder, deliveries).path) as connection:
        return contained(connection, settings=Settings(), batch=batch)


def test_of_a_batch_named_only_when_it_came_in_no_more_is_in_stock_than_can_be(tmp_path):
    bench = Bench().fit("B1", good=30, failed=range(20, 340, 32)).fit("B2", good=20).find("B3", 12)
    answer = of_bench(bench, tmp_path, "B3 Umber 2025-01-05 50 false", "B3")
    assert (answer.stock.fitted, answer.stock.found, answer.stock.left) == (0, 12, 38)
    assert "at most 38 of 50; 12 modules of it came in without a fitting on record" in answer.sentence
    assert "cannot be told: only modules that came in are named" in answer.sentence


def test_what_is_to_come_is_not_nothing_where_no_other_of_that_age_failed(tmp_path):
    bench = Bench().fit("B1", good=30, failed=range(20, 340, 32)).fit("B2", good=20, failed=range(20, 340, 32))
    answer = of_bench(bench, tmp_path, "B1 Umber 2025-01-05 50 false", "B1")
    assert (answer.to_come.because, answer.to_come.modules) == (Because.TOO_FEW_FAILURES, 30)
    assert "How many of 30 modules still watched since fitting will fail cannot be told" in answer.sentence


def test_where_no_other_failed_the_excess_is_not_told(tmp_path):
    answer = of_bench(Bench().fit("B1", failed=[30] * 30).fit("B2", good=20), tmp_path, "B1 Umber 2025-01-05 50 false", "B1")
    assert "no other of its age failed, so its failures cannot be held against theirs" in answer.sentence


def test_modules_without_a_batch_are_counted_while_stock_lasts(doubtful):
    """The one without a batch was fitted on 7 March; of B-2, nine came and one was fitted, so its stock lasts."""
    with warehouse.reading(doubtful.path) as connection:
        answer = contained(connection, batch="B-2")
    assert (answer.unrecorded, answer.unrecorded_in_service) == (1, 1)
    assert any("without a batch on record" in one for one in answer.warnings)


def test_a_batch_is_asked_for_and_must_be_known(doubtful):
    with warehouse.reading(doubtful.path) as connection:
        with pytest.raises(SettingError, match="which batch"):
            contained(connection)
        with pytest.raises(SettingError, match="no batch 'B-77'"):
            contained(connection, batch="B-77")


def test_the_list_is_written_as_a_file_and_runs_no_formula(doubtful, tmp_path, capsys):
    words = ["answer", "batch-containment", "--warehouse", str(doubtful.path), "--case", "batch=B-1", "--out"]
    assert cli.main([*words, str(tmp_path / "list.csv")]) == 0
    assert cli.main([*words, str(tmp_path / "list.xlsx")]) == 0
    assert "Power off" in capsys.readouterr().out
    assert len(pd.read_csv(tmp_path / "list.csv")) == 6
    assert set(pd.read_excel(tmp_path / "list.xlsx", sheet_name=None)) == {"modules", "claim"}
    assert cli.main([*words, str(tmp_path / "list.txt")]) == 5
    with warehouse.reading(doubtful.path) as connection:
        assert containment_csv(contained(connection, batch="B-1")).startswith("hold,label,unit_id")


def test_the_json_holds_the_keys_of_the_page_and_no_others(example):
    plain, title = json.loads(json.dumps(contained(example, batch="UC-09").to_dict(), allow_nan=False)), "`batch-containment`"
    assert set(plain) == keys(title) == {one.name for one in fields(BatchContainment)}
    for key, record in (("case", BatchCase), ("batch", BatchTold), ("stock", Stock), ("excess", Excess), ("to_come", ToCome),
                        ("cost", Cost), ("sites", Place)):  # fmt: skip
        assert {one.name for one in fields(record)} - {"days"} <= inside(title, key)
    assert set(plain["counts"]) == inside(title, "counts")
    assert inside(title, "modules") == {one.name for one in fields(HeldModule)} | {*Hold} | {*Whereabouts}
