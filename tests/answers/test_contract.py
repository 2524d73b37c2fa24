"""The JSON of an answer holds the keys of contract.md and no others; its lists of words are the code's."""

from __future__ import annotations

import json
import re
from dataclasses import fields
from importlib.resources import files

import pytest

from pipelines import cli
from pipelines.answers import BY, DATES, ask, detail, laws_record
from pipelines.answers.frame import LEFT_OUT
from pipelines.answers.text import answer_text
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Question
from tests.answers.logs import assert_says_no_computer_word
from tests.pipeline.made_fleet import loaded_fleet

PAGE = files("pipelines.answers").joinpath("contract.md").read_text(encoding="utf-8")
WORD = re.compile(r"`([^`]+)`")
ESTIMATE = {"estimate", "low", "high", "because"}
#: Words in the page's meanings that are values, not keys.
VALUES = {"null", "days", "hours", "same_day"}


def section(title: str) -> str:
    """Return the part of the page under the heading that begins with `title`, or what stands before the first."""
    parts = re.split(r"^## ", PAGE, flags=re.MULTILINE)
    return parts[0] if not title else next(part for part in parts if part.startswith(title))


def rows(title: str) -> list[tuple[set[str], set[str]]]:
    """Return the table of a section: the words of the first cell, those of the second."""
    lines = [line.split("|")[1:3] for line in section(title).splitlines() if line.startswith("| `")]
    return [tuple(set(WORD.findall(cell)) for cell in cells) for cells in lines]


def keys(title: str) -> set[str]:
    return set().union(*(names for names, _ in rows(title)))


def inside(title: str, key: str) -> set[str]:
    return next(inner - VALUES for names, inner in rows(title) if key in names)


@pytest.fixture(scope="module")
def answers(tmp_path_factory):
    """Return question → answer of a small messy fleet on the clock of the default, by family."""
    with loaded_fleet(1500, 3, tmp_path_factory.mktemp("fleet"), easy=False) as (_, connection):
        return {question: ask(question, connection, by=["family"]) for question in BY}


@pytest.fixture(scope="module")
def plain(answers):
    return {question: json.loads(json.dumps(answer.to_dict(), allow_nan=False)) for question, answer in answers.items()}


@pytest.mark.parametrize("question", BY)
def test_an_answer_holds_the_keys_of_the_page_and_no_others(plain, question):
    assert set(plain[question]) == keys("")
    assert plain[question]["question"] == question


#: Parts of a group or of the whole answer that the page describes by their own names, with their record.
PARTS = {
    "laws": laws_record.Laws, "law_plot": laws_record.LawPlot, "lognormal": laws_record.Lognormal,
    "assumed_shape": laws_record.AssumedShape, "dating": detail.Dating,
    "interval_curve": detail.IntervalCurve, "by_mechanism": detail.Mechanism, "place": detail.Place,
    "by_controller": detail.ByController, "by_site": detail.BySite, "frailty": detail.Frailty,
    "mean_cumulative": detail.MeanCumulative,
    "trend": detail.TrendPart, "standardised": detail.Standardised, "common_shape": detail.CommonShape,
    "clock_question": detail.ClockQuestion, "mechanism_tests": detail.MechanismTest, "mean_difference": detail.MeanDifference,
}  # fmt: skip
#: Keys of a group of lives that its part of unknown age does not have.
APART = {"by", "since_first_seen", "surviving_at"}
HEAVIER = {"laws", "law_plot", "assumed_shape", "dating", "interval_curve", "by_mechanism", "pooled", "by_controller", "by_site",
           "frailty", "mean_cumulative"}  # fmt: skip


def described(part: str, of: str = "") -> set[str]:
    """Return the words with which the page describes a part."""
    lines = [line.split("|")[1:4] for line in section("Heavier").splitlines() if line.startswith(f"| `{part}`")]
    return set(WORD.findall(next(meaning for _, whose, meaning in lines if of in whose)))


@pytest.mark.parametrize("part", PARTS)
def test_a_heavier_estimate_holds_the_keys_of_the_page(part):
    assert {one.name for one in fields(PARTS[part])} <= described(part)


def test_pooled_lives_and_shares_hold_the_keys_of_the_page():
    assert {one.name for one in fields(detail.PooledLife)} == described("pooled", "lives")
    assert {one.name for one in fields(detail.PooledShare)} == described("pooled", "cleaning")


def assert_life_part(part: dict, names: set[str]) -> None:
    assert set(part) == names
    assert set(part["counts"]) == inside("Groups of `time", "counts")
    assert {key for point in part["curve"] for key in point} == inside("Groups of `time", "curve")
    assert set(part["curve_quantiles"]) == inside("Groups of `time", "curve_quantiles")
    assert set(part["weibull"]) == inside("Groups of `time", "weibull")
    estimates = [*part["curve_quantiles"].values(), *(part["weibull"][key] for key in ("shape", "scale", "b10", "median"))]
    assert [set(one) for one in estimates] == [ESTIMATE] * 6


@pytest.mark.parametrize("question", [Question.TIME_TO_FAILURE, Question.RECURRENCE])
def test_a_group_of_lives_holds_the_keys_of_the_page_and_no_others(plain, question):
    for group in plain[question]["groups"]:
        assert set(group) >= HEAVIER
        assert_life_part({key: value for key, value in group.items() if key not in APART | HEAVIER},
                         keys("Groups of `time") - APART)  # fmt: skip
        assert set(group["by"]) == {"family"}


def test_the_survivors_at_an_age_hold_the_keys_of_the_page():
    assert {one.name for one in fields(laws_record.SurvivingAt)} == inside("Groups of `time", "surviving_at") - {"not_reached"}


def test_a_weibull_fit_by_cluster_holds_the_keys_of_the_page():
    assert {one.name for one in fields(detail.WeibullByCluster)} <= described("by_controller")


def test_modules_of_unknown_age_hold_the_same_keys(plain):
    since = [group["since_first_seen"] for group in plain[Question.TIME_TO_FAILURE]["groups"]]
    told = [one for one in since if one is not None]
    assert told
    for one in told:
        assert_life_part(one, keys("Groups of `time") - APART)


def test_a_group_of_cleans_holds_the_keys_of_the_page_and_no_others(plain):
    for group in plain[Question.CLEANING_SUCCESS]["groups"]:
        assert set(group) == keys("Groups of `cleaning") | {"pooled", "standardised", "by_controller", "by_site"}
        for key in ("counts", "same_day", "durable"):
            assert set(group[key]) == inside("Groups of `cleaning", key)
        assert set(group["worn_track"]) == set(group["same_day"])


def assert_holds(of: dict | list, title: str, key: str, more: frozenset[str] = frozenset()) -> None:
    for one in of if isinstance(of, list) else [of]:
        assert set(one) == inside(title, key) - more


def test_a_group_of_restoration_holds_the_keys_of_the_page_and_no_others(plain):
    title = "Groups of `restoration"
    for group in plain[Question.RESTORATION]["groups"]:
        assert set(group) == keys(title)
        assert_holds(group["counts"], title, "counts")
        assert_holds(group["effects"], title, "effects")
        assert {frozenset(effect["holding_share"]) for effect in group["effects"]} == {frozenset(ESTIMATE)}


def test_a_group_of_factors_holds_the_keys_of_the_page_and_no_others(plain):
    title = "Groups of `factors"
    assert [group["of"] for group in plain[Question.FACTORS]["groups"]] == ["time-to-failure", "recurrence"]
    for group in plain[Question.FACTORS]["groups"]:
        assert set(group) == keys(title)
        assert group["by"] == {}
        assert_holds(group["counts"], title, "counts")
        assert_holds(group["ratios"], title, "ratios", frozenset({"other"}))
        assert_holds(group["checks"], title, "checks")


def test_the_page_lists_every_reason(plain):
    assert keys("`because`") == set(Because)
    for answer in plain.values():
        assert set(all_values(answer, "because")) - {None} <= keys("`because`")


def all_values(value, key: str) -> list:
    if isinstance(value, dict):
        return [one for name, inner in value.items() for one in ([inner] if name == key else all_values(inner, key))]
    return [one for inner in value for one in all_values(inner, key)] if isinstance(value, list) else []


@pytest.mark.parametrize("question", BY)
def test_the_page_lists_what_is_left_out_in_its_order(plain, question):
    listed = re.findall(r"^\| `(\w+)`(?:, `(\w+)`)? \|", section("`left_out`"), flags=re.MULTILINE)
    assert [name for pair in listed for name in pair if name] == list(LEFT_OUT) == list(plain[question]["left_out"])


def test_the_page_lists_the_columns_to_split_and_filter_by():
    text = section("`--by`")
    lives, rest = text.split("`recurrence`")
    columns = [name for name in WORD.findall(lives) if name not in [*BY, "--by", "--where"]]
    assert columns == list(BY[Question.TIME_TO_FAILURE]) == list(BY[Question.RESTORATION])
    for question in (Question.RECURRENCE, Question.CLEANING_SUCCESS, Question.FACTORS):
        assert all(f"`{name}`" in text for name in BY[question])
        more = set(BY[question]) - set(BY[Question.TIME_TO_FAILURE])
        assert more == {"depth", "mechanism", "attempt_number"} <= set(WORD.findall(rest))
    assert set(DATES) <= set(WORD.findall(rest))


def test_the_page_lists_the_exit_codes_that_the_command_line_lists():
    def codes(text: str) -> list[str]:
        return re.findall(r"(\d) \w", text.split("Exit codes")[-1])

    assert codes(section("Exit")) == codes(cli.__doc__) == ["0", "1", "2", "3", "4", "5", "6"]


@pytest.mark.parametrize("question", BY)
def test_every_setting_is_said_with_the_value_used(plain, question):
    assert set(plain[question]["settings"]) == set(Settings().as_plain())
    assert plain[question]["settings"]["notice_days"] == 14
    assert plain[question]["settings"]["grid"] == 0


@pytest.mark.parametrize("question", BY)
def test_the_groups_are_sorted_and_the_words_are_plain(answers, question):
    if question != Question.FACTORS:
        names = [group.by["family"] for group in answers[question].groups]
        assert names == sorted(names)
    assert_says_no_computer_word(answers[question])
    assert "\n\n" in answer_text(answers[question])
