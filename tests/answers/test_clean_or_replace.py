"""The advice on a stick: its chances, costs and words on a small fleet of the example, and on logs that tell too little."""

from __future__ import annotations

import itertools
import json

import numpy as np
import pytest

from pipelines.answers import ask
from pipelines.answers.bench_case import bench_case
from pipelines.answers.bench_money import BENCH_COSTS, bench_money, known_costs
from pipelines.answers.bench_record import bench_record
from pipelines.answers.bench_text import bench_csv, bench_text
from pipelines.answers.clean_or_replace import advise
from pipelines.answers.printed import csv_of, text_of
from pipelines.estimates.coming_cleans import coming_cleans
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Course
from tests.answers.logs import EXACT, Log, register, reports
from tests.answers.test_contract import VALUES, inside, keys, rows
from tests.pipeline.made_fleet import loaded_fleet

GIVEN = Settings().overlaid({
    "labour_per_hour": 20, "clean_minutes": 6, "replace_minutes": 15, "part_cost": 4, "consumables_per_clean": 0.5,
    "return_cost": 12, "warranty_days": 90,
})  # fmt: skip
ALL = GIVEN.overlaid({"resale_price": 30, "selling_fee_share": 0.1, "freight_out": 4, "harvest_value": 5})
CHEAP = GIVEN.overlaid({"part_cost": 0, "replace_minutes": 5, "return_cost": 6})
DEAR = ALL.overlaid({"part_cost": 200, "return_cost": 220, "resale_price": 900})
CASE = {"family": "Corvath", "mode": "jitter", "sensor_type": "carbon_pot", "af_rest_offset_pct": "6", "attempt_number": "1"}
COMPUTER_WORD = r"\b(nan|None|inf|NaN|NaT|null)\b"


@pytest.fixture(scope="module")
def fleet(tmp_path_factory):
    with loaded_fleet(6000, 4, tmp_path_factory.mktemp("fleet"), easy=False) as (_, connection):
        yield connection


@pytest.fixture(scope="module")
def record(fleet):
    return bench_record(fleet, GIVEN)


def told(record, words=CASE, settings=GIVEN):
    return advise(record, [bench_case(words, record.families)], settings)[0]


def costs(record, settings, family="Corvath", depth="air"):
    return bench_money(record, family, [depth], settings).costs[depth]


def test_given_costs_add_up_and_a_return_costs_all_told_what_is_said(record):
    found = costs(record, GIVEN)
    assert (found.clean_cost, found.replace_cost) == (pytest.approx(0.5 + 20 * 6 / 60), pytest.approx(4 + 20 * 15 / 60))
    assert found.return_cost + found.replace_cost == pytest.approx(12)


def test_a_return_costs_at_least_a_new_part(record):
    assert costs(record, GIVEN.overlaid({"return_cost": 1})).return_cost == 0


def test_what_a_thing_is_worth_is_its_price_after_fee_and_freight(record):
    found = costs(record, ALL)
    assert (found.working_value, found.scrap_value) == (pytest.approx(30 * 0.9 - 4), 5)


def test_what_no_setting_says_is_from_the_price_list_then_the_record(record):
    blank = Settings().overlaid({"return_cost": 12})
    found = {depth: bench_money(record, "Corvath", [depth], blank) for depth in ("air", "open")}
    origin = {one.name: one.origin for one in found["air"].sources}
    assert (origin["labour_per_hour"], origin["clean_minutes"], origin["replace_minutes"]) == ("prices", "record", "record")
    work = record.work.set_index(["family", "work"])
    (minutes,) = [one.amount for one in found["open"].sources if one.name == "clean_minutes"]
    own = work.loc[("Corvath", "open")]
    assert own["timed_count"] >= 8
    assert minutes == pytest.approx(own["minutes_mean"])
    assert found["open"].costs["open"].clean_cost > found["air"].costs["air"].clean_cost


def test_a_cost_that_nothing_gives_is_asked_for_and_nothing_is_advised(record):
    answer = told(record, settings=Settings().overlaid({"labour_per_hour": 20}))
    assert (answer.because, answer.course, answer.expected_cost) == (Because.NOT_GIVEN, None, {})
    assert "return_cost" in [one.name for one in answer.asked_for]
    assert all(one.unit and one.help for one in answer.asked_for)
    assert "Before the cheapest course can be told, give: " in answer.sentence
    assert answer.pass_chance.estimate is not None
    assert "--set return_cost=" in bench_text(answer)


@pytest.mark.parametrize(("settings", "course"), [(CHEAP, Course.NEW_PART), (DEAR, Course.CLEAN_FIRST)])
def test_the_expected_cost_is_that_of_the_draws_by_the_formula(record, settings, course):
    """One clean, then the cheaper of the others: c + p (1 − h)(b + r) + (1 − p) n, up to five times; n = r + (1 − g)(b + r)."""
    answer = told(record, CASE | {"depth": "flush"}, settings)
    case = {"family": "Corvath", "mode": "jitter", "sensor_type": "carbon_pot", "depth": "flush", "af_rest_offset_pct": 6.0,
            "attempt_number": 1}  # fmt: skip
    coming = coming_cleans(record.triage, record.holds, case)
    of, means = answer.costs, []
    returned, held = of.return_cost + of.replace_cost, record.part_holds.draws("Corvath")
    assert answer.part_hold_chance.estimate == pytest.approx(held.mean(), abs=0.01)
    assert answer.expected_cost[Course.NEW_PART] == pytest.approx(of.replace_cost + (1 - held.mean()) * returned, rel=1e-9)
    others = of.replace_cost + (1 - held) * returned
    if answer.expected_cost.get(Course.SCRAP, np.inf) < others.mean():
        others = np.full(len(held), answer.expected_cost[Course.SCRAP])
    for count in range(1, coming.passes.shape[1] + 1):
        cost = others
        for clean in reversed(range(count)):
            p, h = coming.passes[:, clean], coming.holds[:, clean]
            cost = of.clean_cost + p * (1 - h) * returned + (1 - p) * cost
        means.append(cost.mean())
    assert answer.expected_cost[Course.CLEAN_FIRST] == pytest.approx(min(means), rel=1e-9)
    assert answer.pass_chance.estimate == pytest.approx(coming.passes[:, 0].mean())
    assert answer.pass_chance.low < answer.pass_chance.estimate < answer.pass_chance.high
    assert (answer.course, answer.clean_until) == (course, 1 + int(np.argmin(means)) if course is Course.CLEAN_FIRST else None)


def test_of_the_depths_the_cheapest_is_taken_unless_one_is_said(record):
    answer = told(record)
    assert [one.depth for one in answer.depths] == record.depths
    assert answer.depth == min(answer.depths, key=lambda one: one.expected_cost).depth
    one = told(record, CASE | {"depth": "open"})
    assert (one.depth, len(one.depths)) == ("open", 1)
    assert one.depths[0].pass_chance == next(each for each in answer.depths if each.depth == "open").pass_chance


def test_dear_parts_make_cleaning_first_and_free_ones_never(record):
    dear, free = (
        told(record, settings=one) for one in (DEAR, ALL.overlaid({"part_cost": 0, "replace_minutes": 0, "return_cost": 5}))
    )
    assert (dear.course, free.course) == (Course.CLEAN_FIRST, Course.NEW_PART)
    assert dear.clean_until >= 1
    assert "Clean it first" in dear.sentence
    assert "Fit a new part" in free.sentence
    assert dear.sure_share > 0.8


def test_worthless_things_are_scrapped_where_scrap_can_be_weighed(record):
    answer = told(record, settings=ALL.overlaid({"resale_price": 5, "harvest_value": 3}))
    assert answer.course is Course.SCRAP
    assert answer.expected_cost[Course.SCRAP] == 0.0


def test_money_in_another_unit_gives_the_same_advice(record):
    names = (
        "labour_per_hour",
        "part_cost",
        "consumables_per_clean",
        "return_cost",
        "resale_price",
        "freight_out",
        "harvest_value",
    )
    dearer = ALL.overlaid({name: 100 * getattr(ALL, name) for name in names})
    one, other = told(record, settings=ALL), told(record, settings=dearer)
    assert (one.course, one.depth, one.clean_until) == (other.course, other.depth, other.clean_until)
    assert one.sure_share == pytest.approx(other.sure_share)
    for course, cost in one.expected_cost.items():
        assert other.expected_cost[course] == pytest.approx(100 * cost)


def test_without_a_warranty_whatever_passes_holds(fleet):
    settings = GIVEN.overlaid({"warranty_days": 0})
    answer = told(bench_record(fleet, settings), settings=settings)
    assert (answer.hold_chance.estimate, answer.warranty_days) == (1.0, 0)
    assert "hold" not in answer.sentence
    assert all(one.hold_chance == 1 for one in answer.coming)


def test_another_warranty_is_told_by_the_same_record(fleet, record):
    settings = GIVEN.overlaid({"warranty_days": 30})
    moved, anew = record.under(settings), bench_record(fleet, settings)
    assert moved.triage is record.triage
    assert told(moved, settings=settings) == told(anew, settings=settings)
    assert moved.under(GIVEN).part_holds is record.part_holds
    assert told(moved, settings=settings).part_hold_chance.estimate > told(record).part_hold_chance.estimate


def test_what_was_never_cleaned_is_refused_and_says_what_it_is(record):
    answer = told(record, CASE | {"af_rest_offset_pct": "99"})
    assert (answer.because, answer.course, answer.unlike) == (Because.UNLIKE_ANY, None, ["af_rest_offset_pct"])
    assert "look at the rest offset" in answer.sentence
    worn = told(record, CASE | {"af_rest_offset_pct": "99", "mechanism": "track_wear"})
    assert (worn.course, worn.is_rule_of_thumb) == (Course.NEW_PART, True)
    assert worn.sentence.startswith("Rule of thumb only")


def test_many_sticks_get_the_advice_that_each_alone_gets(record):
    words = [CASE | {"af_rest_offset_pct": str(one % 20 + 1), "family": family}
             for one, family in zip(range(70), itertools.cycle(record.families))]  # fmt: skip
    cases = [bench_case(one, record.families) for one in words]
    many = advise(record, cases, GIVEN)
    assert [one.case for one in many] == cases
    for place in (0, 11, 49, 50, 69):
        alone = advise(record, [cases[place]], GIVEN)[0]
        assert (many[place].course, many[place].sentence) == (alone.course, alone.sentence)


def test_the_costs_of_several_families_say_which_lack_one(record):
    _, missing = known_costs(record, record.families, Settings())
    assert "return_cost" in [one.name for one in missing]
    assert all(one.of == [] or set(one.of) < set(record.families) for one in missing)
    assert {one.name for one in known_costs(record, record.families, ALL)[0]} >= set(BENCH_COSTS) - {"warranty_days"}


@pytest.fixture(scope="module")
def answers(fleet):
    return {
        "whole": ask("clean-or-replace", fleet, case=CASE, settings=GIVEN),
        "brief": ask("clean-or-replace", fleet, case=CASE, settings=GIVEN, is_brief=True),
        "asked for": ask("clean-or-replace", fleet, case={"mode": "jitter"}),
        "unlike": ask("clean-or-replace", fleet, case=CASE | {"af_rest_offset_pct": "99"}, settings=GIVEN),
    }


def test_the_json_holds_the_keys_of_the_page_and_no_others(answers):
    for answer in answers.values():
        found = json.loads(json.dumps(answer.to_dict(), allow_nan=False))
        assert set(found) == keys("`clean-or-replace`")
    found = answers["whole"].to_dict()
    described = {name: inner - VALUES for names, inner in rows("`clean-or-replace`") for name in names}
    for name in ("case", "rests_on", "costs", "reliability"):
        assert set(found[name]) <= described[name], name
    for name in ("coming", "depths"):
        assert set(found[name][0]) <= described[name], name
    assert set(found["reliability"]["bands"][0]) <= inside("`clean-or-replace`", "reliability")


@pytest.mark.parametrize("name", ["whole", "brief", "asked for", "unlike"])
def test_what_a_person_reads_holds_no_computer_word(answers, name):
    import re

    answer = answers[name]
    said = "\n".join([text_of(answer), answer.sentence, *answer.warnings])
    assert not re.search(COMPUTER_WORD, said), said
    assert csv_of(answer) == bench_csv(answer)
    assert csv_of(answer).startswith("course,depth,expected_cost")


def test_calibration_comes_with_the_whole_answer_only_and_its_bands_hold_all_cleans(answers):
    assert answers["brief"].reliability is None
    found = answers["whole"].reliability
    assert sum(one.n for one in found.bands) == found.attempts == answers["whole"].rests_on.attempts
    assert sum(one.k for one in found.bands) == answers["whole"].rests_on.passed
    assert found.brier < found.plain_brier
    assert "was predicted from other controllers" in text_of(answers["whole"])


def test_the_text_ends_with_what_can_hurt_and_what_figures_are_for(answers):
    said = " ".join(text_of(answers["brief"]).split())
    assert "Power off and battery out first." in said
    assert said.endswith("Follow local codes, the supplier's sheets and licensed practice.")


@pytest.mark.parametrize("cleans", [0, 1, 39])
def test_a_small_record_says_nothing_of_a_stick(tmp_path, cleans):
    rows = [f"U{one} 2025-03-01 clean_air {'pass' if one % 2 else 'fail'}" for one in range(cleans)] or [
        "U0 2025-03-01 replace_module pass"
    ]
    log = Log(tmp_path, units=register(*[f"U{one}" for one in range(max(cleans, 1))]), jobs=reports(*rows))
    answer = ask_log(log, {"family": "Nolm", "mode": "jitter"}, GIVEN)
    assert (answer.because, answer.course) == (Because.TOO_FEW_ATTEMPTS, None)
    assert answer.reliability.because in (Because.TOO_FEW_ATTEMPTS, Because.NO_ATTEMPTS)
    assert "too few cleans" in answer.sentence.lower()
    text_of(answer)


@pytest.mark.parametrize("outcome", ["pass", "fail"])
def test_cleans_that_all_passed_or_all_failed_still_give_an_answer(tmp_path, outcome):
    rows = [f"U{one} 2025-03-01 clean_air {outcome}" for one in range(60)] + ["U0 2025-09-01 test_only pass"]
    log = Log(tmp_path, units=register(*[f"U{one}" for one in range(60)]), jobs=reports(*rows))
    answer = ask_log(log, {"family": "Nolm"}, GIVEN)
    if outcome == "pass":
        assert answer.because is None
        assert 0.9 <= answer.pass_chance.estimate <= 1
    else:  # nobody passed, so nobody was followed; a clean that hardly ever passes does not pay, whether it would hold or not
        assert (answer.course, answer.hold_chance.because) == (Course.NEW_PART, Because.NO_FOLLOW_UP)
        assert answer.pass_chance.high < 0.15
        assert "each is taken to hold" in " ".join(answer.warnings)
        dear = ask_log(log, {"family": "Nolm"}, GIVEN.overlaid({"part_cost": 2000, "return_cost": 2100}))
        assert (dear.because, dear.course) == (Because.NO_FOLLOW_UP, None)
        assert "Give a warranty of 0 days to weigh passing alone." in dear.sentence
        weighed = ask_log(log, {"family": "Nolm"}, GIVEN.overlaid({"warranty_days": 0}))
        assert (weighed.because, weighed.course) == (None, Course.NEW_PART)
    assert "every clean passed, or none did" in text_of(answer)
    assert answer.reliability.slope.because in (Because.ONE_RESULT, Because.SEPARATED)
    text_of(answer)


def ask_log(log, case, settings):
    from pipelines import warehouse

    with warehouse.reading(log.path) as connection:
        return ask("clean-or-replace", connection, case=case, settings=settings.overlaid(
            {"notice_days": EXACT.notice_days, "quiet_lag_days": EXACT.quiet_lag_days}
        ))  # fmt: skip
