"""What a clean gives back: refusals in words, what is left out, the sample of a large log, and the texts of the answer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from pipelines.answers import ask, restoration
from pipelines.answers.sample import sampled
from pipelines.answers.table import csv_text, table
from pipelines.answers.text import answer_text
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.restoration import restoration as restoration_fits
from tests.answers.logs import Log, months, register, reports
from tests.pipeline.made_fleet import loaded_fleet

MANY = [f"U{number}" for number in range(12)]


def rows(text: str) -> pd.DataFrame:
    head, *lines = text.strip().splitlines()
    frame = pd.DataFrame([line.split() for line in lines], columns=head.split()).replace({"-": None})
    times = ["place", "opened", "entry", "lower", "upper"]
    return frame.assign(**{name: frame[name].astype(float) for name in times}, is_age_known=frame["is_age_known"] == "yes")


def test_gaps_are_counted_from_when_they_opened_and_numbered_from_a_known_start():
    gaps = restoration.chained_gaps(rows(
        "module place kind is_age_known opened entry lower upper depth_before\n"
        "a 1 first_life yes 0 40 100 100 -\na 2 after_clean yes 100 100 150 inf air\n"
        "b 1 first_life no 0 0 30 30 -\nb 2 after_clean no 30 30 70 inf open\n"
        "c 1 after_other_repair yes 60 60 80 inf -\n"
        "d 1 after_clean yes 50 55 90 95 flush"
    ))  # fmt: skip
    assert gaps[["entry", "lower", "upper"]].to_numpy().tolist() == [
        [40, 100, 100], [0, 50, np.inf], [0, 30, 30], [0, 40, np.inf], [0, 20, np.inf], [5, 40, 45],
    ]  # fmt: skip
    assert gaps["gap_number"].tolist() == [1, 2, 2, 3, 2, 2]


def test_a_sample_holds_whole_controllers_and_is_always_the_same():
    frame = pd.DataFrame({"cluster": np.repeat(np.arange(100), 7), "row": np.arange(700)})
    part = sampled(frame, most=200)
    assert len(part) == 196
    assert set(part.groupby("cluster").size()) == {7}
    assert part.equals(sampled(frame, most=200))
    assert sampled(frame, most=700) is frame


def test_a_log_of_failures_only_is_refused(tmp_path):
    log = Log(tmp_path, jobs=reports(*(f"U1 {day} clean_air fail" for day in months(1, 3))))
    (group,) = log.ask("restoration", clock="days").groups
    assert group.because == "failures_only"
    assert group.effects == []
    assert "holds failures only" in group.sentence


def test_few_failures_no_cleans_and_nothing_at_all_are_said_in_words(tmp_path):
    few = Log(tmp_path / "few", units=register(*MANY), jobs=reports(*(f"U{n} 2025-04-0{n} clean_air pass" for n in range(1, 6))))
    (group,) = few.ask("restoration", clock="days").groups
    assert (group.because, group.counts["failures"]) == ("too_few_failures", 5)
    assert " 5 of " in group.sentence
    assert "recurrence by depth of clean and by attempt number" in group.sentence
    replaced = [f"{unit} 2025-{2 + place % 6:02d}-1{place % 9} replace_module pass" for place, unit in enumerate(MANY)]
    never = Log(tmp_path / "never", units=register(*MANY), jobs=reports(*replaced))
    (group,) = never.ask("restoration", clock="days").groups
    assert (group.because, group.effects) == ("no_attempts", [])
    assert "nothing was cleaned" in group.sentence
    (group,) = few.ask("restoration", clock="days", where={"family": ["Other"]}).groups
    assert group.because == "no_spells"
    assert group.sentence.startswith("Nothing to say")


@pytest.fixture(scope="module")
def fleet(tmp_path_factory):
    with loaded_fleet(4000, 5, tmp_path_factory.mktemp("fleet"), easy=False) as (_, connection):
        yield connection


def test_an_answer_has_a_row_per_depth_and_says_what_it_left_out(fleet):
    answer = ask("restoration", fleet, clock="days")
    (group,) = answer.groups
    assert group.counts["gaps_left_out"] > 0
    assert f"Left out: {group.counts['gaps_left_out']:,}" in group.sentence
    flat = table(answer)
    assert flat["depth"].tolist() == [one.depth for one in group.effects] == ["air", "flush", "open"]
    assert flat["clean_count"].sum() == sum(one.cleans for one in group.effects) > 100
    assert csv_text(answer).startswith("module_count,")
    assert "age given back" in answer_text(answer)
    for word in ("Kijima", "ARA", "virtual"):
        assert word not in answer_text(answer)


def test_a_cause_is_one_that_a_clean_reaches_or_not_and_none_where_all_are_of_one_kind():
    def told(*causes: str) -> list:
        return restoration.is_cleanable(pd.DataFrame({"failed_by": [*causes, "not_recorded", None]})).tolist()

    assert told("liquid_residue", "corrosion") == [True, False, None, None]
    assert told("contamination", "liquid_residue") == [None] * 4
    assert told("track_wear", "wiper_wear") == [None] * 4
    assert told() == [None] * 2


def test_a_share_that_is_told_comes_with_a_warning_of_what_it_is_of(fleet, monkeypatch):
    monkeypatch.setattr(restoration, "fits_of", _telling)
    answer = ask("restoration", fleet, clock="days")
    assert answer.groups[0].is_by_cause
    assert any("no clean gives back wear" in warning for warning in answer.warnings)
    assert "one cause in eight wrong by 7 to 9 points" in " ".join(answer_text(answer).split())


def test_a_log_without_causes_tells_no_share_but_how_many_hold(fleet, monkeypatch):
    named = ask("restoration", fleet, clock="days").groups[0]
    monkeypatch.setattr(restoration, "CLEANABLE", frozenset())
    answer = ask("restoration", fleet, clock="days")
    (group,) = answer.groups
    assert (group.because, group.is_by_cause, group.shape.because) == (None, False, "no_causes")
    assert {one.restoration_share.because for one in group.effects} == {"no_causes"}
    assert group.counts["failures_unnamed"] == group.counts["failures"] > 0
    assert [one.holding_share for one in group.effects] == [one.holding_share for one in named.effects]
    assert "wear and dirt cannot be told apart; see how long cleans hold" in group.sentence
    assert not any("no clean gives back wear" in warning for warning in answer.warnings)


def test_of_too_many_groups_the_largest_are_worked_out(fleet, monkeypatch):
    every = ask("restoration", fleet, by=["stick"], clock="days")
    monkeypatch.setattr(restoration, "MOST_GROUPS", 1)
    some = ask("restoration", fleet, by=["stick"], clock="days")
    told = [group for group in some.groups if group.because != "too_large"]
    size = [group.counts["gaps"] + group.counts["gaps_left_out"] for group in every.groups]
    assert told == [every.groups[size.index(max(size))]]
    for one, other in zip(every.groups, some.groups, strict=True):
        assert one.by == other.by
        if other.because == "too_large":
            assert (other.effects, other.counts["gaps"] > 0) == ([], True)
            assert "too much to work out at once; ask for a part of it with a filter" in other.sentence
    assert any(f"the 1 of {len(size)} groups" in warning for warning in some.warnings)
    assert not any("groups with the most" in warning for warning in every.warnings)


def _telling(gaps: pd.DataFrame, **words: object) -> list:
    """Return the fits as if every share had passed both gates."""
    told = Estimate.within(0.5, 0.4, 0.6)
    return [
        replace(fit, effects=tuple(replace(one, restoration_share=told) for one in fit.effects))
        for fit in restoration_fits(gaps, **words)
    ]


def test_the_sum_of_the_groups_is_the_whole(fleet):
    whole, split = (ask("restoration", fleet, by=by, clock="days").groups for by in ([], ["stick"]))
    for name in ("modules", "gaps", "failures", "gaps_left_out"):
        assert sum(group.counts[name] for group in split) == whole[0].counts[name]


def test_a_large_log_is_answered_from_a_sample_and_says_so(fleet, monkeypatch):
    monkeypatch.setattr(restoration, "MOST_GAPS", 300)
    answer = ask("restoration", fleet, clock="days")
    counts = answer.groups[0].counts
    assert 200 < counts["gaps"] + counts["gaps_left_out"] <= 300
    assert any("controllers drawn at random" in warning for warning in answer.warnings)
