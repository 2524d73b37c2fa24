"""The month through the whole pipeline: counts and costs by hand, what is asked for, refusals, the page, and the JSON."""

from __future__ import annotations

import datetime as dt
import io
import json
import re
from dataclasses import fields

import openpyxl
import pytest

from pipelines import cli, warehouse
from pipelines.answers import ask
from pipelines.answers.monthly_record import Monthly, MonthPart
from pipelines.answers.monthly_sheet import month_html, month_workbook
from pipelines.answers.monthly_text import cost_table, history_table, monthly_csv, monthly_table, monthly_text, site_table
from pipelines.errors import SettingError
from pipelines.settings import Settings
from pipelines.vocabulary import Because
from tests.answers.logs import EXACT, Log, register, reports
from tests.answers.made_floor import HOURS_A_DAY, made_floor
from tests.answers.test_contract import inside, keys
from tests.answers.test_lot_sheet import ACTIVE, Page, flat
from tests.pipeline.made_fleet import loaded_fleet

TITLE = "`monthly`"
DOWN = """
station_id down_from down_to cause revenue_per_hour
N1 2025-12-03T00:00 2025-12-05T00:00 stick 5
S1 2025-12-10T00:00 2025-12-10T12:00 stick 4
S1 2025-11-10T00:00 2025-11-12T00:00 stick 4
S1 2025-12-20T00:00 2025-12-20T06:00 network 4
N1 2025-10-20T00:00 - stick 5
"""
SEATS = """
unit_id station_id from_at to_at
N-000 N1 2024-01-01T00:00 -
S-001 S1 2024-01-01T00:00 -
"""
PRICES = """
key valid_from amount kind
bench 2024-01-01 30 labour_per_hour
bench 2026-01-01 99 labour_per_hour
north 2024-01-01 7 downtime_per_hour
"""


@pytest.fixture(scope="module")
def floor(tmp_path_factory):
    return made_floor(tmp_path_factory.mktemp("floor"), units=80, seed=5, downtime=DOWN, assignments=SEATS, prices=PRICES)[0]


def told(log: Log, settings: Settings = EXACT, **case: str) -> Monthly:
    with warehouse.reading(log.path) as connection:
        answer = ask("monthly", connection, settings=settings, case=case)
    text = monthly_text(answer)
    assert not re.search(r"\b(nan|None|inf|NaN|NaT|null)\b", text), text
    assert not re.search(r">(nan|None|inf)<", month_html(answer).decode())
    json.dumps(answer.to_dict(), allow_nan=False)
    return answer


def with_(**settings: object) -> Settings:
    return EXACT.overlaid(settings)


def test_the_last_whole_month_is_told_in_one_sentence(floor):
    answer = told(floor)
    assert (answer.month, answer.months_before, answer.clock) == ("2025-12", 12, "hours")
    assert answer.sentence.startswith("2025-12: ")
    assert answer.sentence.count(".") - answer.sentence.count(".", 0, -1) == 1
    assert "within chance" in answer.sentence
    assert "60 hours out of use because of a stick" in answer.sentence
    assert [one.site for one in answer.sites] == ["north", "south"]
    assert [one.month for one in answer.history] == [f"2024-{12:02d}", *(f"2025-{month:02d}" for month in range(1, 13))]


def test_sites_add_up_to_the_whole_and_hours_are_those_played(floor):
    answer = told(floor)
    for name in ("units", "faults", "jobs", "hours_down", "other_hours_down"):
        assert sum(getattr(one, name) for one in answer.sites) == getattr(answer.whole, name), name
    assert answer.whole.exposure == pytest.approx(sum(one.exposure for one in answer.sites))
    assert answer.whole.exposure == pytest.approx(80 * 31 * HOURS_A_DAY, rel=0.01)
    assert answer.whole.rate.estimate == pytest.approx(1000 * answer.whole.faults / answer.whole.exposure)
    assert (answer.sites[0].hours_down, answer.sites[1].hours_down, answer.sites[1].other_hours_down) == (48, 12, 6)
    assert (answer.whole.open_stops, answer.sites[0].open_stops) == (1, 1)
    assert any("1 seat on record as out of use" in one for one in answer.warnings)


def test_costs_are_those_reckoned_by_hand(floor):
    """20 minutes a job at 30 an hour (the price of that day); north 7 an hour by the list, south 4 by what its stops say."""
    answer = told(floor)
    north, south = answer.sites
    assert north.cost.labour == pytest.approx(north.jobs * 10)
    assert (north.cost.downtime, south.cost.downtime) == (48 * 7, 12 * 4)
    assert answer.whole.cost.total == pytest.approx(answer.whole.jobs * 10 + 48 * 7 + 12 * 4)
    assert answer.whole.cost_per_hour.estimate == pytest.approx(answer.whole.cost.total / answer.whole.exposure)
    origins = {(one.name, one.origin): one for one in answer.sources}
    assert origins["labour_per_hour", "prices"].amount == 30
    assert (origins["downtime_per_hour", "record"].amount, origins["downtime_per_hour", "record"].of) == (4, ["south"])
    assert answer.asked_for == []


def test_hours_by_the_clock_are_said_with_their_share_and_the_cost_without_them(floor):
    answer = told(floor)
    cost = answer.whole.cost
    (note,) = [one for one in answer.warnings if "those of the clock, nights" in one]
    assert "30 hours for each stop by a stick" in note
    assert f"{round(100 * cost.downtime / cost.total)} % of the cost" in note.replace("\u202f", " ").replace("\u00a0", " ")
    rest = (cost.labour + cost.parts) / answer.whole.exposure
    assert f", {rest:.3f} without time out of use." in answer.sentence
    assert "without time out of use" in Page(month_html(answer)).text
    assert "Note: Hours out of use are those of the clock" in monthly_text(answer)


def test_stars_are_explained_where_there_are_any(tmp_path):
    """The south has four times the faults from January 2025 on."""
    worse, _ = made_floor(tmp_path, effect=4.0, seed=5)
    for month, is_starred in (("2024-12", False), ("2025-01", True)):
        answer = told(worse, month=month)
        north, south, _ = site_table(answer)["mean of 12 before" if is_starred else "mean of 11 before"]
        assert (north.endswith(" *"), south.endswith(" *")) == (False, is_starred)
        assert ("* more than chance" in monthly_text(answer)) is is_starred
        assert ("* more than chance" in Page(month_html(answer)).text) is is_starred


def test_a_setting_goes_before_the_price_list_and_that_before_the_record(floor):
    answer = told(floor, with_(downtime_per_hour=2, labour_per_hour=60))
    assert answer.whole.cost.downtime == 60 * 2
    assert answer.whole.cost.labour == pytest.approx(answer.whole.jobs * 20)


def test_what_nothing_tells_is_asked_for_and_the_rest_told(tmp_path):
    log = made_floor(tmp_path, units=20, downtime=DOWN.replace(" 5\n", " -\n").replace(" 4\n", " -\n"), assignments=SEATS)[0]
    answer = told(log)
    assert [one.name for one in answer.asked_for] == ["labour_per_hour", "downtime_per_hour"]
    assert (answer.whole.cost, answer.whole.because) == (None, Because.NOT_GIVEN)
    assert answer.whole.rate.estimate == pytest.approx(1000 * answer.whole.faults / answer.whole.exposure)
    assert "--set labour_per_hour=" in monthly_text(answer)
    assert "what a play hour costs needs bench hour, hour out of use" in answer.sentence
    assert "To be given: Bench hour" in Page(month_html(answer)).text


def test_a_part_without_a_price_is_asked_for_unless_nearly_all_have_one(tmp_path):
    rows = [f"U{unit} 2025-0{month}-05 replace_module pass 30" for unit in range(4) for month in (2, 3, 4)]
    log = Log(tmp_path, units=register(*(f"U{unit}" for unit in range(4))), jobs=reports(*rows, columns="bench_minutes"))
    answer = told(log, with_(labour_per_hour=10), month="2025-03")
    assert [one.name for one in answer.asked_for] == ["part_cost"]
    priced = told(log, with_(labour_per_hour=10, part_cost=3), month="2025-03")
    assert priced.whole.cost.parts == 12
    assert (priced.whole.cost.downtime, priced.whole.hours_down) == (None, None)
    assert any("no table of downtime" in one for one in priced.warnings)
    assert priced.sites == []  # one site, or none known


def test_a_month_that_is_not_whole_is_refused_in_words(floor):
    for word, said in (("2023-12", "does not hold the whole of 2023-12"), ("2026-01", "does not hold"), ("May", "is no month"),
                       ("2025-13", "is no month")):  # fmt: skip
        with pytest.raises(SettingError, match=said):
            told(floor, month=word)
    late = told(floor, Settings(quiet_lag_days=21, notice_days=0))
    assert late.month == "2025-11"
    with pytest.raises(SettingError, match="not all in"):
        told(floor, Settings(), month="2025-12")


def test_the_first_month_has_nothing_to_compare_with(floor):
    answer = told(floor, month="2024-01")
    assert (answer.months_before, answer.whole.against_before.because) == (0, Because.NO_FOLLOW_UP)
    assert "no month before to compare with" in answer.sentence
    assert answer.whole.change == answer.whole.change_from_mean == "cannot_tell"


def test_a_month_three_times_as_bad_is_more_than_chance(tmp_path):
    head = [
        f"U{unit:02d} 2025-{month:02d}-{unit % 27 + 1:02d} clean_open pass"
        for unit in range(40)
        for month in range(2, 12)
        if unit % 2
    ]
    burst = [f"U{unit:02d} 2025-12-{day:02d} clean_open pass" for unit in range(40) for day in (5, 20)]
    log = Log(
        tmp_path,
        units=register(*(f"U{unit:02d}" for unit in range(40))),
        jobs=reports(*head, *burst, "U00 2025-12-31 clean_open pass"),
    )
    answer = told(log)
    assert (answer.month, answer.clock) == ("2025-12", "days")
    assert (answer.whole.change, answer.whole.change_from_mean) == ("more", "more")
    assert "(both more than chance)" in answer.sentence
    assert any("Counted in days" in one for one in answer.warnings)


def test_a_floor_without_a_fault(tmp_path):
    head = "job_id unit_id received_on action outcome stick family visit_reason finding"
    log = Log(tmp_path, units=register("A", "B"), jobs=f"{head}\nJ1 A 2025-12-31 test_only pass S Nolm check no_fault_found")
    answer = told(log)
    assert answer.whole.faults == 0
    assert "no fault (at most " in answer.sentence


def test_the_page_holds_the_answer_and_its_tables_and_runs_nothing(floor):
    answer = told(floor)
    page = month_html(answer)
    read = Page(page)
    assert flat(answer.sentence) in read.text
    for frame in (site_table(answer), cost_table(answer), history_table(answer)):
        assert len(frame)
        for cell in [*frame.columns, *frame.to_numpy().ravel()]:
            assert flat(str(cell)) in read.text
    assert not read.tags & ACTIVE
    assert not [name for name, _ in read.attributes if name.startswith("on") or name in ("src", "href", "srcset", "style")]
    assert b"http" not in page
    assert b"@page" in page


def test_text_from_the_log_is_shown_as_it_is(tmp_path):
    evil = "<script>alert(1)</script>"
    units = (
        register("A", "B")
        .replace("family", "family site_id")
        .replace("A Nolm", f"A Nolm {evil}")
        .replace("B Nolm", "B Nolm =1+1")
    )
    log = Log(tmp_path, units=units,
              jobs=reports("A 2025-03-05 clean_open pass", "B 2025-12-31 clean_open pass"))  # fmt: skip
    answer = told(log, month="2025-03")
    assert evil.encode() not in month_html(answer)
    assert evil in Page(month_html(answer)).text
    assert ",'=1+1," in monthly_csv(answer)


def test_the_workbook_and_csv_hold_every_number(floor, tmp_path, capsys):
    answer = told(floor)
    book = openpyxl.load_workbook(io.BytesIO(month_workbook(answer)))
    assert book.sheetnames == ["month", "months", "asked"]
    assert book["months"].max_row == 14
    assert monthly_csv(answer).count("\n") == 4
    assert monthly_table(answer)["fault_count"].tolist()[-1] == answer.whole.faults
    for name in ("month.html", "month.xlsx"):
        words = [
            "answer",
            "monthly",
            "--warehouse",
            str(floor.path),
            "--set",
            "quiet_lag_days=0",
            "--sheet",
            str(tmp_path / name),
        ]
        assert cli.main(words) == 0
        assert (tmp_path / name).stat().st_size > 1000
    assert cli.main(["answer", "monthly", "--warehouse", str(floor.path), "--sheet", str(tmp_path / "month.pdf")]) == 5
    assert "ends in .html or .xlsx" in capsys.readouterr().err


def test_the_json_holds_the_keys_of_the_page_and_no_others(tmp_path):
    with loaded_fleet(1500, 3, tmp_path, easy=False) as (_, connection):
        answer = ask("monthly", connection)
    plain = json.loads(json.dumps(answer.to_dict(), allow_nan=False))
    assert set(plain) | set(plain["whole"]) == keys(TITLE)
    assert set(plain) == {one.name for one in fields(Monthly)}
    assert set(plain["whole"]) == {one.name for one in fields(MonthPart)}
    assert set(plain["history"][0]) == inside(TITLE, "history")
    assert set(plain["whole"]["cost"]) == inside(TITLE, "cost")
    assert dt.date.fromisoformat(f"{answer.month}-01")
