"""Warranties: shares and costs by hand, what is asked for, groups, refusals, and the page of the JSON."""

from __future__ import annotations

import json
import re
from dataclasses import fields, replace

import pandas as pd
import pytest

from pipelines.answers import ask
from pipelines.answers.question import asked
from pipelines.answers.warranty import warranty_of
from pipelines.answers.warranty_record import Longest, Warranty, WarrantyGroup
from pipelines.answers.warranty_text import warranty_csv, warranty_table, warranty_text
from pipelines.errors import SettingError
from pipelines.settings import Settings
from pipelines.vocabulary import Because
from tests.answers.lot_records import record
from tests.answers.test_contract import inside, keys
from tests.pipeline.made_fleet import loaded_fleet

HEAD = ["family", "grade", "warranty_days", "days", "is_returned", "return_reason", "sale_count"]
#: Per 100 sales: 5 back on day 10, 5 on day 40, one of them for no fault; the rest watched to the end.
USUAL = [
    ("Nolm", "A", 90, 10.0, True, "drift", 5), ("Nolm", "A", 90, 40.0, True, "other_fault", 4),
    ("Nolm", "A", 90, 40.0, True, "buyer_remorse", 1), ("Nolm", "A", 90, 90.0, False, None, 90),
]  # fmt: skip


def warranty(*sales: tuple, by: tuple[str, ...] = (), usual: int | None = None, **settings: object) -> Warranty:
    """Return the answer for these sales."""
    returns = pd.DataFrame(list(sales), columns=HEAD).astype({"is_returned": bool, "days": float})
    of = replace(record(warranties=[] if usual is None else [(usual, 10)]), returns=returns)
    question = asked("warranty", by=by, where={}, clock=None, level=None, settings=Settings(**settings))
    return warranty_of(of, question)


def within(answer: Warranty, days: int, group: int = 0):
    return next(one for one in answer.groups[group].within if one.days == days)


def test_shares_and_costs_are_those_counted_by_hand():
    answer = warranty(*USUAL, return_cost=20.0, accepted_warranty_cost=1.0)
    assert within(answer, 30).returned.estimate == pytest.approx(0.05)
    assert within(answer, 90).returned.estimate == pytest.approx(0.1)
    assert within(answer, 90).returned_for_fault.estimate == pytest.approx(0.09)
    assert within(answer, 90).cost.estimate == pytest.approx(2.0)
    assert within(answer, 90).at_risk == 90
    assert within(answer, 180).returned.because is Because.TOO_FEW_AT_RISK
    (group,) = answer.groups
    assert group.counts == {
        "sales": 100, "returned": 10, "returned_for_fault": 9, "reason_unknown": 0, "still_watched": 0,
    }  # fmt: skip
    assert (group.longest.likely_days, group.longest.allowed_share) == (39, 0.05)
    assert group.longest.sure_days < 10
    assert "likely" in answer.sentence


def test_a_warranty_never_given_cannot_be_told():
    answer = warranty(*USUAL, return_cost=20.0, accepted_warranty_cost=8.0)
    assert answer.groups[0].longest == Longest(None, 0.4, 90, 90, True, True)
    assert "no longer one was given" in answer.sentence
    few = ("Nolm", "A", 365, 365.0, False, None, 5)
    assert "too few were given longer" in warranty(*USUAL, few, return_cost=20.0, accepted_warranty_cost=8.0).sentence


def test_recent_sales_are_no_sales_that_held():
    young = ("Nolm", "A", 90, 5.0, False, None, 100)
    answer = warranty(*USUAL, young)
    assert within(answer, 90).returned.estimate == pytest.approx(0.1)
    assert answer.groups[0].counts["still_watched"] == 100
    assert "100 of 200 sales are still under warranty" in answer.warnings[0]


def test_costs_are_asked_for_and_returns_told_without_them():
    answer = warranty(*USUAL)
    assert [one.name for one in answer.asked_for] == ["return_cost", "accepted_warranty_cost"]
    assert answer.groups[0].longest == Longest(Because.NOT_GIVEN, None, None, None, False, False)
    assert within(answer, 30).cost.because is Because.NOT_GIVEN
    assert within(answer, 30).returned.estimate == pytest.approx(0.05)
    assert answer.because is None


@pytest.mark.parametrize(("cost", "accepted", "days"), [(0.0, 0.0, 90), (5.0, 9.0, 90), (20.0, 0.0, 9)])
def test_a_return_that_costs_nothing_or_less_than_accepted_sets_no_end(cost, accepted, days):
    longest = warranty(*USUAL, return_cost=cost, accepted_warranty_cost=accepted).groups[0].longest
    assert longest.likely_days == days


def test_returns_on_the_first_day_leave_no_warranty():
    answer = warranty(("Nolm", "A", 30, 0.5, True, "drift", 9), ("Nolm", "A", 30, 30.0, False, None, 91), return_cost=10.0,
                      accepted_warranty_cost=0.1)  # fmt: skip
    assert answer.groups[0].longest.likely_days == 0
    assert answer.sentence.startswith("No warranty, not even one of a day,")


def test_groups_by_family_and_by_grade_are_each_alone():
    other = [("Velm", None, *one[2:]) for one in USUAL]
    answer = warranty(*USUAL, *other, ("Tiny", "C", 30, 30.0, False, None, 2), by=("family",))
    assert [one.by for one in answer.groups] == [{"family": "Nolm"}, {"family": "Tiny"}, {"family": "Velm"}]
    assert answer.groups[1].because is Because.TOO_FEW_AT_RISK
    assert answer.because is None
    assert answer.groups[0].within == warranty(*USUAL).groups[0].within
    grades = warranty(*USUAL, *other, by=("grade",))
    assert [one.by for one in grades.groups] == [{"grade": "A"}, {"grade": None}]
    assert "grade not recorded" in warranty_text(grades)
    assert [one["sales"] for one in (group.counts for group in grades.groups)] == [100, 100]
    assert answer.sentence.startswith("20 of 202")


def test_the_usual_warranty_is_told_too():
    assert [one.days for one in warranty(*USUAL, usual=45).groups[0].within] == [30, 45, 60, 90, 180]
    assert [one.days for one in warranty(*USUAL, usual=45, warranty_days=7).groups[0].within] == [7, 30, 60, 90, 180]
    assert [one.days for one in warranty(*USUAL, usual=0).groups[0].within] == [30, 60, 90, 180]


def test_reasons_not_known_are_no_faults_and_said():
    answer = warranty(*USUAL, ("Nolm", "A", 90, 20.0, True, None, 5), ("Nolm", "A", 90, 20.0, True, "unknown", 1))
    assert answer.groups[0].counts["reason_unknown"] == 6
    assert answer.groups[0].counts["returned_for_fault"] == 9
    assert any("Of 6 of 16 returns the reason is not known" in one for one in answer.warnings)


def test_nothing_sold_and_too_few_sold():
    nothing = warranty()
    assert (nothing.because, nothing.groups) == (Because.NO_SPELLS, [])
    assert nothing.sentence.startswith("Nothing to say")
    assert warranty(by=("family",)).because is Because.NO_SPELLS
    few = warranty(("Nolm", "A", 30, 30.0, False, None, 3), return_cost=10.0, accepted_warranty_cost=1.0)
    assert few.because is Because.TOO_FEW_AT_RISK
    assert few.groups[0].longest.because is Because.TOO_FEW_AT_RISK
    every = warranty(("Nolm", "A", 30, 12.0, True, "drift", 30), return_cost=10.0, accepted_warranty_cost=1.0)
    assert every.groups[0].longest.likely_days == 11
    for answer in (nothing, few, every):
        assert not re.search(r"\b(nan|None|inf|NaN|null)\b", warranty_text(answer))
        json.dumps(answer.to_dict(), allow_nan=False)
    assert warranty_table(nothing).empty


def test_csv_has_a_row_for_each_group_and_horizon_and_runs_no_formula():
    hostile = [("=1+1", *one[1:]) for one in USUAL]
    assert "'=1+1,30,100" in warranty_csv(warranty(*hostile, by=("family",)))
    assert len(warranty_table(warranty(*USUAL, *hostile, by=("family",)))) == 8


def test_other_columns_and_filters_are_refused():
    for words in ({"by": ["site"]}, {"where": {"family": ["Nolm"]}}, {"clock": "days"}, {"case": {"mix": "Nolm:3"}}):
        with pytest.raises(SettingError):
            asked("warranty", **{"by": [], "where": {}, "clock": None, "level": None, "settings": Settings(), **words})


def test_the_json_holds_the_keys_of_the_page_and_no_others(tmp_path):
    with loaded_fleet(1500, 3, tmp_path, easy=False) as (_, connection):
        answer = ask("warranty", connection, by=["grade"], settings=Settings(return_cost=15, accepted_warranty_cost=2))
    plain, title = json.loads(json.dumps(answer.to_dict(), allow_nan=False)), "`warranty`"
    group = plain["groups"][0]
    own = {"question", "by", "log_start", "log_end", "level", "settings", "sentence", "warnings", "because"}
    assert set(plain) | set(group) == keys(title) | own
    assert set(plain) == {one.name for one in fields(Warranty)}
    assert set(group) == {one.name for one in fields(WarrantyGroup)}
    assert set(group["counts"]) == inside(title, "counts") - {"groups"}
    assert set(group["returns"][0]) == set(group["fault_returns"][0]) == inside(title, "returns") - {"groups"}
    assert set(group["within"][0]) - {"days"} == inside(title, "within") - {"groups", "return_cost", "too_few_at_risk", "told_to"}
    assert set(group["longest"]) == inside(title, "longest") - {"groups", "accepted_warranty_cost", "return_cost"}
