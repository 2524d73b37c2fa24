"""The study of the tester as an answer: the manual's example through a log, complete parts, limits, refusals, and the page."""

from __future__ import annotations

import json
from dataclasses import fields

import numpy as np
import pytest
from scipy.stats import norm

from pipelines.answers import tester_study_record as record
from pipelines.answers.tester_study_text import study_csv
from pipelines.errors import SettingError
from pipelines.vocabulary import Because
from tests.answers.logs import EXACT
from tests.answers.repeat_studies import LIMITS, ask, log, made, manual_log
from tests.answers.test_contract import inside, keys
from tests.published.cases import load_case


@pytest.fixture(scope="module")
def manual(tmp_path_factory):
    return manual_log(tmp_path_factory.mktemp("manual"))


def test_the_manuals_example_through_a_log_and_the_answer(manual):
    answer, want = ask(manual), load_case("grr_aiag").expected
    sd = {one.name: one.sd.estimate for one in answer.components}
    found = {
        "sd_repeatability": sd["repeat"], "sd_reproducibility": sd["between_persons"], "sd_grr": sd["tester"],
        "sd_part": sd["stick"], "sd_total": sd["total"],
        "pct_grr_of_total_sd": 100 * next(one.spread_share.estimate for one in answer.components if one.name == "tester"),
        **{f"SS_{name}": next(one.sum_of_squares for one in answer.analysis if one.name == row)
           for name, row in (("part", "stick"), ("operator", "person"), ("interaction", "interaction"), ("repeat", "repeat"))},
    }  # fmt: skip
    assert found == pytest.approx({name: want[name] for name in found}, rel=load_case("grr_aiag").rel_tol)
    assert answer.is_pooled
    assert (answer.size.sticks, answer.size.persons, answer.size.repeats, answer.size.readings) == (10, 3, 3, 90)
    assert answer.verdict == "cannot_tell"
    assert answer.sentence.startswith("Whether the tester is good enough for rest offset cannot be told yet: it makes 28")
    assert any("More persons would narrow" in one for one in answer.warnings)


def test_the_chances_at_the_limit_are_those_of_normal_sticks_and_errors(manual):
    answer = ask(manual)
    at, sd = answer.at_limit, {one.name: one.sd.estimate for one in answer.components}
    assert (answer.case.limit, answer.case.limit_origin, answer.case.is_upper) == (2.0, "limits", True)
    assert at.read_bad_share.estimate == pytest.approx(norm.sf((2 - answer.mean) / sd["total"]))
    assert (at.unsure_to - at.unsure_from) / 2 == pytest.approx(norm.ppf(0.975) * sd["tester"])
    assert at.tolerance_share.estimate == pytest.approx(6 * sd["tester"] / 2)
    middle = next(one for one in at.curve if one.true_value == pytest.approx(2.0))
    assert (middle.pass_chance, middle.low, middle.high) == pytest.approx((0.5, 0.5, 0.5))
    assert all(one.low <= one.pass_chance <= one.high for one in at.curve)
    for one in (at.good_fails, at.bad_passes, at.false_fail_share):
        assert 0 <= one.low <= one.estimate <= one.high <= 1


def test_persons_are_told_apart_where_one_reads_higher(tmp_path):
    rng = np.random.default_rng(4)
    rows = [
        row if " P2 " not in row else f"{row.rsplit(' ', 1)[0]} {float(row.rsplit(' ', 1)[1]) + 1.5:.3f}"
        for row in made(rng, sticks=10)
    ]
    answer = ask(log(tmp_path, rows))
    by_name = {one.name: one.difference for one in answer.persons}
    assert by_name["P2"].estimate == pytest.approx(1.0, abs=0.25)
    assert by_name["P2"].low > 0 > by_name["P0"].high
    assert sum(one.estimate for one in by_name.values()) == pytest.approx(0, abs=1e-9)
    assert "Most of it is between persons" in answer.sentence


@pytest.mark.parametrize(("error", "verdict"), [(0.05, "good_enough"), (4.0, "too_coarse")])
def test_a_fine_tester_is_good_enough_and_a_rough_one_too_coarse(tmp_path, error, verdict):
    answer = ask(log(tmp_path, made(np.random.default_rng(2), sticks=12, persons=6, trials=3, error=error)))
    assert answer.verdict == verdict
    assert {"good_enough": "is good enough", "too_coarse": "is too coarse"}[verdict] in answer.sentence


def test_only_the_complete_part_is_used_and_the_rest_is_counted(tmp_path):
    rows = made(np.random.default_rng(1), sticks=8, persons=3, trials=3)
    gone = [row for row in rows if not (row.startswith("S7 L P0 ") and not row.startswith("S7 L P0 rest_offset 1"))]
    extra = ["S0 L P9 rest_offset 1 5.0", "S0 L P9 rest_offset 2 5.1"]
    answer = ask(log(tmp_path, gone + extra))
    assert (answer.size.sticks, answer.size.persons, answer.size.repeats) == (7, 3, 3)
    assert (answer.size.left_out_sticks, answer.size.left_out_persons, answer.size.left_out_readings) == (1, 1, 9)
    assert any("1 stick, 1 person, 9 readings" in one for one in answer.warnings)


def test_fewer_repeats_of_all_may_be_the_larger_part(tmp_path):
    rows = [*made(np.random.default_rng(1), sticks=6, trials=2), "S0 L P0 rest_offset 3 5.0"]
    assert ask(log(tmp_path, rows)).size == record.StudySize(6, 3, 2, 36, 0, 0, 1)


@pytest.mark.parametrize(
    ("kept", "because", "said"),
    [
        ({}, Because.NOT_RECORDED, "no repeat readings"),
        ({"persons": 1}, Because.TOO_FEW_READINGS, "only one person read"),
        ({"trials": 1}, Because.TOO_FEW_READINGS, "nobody read a stick twice"),
        ({"sticks": 1}, Because.TOO_FEW_READINGS, "only one stick"),
        ({"error": 0.0}, Because.NO_SPREAD, "same to the last digit"),
    ],
)
def test_what_is_no_study_is_refused_in_words(tmp_path, kept, because, said):
    answer = ask(log(tmp_path, made(np.random.default_rng(1), **kept) if kept else []))
    assert (answer.because, answer.verdict, answer.components, answer.at_limit) == (because, None, [], None)
    assert said in answer.sentence
    assert because.value in study_csv(answer)


def test_persons_who_never_read_the_same_stick_are_refused(tmp_path):
    rows = [f"S{stick} L P{stick % 2} rest_offset {trial} {stick + trial / 7:.2f}" for stick in range(6) for trial in (1, 2)]
    assert "no two persons read the same two sticks" in ask(log(tmp_path, rows)).sentence


def test_the_limit_comes_from_the_case_then_the_settings_then_the_table(manual, tmp_path):
    assert ask(manual, limit="3").case == record.StudyCase("rest_offset", 3.0, True, "case")
    chosen = EXACT.overlaid({"pass_max_rest_offset_pct": 4})
    assert ask(manual, settings=chosen).case == record.StudyCase("rest_offset", 4.0, True, "setting")
    two = f"{LIMITS}\nother rest_offset 3 - 2024-01-01"
    answer = ask(log(tmp_path, made(np.random.default_rng(1)), limits=two))
    assert (answer.case.limit, answer.at_limit) == (None, None)
    assert any("has several: 2, 3" in one for one in answer.warnings)


def test_a_lower_limit_fails_what_reads_under_it(tmp_path):
    rows = made(np.random.default_rng(3), measure="reach", middle=97.0)
    answer = ask(log(tmp_path, rows, limits=LIMITS))
    assert (answer.case.measure, answer.case.is_upper, answer.case.limit) == ("reach", False, 94.0)
    chances = [one.pass_chance for one in answer.at_limit.curve]
    assert chances == sorted(chances)
    assert answer.at_limit.tolerance_share.because is Because.NOT_GIVEN
    assert answer.at_limit.read_bad_share.estimate < 0.3


def test_the_measure_asked_for_is_answered_and_no_other(manual):
    answer = ask(manual, measure="jitter")
    assert answer.because is Because.NOT_RECORDED
    assert "no repeat readings of jitter; it has those of rest offset" in answer.sentence
    with pytest.raises(SettingError, match="is no measure"):
        ask(manual, measure="colour")
    with pytest.raises(SettingError, match="out of range"):
        ask(manual, limit="-3")


def test_the_settings_say_what_is_allowed(manual):
    assert ask(manual, settings=EXACT.overlaid({"tester_share_limit": 0.95})).verdict == "good_enough"
    assert ask(manual, settings=EXACT.overlaid({"tester_share_limit": 0.05})).verdict == "too_coarse"


def test_the_answer_holds_the_keys_of_the_page_and_is_json(manual):
    plain = json.loads(json.dumps(ask(manual).to_dict(), allow_nan=False))
    title = "`tester-study`"
    assert set(plain) == keys(title)
    assert set(plain["case"]) == inside(title, "case") - {"case", "setting", "limits"}
    assert set(plain["size"]) == inside(title, "size")
    assert set(plain["components"][0]) == inside(title, "components") - {"repeat", "person", "interaction", "between_persons",
                                                                         "tester", "stick", "total"}  # fmt: skip
    assert set(plain["analysis"][0]) == inside(title, "analysis")
    assert set(plain["persons"][0]) == inside(title, "persons")
    points = {one.name for one in fields(record.PassPoint)}
    assert set(plain["at_limit"]) | points == inside(title, "at_limit")
