"""Before and after through the whole pipeline: verdicts on floors of known truth, who is compared, bad input, and the JSON."""

from __future__ import annotations

import json
import re
from dataclasses import fields

import pytest

from pipelines import warehouse
from pipelines.answers import ask
from pipelines.answers.before_after_record import BeforeAfter
from pipelines.answers.before_after_text import before_after_csv, before_after_sheets, before_after_table, before_after_text
from pipelines.errors import SettingError
from pipelines.settings import Settings
from pipelines.vocabulary import Because
from tests.answers.logs import EXACT, Log, register, reports
from tests.answers.made_floor import START, made_floor
from tests.answers.test_contract import inside, keys
from tests.pipeline.made_fleet import loaded_fleet

TITLE = "`before-after`"


@pytest.fixture(scope="module")
def still(tmp_path_factory):
    """A floor where nothing changed, and its controllers, the worst before the start first."""
    return made_floor(tmp_path_factory.mktemp("still"), units=100, seed=4)


@pytest.fixture(scope="module")
def halved(tmp_path_factory):
    """A floor whose southern controllers have half as many faults from the start on."""
    return made_floor(tmp_path_factory.mktemp("halved"), effect=0.5, seed=2)


def told(floor, settings: Settings = EXACT, **case: str) -> BeforeAfter:
    log = floor if isinstance(floor, Log) else floor[0]
    with warehouse.reading(log.path) as connection:
        answer = ask("before-after", connection, settings=settings, case={"start": START.isoformat(), **case})
    text = before_after_text(answer)
    assert not re.search(r"\b(nan|None|inf|NaN|NaT|null)\b", text), text
    json.dumps(answer.to_dict(), allow_nan=False)
    return answer


def test_where_nothing_changed_no_change_is_shown_and_the_counts_are_those_of_the_log(still):
    answer = told(still)
    assert answer.verdict == "not_shown"
    assert answer.sentence.startswith("Faults are not shown to differ since 2025-01-01")
    assert (answer.case.span_days, answer.case.before) == (365, ["2024-01-02", "2024-12-31"])
    assert answer.watched.units == 100
    assert answer.watched.after.exposure == pytest.approx(100 * 3 * 365, rel=0.02)
    assert answer.others is None
    assert "nothing to compare with" in answer.warnings[0]
    assert answer.fair.ratio == answer.watched.ratio


def test_the_worst_ten_of_a_hundred_left_alone_are_no_success(still):
    answer = told(still, units=",".join(still[1][:10]))
    assert answer.watched.ratio.high < 1  # the plain comparison would have said so
    assert answer.verdict not in ("fewer", "more")
    assert answer.fair.shrunk_share > 0.15
    assert any("regression to the mean" in one and "taken off" in one for one in answer.warnings)
    assert "by which such units fall by chance alone" in answer.sentence
    assert (answer.others.units, answer.case.units) == (90, 10)


def test_a_halving_at_one_site_is_found_against_the_other(halved):
    answer = told(halved, site="south")
    assert answer.verdict == "fewer"
    assert answer.sentence.startswith("Fewer faults since 2025-01-01: ")
    assert answer.fair.ratio.low < 0.5 < answer.fair.ratio.high
    assert answer.fair.shrunk_share is None
    assert (answer.watched.units, answer.others.units) == (30, 30)
    gap = answer.mean_counts
    assert "This is the plain count" in " ".join(before_after_text(answer).split())
    assert gap.is_shown
    assert gap.difference.high < 0
    assert "fewer faults after than before" in " ".join(before_after_text(answer).split())
    north = told(halved, site="north")
    assert north.verdict == "more"  # held against a site that improved
    assert any("Whatever else changed" in one for one in north.warnings)


def test_a_bad_site_is_named_though_nothing_can_be_taken_off(tmp_path):
    """Faults at one site alone before the start."""
    rows = [f"S{unit} 2025-0{month}-1{unit} clean_open pass south" for unit in range(8) for month in (2, 3, 4)]
    rows += [f"N{unit} 2025-03-1{unit} clean_open pass north" for unit in range(8)]
    rows += [f"{site}{unit} 2025-0{month}-1{unit} clean_open pass {name}" for site, name in (("S", "south"), ("N", "north"))
             for unit in range(8) for month in (7, 9)]  # fmt: skip
    log = Log(
        tmp_path, units=register(*(f"{site}{unit}" for site in "NS" for unit in range(8))), jobs=reports(*rows, columns="site_id")
    )
    answer = told(log, start="2025-06-01", site="south", span_days="100")
    assert answer.clock == "days"
    assert any("cannot be taken off for a whole site" in one for one in answer.warnings)
    assert any("Counted in days" in one for one in answer.warnings)


def test_units_may_come_as_a_file_and_unknown_ones_are_named(still, tmp_path):
    path = tmp_path / "pads.csv"
    path.write_text("unit_id;seat\n" + "".join(f"{name};1\n" for name in [*still[1][:10], "X-1"]), encoding="utf-8-sig")
    answer = told(still, units_file=str(path))
    assert (answer.case.units, answer.case.unknown) == (11, ["X-1"])
    assert answer.fair == told(still, units=" ".join(still[1][:10])).fair
    with pytest.raises(SettingError, match="cannot be read"):
        told(still, units_file=str(tmp_path / "none.csv"))


def test_too_little_watched_cannot_tell(still):
    answer = told(still, units=",".join(still[1][:2]), span_days="30")
    assert answer.verdict == "cannot_tell"
    assert answer.sentence.startswith("Cannot tell")
    none = told(still, units="X-1,X-2")
    assert (none.verdict, none.because, none.watched.units) == ("cannot_tell", Because.NO_SPELLS, 0)
    assert before_after_table(none).shape[0] == 2  # the others


def test_a_site_narrows_whom_named_units_are_compared_with(still):
    south = [name for name in still[1] if name[0] == "S"][:5]
    answer = told(still, units=",".join(south), site="south")
    assert (answer.watched.units, answer.others.units) == (5, 45)


@pytest.mark.parametrize(
    ("case", "said"),
    [
        ({"start": "2020-01-01"}, "leaves no day before or after"),
        ({"start": "2026-05-01"}, "leaves no day before or after"),
        ({"start": "spring"}, "is no date"),
        ({"start": ""}, "asks for the day"),
        ({"span_days": "5000"}, "do not fit"),
        ({"span_days": "0"}, "out of range"),
        ({"site": "moon"}, "no site 'moon'"),
        ({"seat": "1"}, "has no 'seat'"),
    ],
)
def test_a_case_that_the_log_cannot_hold_is_refused_in_words(still, case, said):
    with pytest.raises(SettingError, match=said):
        told(still, **case)


def test_no_faults_at_all_and_none_after(tmp_path):
    quiet = Log(tmp_path / "a", units=register("A", "B"), jobs=reports("A 2025-12-30 clean_open pass"))
    answer = told(quiet, start="2025-06-01")
    assert (answer.verdict, answer.because) == ("cannot_tell", Because.NO_FAILURES)
    rows = [f"U{unit} 2025-0{month}-05 clean_open pass" for unit in range(6) for month in (1, 2, 3, 4)]
    cured = Log(
        tmp_path / "b", units=register(*(f"U{unit}" for unit in range(7))), jobs=reports(*rows, "U6 2025-12-31 clean_open pass")
    )
    answer = told(cured, start="2025-06-01", span_days="120")
    assert (answer.verdict, answer.watched.after.faults, answer.fair.ratio.estimate) == ("fewer", 0, None)
    assert "none on one side" in answer.sentence


def test_the_quiet_lag_is_not_counted(still):
    answer = told(still, settings=Settings(quiet_lag_days=60, notice_days=0))
    assert answer.case.after == ["2025-01-01", "2025-11-01"]


def test_files_hold_every_number_and_run_no_formula(still):
    answer = told(still, units=",".join(still[1][:10]))
    frame = before_after_table(answer)
    assert frame["fault_count"].tolist() == [
        one for group in (answer.watched, answer.others) for one in (group.before.faults, group.after.faults)
    ]
    assert frame.loc[1, "fair_ratio_high"] == answer.fair.ratio.high
    assert before_after_csv(answer).count("\n") == 5
    assert list(before_after_sheets(answer)) == ["sides", "mean counts", "asked"]


def test_the_json_holds_the_keys_of_the_page_and_no_others(tmp_path):
    with loaded_fleet(1500, 3, tmp_path, easy=False) as (fleet, connection):
        site = fleet.tables["units"]["site_id"].dropna().iloc[0]
        answer = ask("before-after", connection, case={"start": "2025-03-01", "site": site})
    plain = json.loads(json.dumps(answer.to_dict(), allow_nan=False))
    assert set(plain) == keys(TITLE) - {"before", "after"} == {one.name for one in fields(BeforeAfter)}
    assert set(plain["case"]) == inside(TITLE, "case")
    assert set(plain["watched"]) == set(plain["others"]) == inside(TITLE, "watched")
    assert set(plain["watched"]["after"]) == inside(TITLE, "after") - {"watched", "others"}
    assert set(plain["fair"]) == inside(TITLE, "fair")
    assert set(plain["mean_counts"]) == inside(TITLE, "mean_counts") - {"mean_cumulative"}
    assert set(plain["left_out"]) == inside(TITLE, "left_out")
