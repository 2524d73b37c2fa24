"""What goes with early drift: against the truth of the example's program, what is left out, and the words."""

from __future__ import annotations

from dataclasses import asdict

import pandas as pd
import pytest

from pipelines.answers import ask, factors
from pipelines.answers.table import csv_text, table
from pipelines.answers.text import answer_text
from pipelines.facts.sold import sold_levels
from tests.answers.logs import Log, assert_says_no_computer_word, months, register, reports
from tests.pipeline.made_fleet import loaded_fleet


@pytest.fixture(scope="module")
def easy(tmp_path_factory):
    """Return the answers on three easy fleets by usage, family, site and stick, in play hours."""
    answers = []
    for seed in (1, 2, 3):
        with loaded_fleet(3000, seed, tmp_path_factory.mktemp("easy"), easy=True) as (_, connection):
            answers.append(ask("factors", connection, by=["usage_class", "family", "site", "stick"], clock="hours"))
    return answers


def test_use_and_site_make_no_difference_where_there_is_none(easy):
    """In the easy world lives in hours depend on the family alone: of 18 limits of 95 %, 15 hold 1 with a chance of 99.8 %."""
    ratios = [
        one.hazard_ratio for answer in easy for group in answer.groups for one in group.ratios
        if one.factor in ("usage_class", "site") and not one.is_reference
    ]  # fmt: skip
    assert len(ratios) == 18
    assert sum(one.low <= 1 <= one.high for one in ratios) >= 15


def test_families_of_other_shapes_are_found_to_change_with_age(easy):
    """Their first lives have shapes from 1.0 to 2.6, so no ratio serves every age."""
    for answer in easy:
        first = answer.groups[0]
        changing = {one.factor: one.is_changing for one in first.checks}
        assert changing == {"usage_class": False, "family": True, "site": False}
        assert "For family the ratio changes with age: read it as an average." in first.sentence


def test_the_clearest_difference_agrees_with_the_truth_of_the_families(easy):
    for answer in easy:
        first = answer.groups[0]
        assert "Clearest difference: family" in first.sentence
        assert "times as often as family" in first.sentence
        assert "whether it is the cause, a log cannot tell" in first.sentence


def test_a_column_that_goes_with_another_is_left_out_and_named(easy):
    for answer in easy:
        for group in answer.groups:
            # the families with a single stick are the only ones with it
            assert group.at_fault == ["stick"]
            assert "Left out: stick (cannot be told from the others)." in group.sentence
            assert "filter by the sticks left and right" in group.sentence
            assert {one.factor for one in group.ratios} == {"usage_class", "family", "site"}


def test_the_tables_have_a_row_per_level(easy):
    answer = easy[0]
    flat = table(answer)
    assert len(flat) == sum(len(group.ratios) for group in answer.groups)
    assert set(flat["of"]) == {"time-to-failure", "recurrence"}
    assert csv_text(answer).startswith("of,because,factor,level,")
    said = answer_text(answer)
    assert "fails × as often" in said
    assert "first life, family Ambrel" in said
    assert_says_no_computer_word(answer)


@pytest.fixture(scope="module")
def hard(tmp_path_factory):
    with loaded_fleet(4000, 5, tmp_path_factory.mktemp("hard"), easy=False) as (_, connection):
        yield connection


def test_what_is_asked_of_cleans_only_is_answered_of_cleans_only(hard):
    assert [group.of for group in ask("factors", hard, by=["depth"], clock="days").groups] == ["recurrence"]
    answer = ask("factors", hard, by=["family"], where={"depth": ["open"]}, clock="days")
    assert [group.of for group in answer.groups] == ["recurrence"]


def test_a_bench_that_sells_what_it_cleans_is_named(hard):
    sold = {name for name in sold_levels(hard, "after_clean") if name[0] in ("site", "depth")}
    assert sold == {("site", "bench")}
    answer = ask("factors", hard, by=["site", "depth"], clock="days")
    assert any(one.startswith("After a clean: nearly all of site bench was sold") for one in answer.warnings)
    alone = ask("factors", hard, by=["depth"], where={"site": ["bench"]}, clock="days")
    assert not any("was sold" in one for one in alone.warnings)


def test_what_is_watched_in_another_way_is_no_clearest_difference(hard, monkeypatch):
    first = ask("factors", hard, by=["family"], clock="days").groups[0]
    clearest = first.sentence.partition(" fails ")[0].rpartition("family ")[2]
    monkeypatch.setattr(factors, "sold_levels", lambda connection, kind: frozenset([("family", clearest)]))
    other = ask("factors", hard, by=["family"], clock="days").groups[0]
    # (sums in another order differ in the last digit)
    told = [pd.json_normalize([asdict(one) for one in group.ratios]) for group in (other, first)]
    pd.testing.assert_frame_equal(*told, rtol=1e-9)
    assert f"family {clearest} fails" not in other.sentence


def test_a_blank_column_is_left_out_and_named(hard):
    first, again = ask("factors", hard, by=["family", "batch"], clock="days").groups
    for group in (first, again):
        assert group.blank == ["batch"]
        assert "batch (blank on over a fifth of those that did not fail)" in group.sentence
    (first, _) = ask("factors", hard, by=["batch"], clock="days").groups
    assert (first.because, first.ratios, first.blank) == ("no_denominator", [], ["batch"])


def test_rare_levels_stand_together_and_are_named(hard):
    ratios = ask("factors", hard, by=["attempt_number"], clock="days").groups[0].ratios
    assert [one.level for one in ratios][:2] == ["1", "2"]
    (other,) = [one for one in ratios if one.level == "other"]
    assert all(int(level) > 3 for level in other.pooled)


def test_a_large_log_is_compared_on_a_sample_and_says_so(hard, monkeypatch):
    whole = ask("factors", hard, by=["family"], clock="days", where={"site": ["north", "south"]}).groups
    monkeypatch.setattr(factors, "MOST_ROWS", 200)
    answer = ask("factors", hard, by=["family"], clock="days", where={"site": ["north", "south"]})
    for group, all_of_it in zip(answer.groups, whole, strict=True):
        assert 150 < group.counts["spells"] < all_of_it.counts["spells"]
    assert sum("controllers drawn at random" in warning for warning in answer.warnings) == 2


def test_small_logs_are_refused_in_words(tmp_path):
    log = Log(tmp_path / "small", units=register("U1", "U2"), jobs=reports("U1 2025-03-01 clean_air pass"))
    first, again = log.ask("factors", clock="days").groups
    assert (first.because, again.because) == ("too_few_failures", "no_spells")
    assert first.sentence.startswith("First life: 1 of 2 modules began to drift. Nothing can be compared: too few")
    nothing = log.ask("factors", clock="days", where={"family": ["Other"]})
    assert {group.because for group in nothing.groups} == {"no_spells"}
    only = Log(tmp_path / "failures", jobs=reports(*(f"U1 {day} clean_air fail" for day in months(1, 3))))
    first, again = only.ask("factors", clock="days").groups
    assert (first.because, again.because) == ("failures_only", "no_spells")


def test_one_level_says_that_there_is_nothing_to_compare(tmp_path):
    units = [f"U{number}" for number in range(1, 10)]
    log = Log(tmp_path, units=register(*units), jobs=reports(*(f"{unit} 2025-0{unit[1:]}-11 clean_air pass" for unit in units)))
    first = log.ask("factors", by=["family"], clock="days").groups[0]
    assert (first.because, first.one_level) == ("one_level", ["family"])
    assert "only one level has failures" in first.sentence
