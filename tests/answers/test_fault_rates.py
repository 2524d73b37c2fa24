"""Fault rates: sentences and numbers of small floors, refusals in words, retiring, and the page of the JSON."""

from __future__ import annotations

import json
import re
from dataclasses import fields

import pytest

from pipelines import warehouse
from pipelines.answers import ask
from pipelines.answers.fault_rates_record import Comparison, FaultRates, Place, Repeated
from pipelines.answers.fault_rates_text import fault_rates_csv, fault_rates_text, repeated_table
from pipelines.charts.funnel import has_figure, places_figure
from pipelines.decisions.retire import Retire, Retirement
from pipelines.errors import SettingError
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Clock
from tests.answers.logs import EXACT, Log
from tests.answers.test_contract import inside, keys
from tests.pipeline.made_fleet import loaded_fleet

MONEY = {"unit_price": 40.0, "fault_cost": 25.0, "keep_weeks": 100.0}
HEAD = "job_id unit_id received_on stick family action outcome visit_reason finding usage_hours usage_basis"


def floor(
    tmp_path, *, bad: int = 12, seats: int = 12, has_hours: bool = True, dark: int | None = None, stays: bool = True,
    technician: str = "",
) -> Log:  # fmt: skip
    """Return a floor of controllers with a seat each, a fault or two a year each, and `bad` of the first; all of one family.

    dark: the number of a controller without any play hours.
    """
    units, jobs, at = ["unit_id family sticks in_service_on new_or_used site_id"], [HEAD + " technician" * bool(technician)], []
    for place in range(seats):
        unit = f"A{place:02d}"
        units.append(f"{unit} Nolm S 2025-01-01 new north")
        at.append(f"{unit} seat-{place:02d} 2025-01-01 -")
        count = bad if place == 0 else 1 + place % 2
        for number in range(count + 1):
            day = 1 + 350 * (number + 1) // (count + 1)
            month, of = 1 + (day - 1) // 30, 1 + (day - 1) % 30 % 28
            is_last = number == count
            did = "test_only pass check no_fault_found" if is_last else "clean_open pass fault_report fault_confirmed"
            hours = f"{3 * day} metered" if has_hours and place != dark else "- -"
            jobs.append(f"J{place}-{number} {unit} 2025-{min(month, 12):02d}-{of:02d} S Nolm {did} {hours} {technician}".strip())
    tables = {"units": "\n".join(units), "jobs": "\n".join(jobs)}
    if stays:
        tables["assignments"] = "\n".join(["unit_id station_id from_at to_at", *at])
    return Log(tmp_path, **tables)


def asked(log: Log, **settings: object) -> FaultRates:
    with warehouse.reading(log.path) as connection:
        answer = ask("fault-rates", connection, settings=EXACT.overlaid(settings))
    said = [fault_rates_text(answer), answer.sentence, answer.retire_sentence, *answer.warnings]
    assert not re.search(r"\b(nan|None|inf|NaN|NaT|null)\b", "\n".join(said)), said
    json.dumps(answer.to_dict(), allow_nan=False)
    return answer


def of(answer: FaultRates, what: str) -> Comparison:
    return next(one for one in answer.comparisons if one.what == what)


def test_a_bad_seat_is_named_first_with_what_would_be_expected(tmp_path):
    answer = asked(floor(tmp_path))
    seats = of(answer, "station")
    assert seats.worse == ["seat-00"]
    assert "seat-00, 12 faults where" in answer.sentence
    assert "it may be the controller" in answer.sentence
    assert seats.places[0].expected == pytest.approx(sum(one.failures for one in seats.places) / 12, rel=0.1)
    assert sum(one.expected for one in seats.places) == pytest.approx(sum(one.failures for one in seats.places))
    rate = seats.places[0].rate_per_1000
    assert rate.estimate == pytest.approx(1000 * 12 / seats.places[0].exposure)


def test_a_floor_without_a_bad_seat_says_that_luck_explains_it(tmp_path):
    answer = asked(floor(tmp_path, bad=2))
    assert of(answer, "station").worse == []
    assert answer.sentence.startswith("No seat stands out")
    assert "seat-" not in answer.sentence


def test_without_assignments_that_is_said_and_sites_and_sides_are_told(tmp_path):
    answer = asked(floor(tmp_path, stays=False))
    seats = of(answer, "station")
    assert (seats.because, seats.places) == (Because.NOT_RECORDED, [])
    assert "no table of which controller served which seat" in answer.sentence
    (site,) = of(answer, "site").places
    assert (site.name, site.rate_per_1000.estimate > 0, site.because) == ("north", True, Because.CONFOUNDED)


def test_without_hours_days_are_used_and_what_that_loses_is_said(tmp_path):
    answer = asked(floor(tmp_path, has_hours=False))
    assert answer.clock == "days"
    assert "play hours are missing" in answer.warnings[0]
    assert of(answer, "station").worse == ["seat-00"]


def test_a_seat_without_hours_is_not_compared_and_that_is_said(tmp_path):
    answer = asked(floor(tmp_path, dark=11))
    assert answer.clock == "hours"
    seat = of(answer, "station").places[-1]
    assert (seat.name, seat.because, seat.ratio) == ("seat-11", Because.NO_USABLE_HOURS, None)
    assert seat.rate_per_1000.because is Because.NO_USABLE_HOURS
    assert any("1 seat had no usable play hours" in one for one in answer.warnings)
    assert of(answer, "station").worse == ["seat-00"]


def test_technicians_are_told_only_where_the_column_is(tmp_path):
    assert of(asked(floor(tmp_path / "without")), "technician").because is Because.NOT_RECORDED
    some = of(asked(floor(tmp_path / "with", technician="ann")), "technician")
    (ann,) = some.places
    assert (ann.name, ann.jobs) == ("ann", 12 + sum(1 + place % 2 for place in range(1, 12)))
    assert 0 < ann.back_share.estimate < 1
    assert ann.rate_per_1000 is None


def test_the_same_controller_again_and_again_is_weighed_once_costs_are_given(tmp_path):
    log = floor(tmp_path)
    before = asked(log)
    assert [one.unit for one in before.repeated] == ["A00"]
    assert {one.name for one in before.asked_for} == set(MONEY)
    assert "needs from you: another controller, one fault, all told, time it is still to serve" in before.retire_sentence
    after = asked(log, **MONEY)
    (one,) = after.repeated
    assert one.money.advice is Retire.REPLACE
    assert one.money.saving.estimate == pytest.approx(one.money.keep_cost - one.money.replace_cost)
    typical = one.faults_per_week * 100 * 25
    assert (one.money.keep_cost, one.money.replace_cost) == (
        pytest.approx(one.factor.estimate * typical),
        pytest.approx(40 + typical),
    )
    assert 1 < one.factor.estimate < one.failures / one.expected  # shrunk
    assert asked(log, **MONEY | {"unit_price": 1e5}).repeated[0].money.advice is Retire.KEEP
    assert asked(log, **MONEY | {"fault_cost": 0}).repeated[0].money.advice is Retire.KEEP


@pytest.mark.parametrize(
    "jobs",
    [f"{HEAD}\nJ1 A1 2025-02-01 S Nolm test_only pass check no_fault_found 50 metered",
     f"{HEAD}\nJ1 A1 2025-02-01 S Nolm clean_air pass fault_report fault_confirmed 50 metered"],
)  # fmt: skip
def test_logs_of_nothing_and_of_one_fault_give_words(tmp_path, jobs):
    answer = asked(Log(tmp_path, jobs=jobs))
    # no seat, no site, no side and no technician is on record
    assert {answer.because, *(one.because for one in answer.comparisons)} == {Because.NOT_RECORDED}
    assert not has_figure(of(answer, "station"))
    assert answer.repeated == []


def test_a_question_of_places_takes_no_filter(tmp_path):
    with warehouse.reading(floor(tmp_path).path) as connection, pytest.raises(SettingError):
        ask("fault-rates", connection, where={"family": ["Nolm"]})


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    with loaded_fleet(2500, 3, tmp_path_factory.mktemp("fleet"), easy=False) as (_, connection):
        return ask("fault-rates", connection, settings=Settings(**MONEY))


def test_the_page_holds_the_keys_of_the_record(made):
    title = "`fault-rates`"
    listed = keys(title)
    plain = made.to_dict()
    assert set(plain) <= listed
    for part in (Comparison, Place, Repeated, Retirement):
        assert {one.name for one in fields(part)} <= listed | inside(title, "repeated") | inside(title, "money")
    assert {place["because"] for one in plain["comparisons"] for place in one["places"]} - {None} <= keys("`because`")


def test_figures_are_a_funnel_for_many_and_rows_for_few(made):
    funnel = places_figure(of(made, "station"), clock=Clock.HOURS, level=0.95)
    drawn = sum(len(one.x) for one in funnel.data if one.mode == "markers")
    assert drawn == sum(one.ratio is not None for one in of(made, "station").places)
    names = dict(zip(funnel.layout.xaxis.tickvals, funnel.layout.xaxis.ticktext, strict=True))
    assert [names[tick] for tick in (0.1, 1, 3, 10, 1000)] == ["0.1", "1", "3", "10", "1,000"]
    assert "0.3" in names.values()
    assert "luck, 95\u00a0% for one seat alone" in {one.name.replace("\u202f", "\u00a0") for one in funnel.data if one.name}
    rows = places_figure(of(made, "site"), clock=Clock.HOURS, level=0.95)
    assert rows.layout.xaxis.title.text == "faults per 1,000 play hours"
    backs = places_figure(of(made, "technician"), clock=Clock.HOURS, level=0.95)
    assert "came back" in backs.layout.xaxis.title.text
    assert all(" of " in name for name in backs.layout.yaxis.ticktext)
    sides = {trace.name: trace for trace in places_figure(of(made, "stick"), clock=Clock.HOURS, level=0.95).data}
    apart = sum(one.ratio is None for one in of(made, "stick").places)
    assert len(sides["not compared"].x if apart else ()) == apart


def test_text_and_tables_hold_every_place(made):
    text, csv = fault_rates_text(made), fault_rates_csv(made)
    assert made.sentence.split(".")[0] in text.replace("\n", " ")
    assert csv.count("\n") == 1 + sum(len(one.places) for one in made.comparisons)
    assert len(repeated_table(made)) == len(made.repeated)
