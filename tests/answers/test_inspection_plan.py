"""Plans as the answer gives them: published plans and curves through its own functions, what is asked by half, and arrows."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.answers.inspection_plan import case_of, curve_of, passes, plans_of, power_of
from pipelines.errors import SettingError
from pipelines.estimates.acceptance import Plan
from pipelines.vocabulary import Because
from pipelines.wording.batch_inspection import plan_sentence
from tests.published.cases import load_case


def asked(**words: object):
    return case_of({name: str(value) for name, value in words.items()}, ["B-1", "B-2"], ["rest offset"])


def test_the_curve_of_the_handbook():
    case = load_case("oc_nist_52_3")
    plan = Plan(case.data["n"], case.data["c"])
    assert [passes(plan, share) for share in case.data["p"]] == pytest.approx(case.expected["Pa"], rel=case.rel_tol)
    curve = curve_of(plan, farthest=0.12)
    at = {round(point.share, 6): point.pass_chance for point in curve}
    assert [at[share] for share in case.data["p"]] == pytest.approx(case.expected["Pa"], rel=case.rel_tol)
    lot = curve_of(Plan(case.data["n"], case.data["c"], case.data["N"]), farthest=0.12)
    out = {round(point.share, 6): point.outgoing_share for point in lot}
    found = [out[share] for share in case.data["p"] if share in out]
    want = [value for share, value in zip(case.data["p"], case.expected["AOQ"], strict=True) if share in out]
    assert found == pytest.approx(want, rel=case.rel_tol)
    assert len(found) >= 6


def test_the_smallest_plan_for_both_risks():
    case = load_case("plan_jss_kiermeier")
    (good, pass_good), (bad, pass_bad) = case.data["PRP"], case.data["CRP"]
    asked_for = asked(good_pct=100 * good, bad_pct=100 * bad, producer_risk=f"{1 - pass_good:.3f}", consumer_risk=pass_bad)
    (plan,) = plans_of(asked_for)
    assert (plan.origin, plan.sample, plan.acceptance_number) == ("two_points", case.expected["plan_n"], case.expected["plan_c"])
    found = Plan(plan.sample, plan.acceptance_number)
    assert [passes(found, good), passes(found, bad)] == pytest.approx(case.expected["plan_pa"], rel=case.rel_tol)
    assert [passes(Plan(20, 0), good), passes(Plan(20, 0), bad)] == pytest.approx(case.expected["assess_20_0"], rel=case.rel_tol)
    assert plan.power.producer_share > good
    assert plan.power.consumer_share < bad
    assert "with twice the 5\u00a0% that should pass" in plan_sentence(plan, asked_for)


@pytest.mark.parametrize(("lot", "aql"), [(2400, 2.5), (400, 1), (1000, 4)])
def test_the_plans_of_the_standard(lot, aql):
    want = load_case("iso2859_rows").expected
    (plan,) = plans_of(asked(lot=lot, aql=aql))
    key = f"{lot}_II_AQL{aql:g}".replace(".", "_")
    assert (plan.sample, plan.acceptance_number, plan.origin) == (want[f"n_{key}"], want[f"Ac_{key}"], "iso_2859_1")
    assert plan.power == power_of(Plan(plan.sample, plan.acceptance_number, lot), float(aql))
    assert "normal inspection" in plan_sentence(plan, asked(lot=lot, aql=aql))


def test_a_share_of_under_one_unit_is_that_of_a_process():
    """Of 10 units at an agreed 3 %, twice that is 0.6 units: 0.94⁵ pass five tested, not 5/10 as with one bad of ten."""
    assert power_of(Plan(5, 0, 10), 3.0).passes_at_twice == pytest.approx(0.94**5)
    assert power_of(Plan(5, 0, 10), 5.0).passes_at_twice == pytest.approx(0.5)


def test_finite_lots_and_plans_that_accept_none():
    case = load_case("hypergeom_c0")
    found = [passes(Plan(n, c, size), bad / size) for size, bad, n, c in case.data["N_D_n_c"]]
    assert found == pytest.approx(case.expected["Pa"], rel=case.rel_tol)
    plans = [
        plans_of(asked(lot=size, bad_pct=100 * bad / size, consumer_risk=risk))[0] for size, bad, risk in case.data["size_for"]
    ]
    assert [plan.sample for plan in plans] == case.expected["n_needed"]
    assert {(plan.origin, plan.acceptance_number) for plan in plans} == {("zero_accepted", 0)}


def test_an_arrow_is_said_and_not_followed():
    (plan,) = plans_of(asked(lot=200, aql=1))
    assert (plan.because, plan.letter, plan.sample, plan.curve) == (Because.NO_PLAN, "G", None, [])
    assert "letter G" in plan_sentence(plan, asked(lot=200, aql=1))
    (none,) = plans_of(asked(good_pct=10, bad_pct=10.01))
    assert "no such plan" in plan_sentence(none, asked(good_pct=10, bad_pct=10.01))


def test_both_kinds_of_plan_may_be_asked_for_at_once():
    assert [one.origin for one in plans_of(asked(lot=400, aql=1.5, bad_pct=8, good_pct=1))] == ["iso_2859_1", "two_points"]


def test_twice_the_agreed_limit_counts_whole_units_up_and_the_limit_itself_down():
    power = power_of(Plan(8, 0, 30), 2.0)
    assert power.passes_at_aql == 1.0
    assert power.passes_at_twice == pytest.approx(np.prod([(28 - one) / (30 - one) for one in range(8)]))
    assert power_of(Plan(8, 0, 30), 60.0).passes_at_twice is None
    assert power_of(Plan(8, 0, 30), None).passes_at_aql is None


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"lot": 400}, "what shall not pass"), ({"aql": 1.5}, "size of the delivery"), ({"lot": 400, "aql": 2}, "Held are"),
        ({"good_pct": 1}, "what shall not pass"), ({"good_pct": 5, "bad_pct": 5}, "larger share"), ({"bad_pct": 0}, "larger"),
        ({"lot": 1, "aql": 1}, "out of range"), ({"lot": 400, "aql": 1, "level": "S-4"}, "no inspection level"),
        ({"batch": "B-3"}, "no batch"), ({"consumer_risk": 0.9, "bad_pct": 5}, "out of range"),
    ],
)  # fmt: skip
def test_what_cannot_be_asked_is_refused_in_words(words, said):
    with pytest.raises(SettingError) as error:
        asked(**words)
    assert said in f"{error.value.what} {error.value.remedy}"
