"""Fleets that age and are cleaned by a known law, written as job logs, loaded and asked what a clean gives back.

The answer must be that of the estimate on the fleet's own gaps, and recover the truth.

In the hard world of the example's program a clean takes 35, 65 or 92 % of the contamination off (air, flush, open) and none
of the wear, faults on worn tracks come back at once, and sticks are cleaned on schedule untested; causes are recorded for 72 %,
a tenth of them at random. In the easy world drift after a clean has a law of its own, and its whole is refused. Without causes
everything is refused: pooled, 19 of 27 shares told by family were wrong (air: nothing given back).
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import example_data
from pipelines.answers import ask
from pipelines.estimates.restoration import restoration
from tests.estimates.gaps import random_fleet
from tests.estimates.two_mechanisms import TRUTH, two_mechanism_fleet
from tests.pipeline.job_log import EXACT, answered, write_gap_log
from tests.pipeline.made_fleet import loaded_fleet

DEPTH = {"a": "flush", "b": "open"}
KEPT = (0.3, 0.8)
#: Later than any of the fleets is watched; each unit says itself when it was stored.
WATCHED = EXACT.overlaid({"log_end": "2004-01-01"})


def in_days(gaps: pd.DataFrame, depths: dict[str, str] = DEPTH) -> pd.DataFrame:
    """Return the gaps in whole days, at least one each, cut where the first stick of their controller is no longer watched."""
    is_failure = np.isfinite(gaps["upper"])
    length = np.ceil(gaps["upper"].where(is_failure, gaps["lower"])).clip(lower=1)
    end = length.groupby(gaps["module"]).cumsum()
    cut = end.groupby(gaps["module"]).transform("max").groupby(gaps["cluster"]).transform("min")
    left = length - (end - cut).clip(lower=0)
    is_failure &= end < cut
    days = gaps.assign(lower=left, upper=left.where(is_failure, np.inf), depth=gaps["depth"].map(depths))
    return days[left > 0].reset_index(drop=True)


def with_causes(gaps: pd.DataFrame) -> pd.DataFrame:
    """Return the gaps with every failure put down to dirt, but the first to wear: a log that names both."""
    failed = np.isfinite(gaps["upper"])
    cause = pd.Series(np.where(failed, "contamination", None), index=gaps.index, dtype=object)
    cause[failed.idxmax()] = "track_wear"
    return gaps.assign(failed_by=cause, is_counted=cause.map({"contamination": True, "track_wear": False}))


def group_of(gaps: pd.DataFrame, folder: Path) -> dict:
    """Return the one group of the answer on a log of these gaps."""
    (group,) = answered(write_gap_log(gaps, folder), "restoration", clock="days", settings=WATCHED)["groups"]
    return group


@pytest.mark.parametrize("planned", [None, 300.0], ids=["failures only", "planned cleans too"])
def test_the_answer_is_that_of_the_estimate_on_the_gaps_of_the_fleet(tmp_path, planned):
    gaps = with_causes(in_days(random_fleet(11, controllers=40, kept=KEPT, planned=planned).gaps))
    fit = restoration(gaps, by=[], horizon=EXACT.horizon)[0]
    group = group_of(gaps, tmp_path / "log")
    assert group["because"] is None
    assert group["counts"] == {
        "modules": fit.modules, "gaps": fit.gaps, "failures": fit.failures, "failures_counted": fit.failures - 1,
        "failures_unnamed": 0, "gaps_left_out": 0,
    }  # fmt: skip
    assert (group["is_by_cause"], group["fit_p"]) == (True, pytest.approx(fit.fit_p, rel=1e-3))
    assert (group["memory"], group["is_memory_told"]) == (fit.memory, fit.is_memory_told)
    assert group["log_likelihood"] == pytest.approx(fit.log_likelihood, abs=1e-6)
    assert [one["depth"] for one in group["effects"]] == ["flush", "open"]
    for one, told in zip(fit.effects, group["effects"], strict=True):
        assert told["cleans"] == one.cleans
        for name in ("restoration_share", "holding_share"):
            for number in ("estimate", "low", "high"):
                assert told[name][number] == pytest.approx(getattr(getattr(one, name), number), rel=1e-5)


def test_the_truth_of_a_fleet_is_recovered_through_the_log(tmp_path):
    rows = []
    for seed in range(20, 26):
        group = group_of(with_causes(in_days(random_fleet(seed, controllers=40, kept=KEPT).gaps)), tmp_path / str(seed))
        rows += [(one["restoration_share"], 1 - kept) for one, kept in zip(group["effects"], KEPT, strict=True)]
    assert all(share["because"] is None for share, _ in rows)
    assert np.mean([share["estimate"] - truth for share, truth in rows]) == pytest.approx(0, abs=0.03)
    # 12 limits of 95 %: 9 or more with a chance of 99.8 %
    assert sum(share["low"] <= truth <= share["high"] for share, truth in rows) >= 9


def test_where_age_hardly_matters_the_gate_refuses_and_the_sentence_leads_on(tmp_path):
    gaps = in_days(random_fleet(3, controllers=25, shape=1.2, kept=KEPT).gaps)
    group = group_of(with_causes(gaps), tmp_path / "log")
    assert [one["restoration_share"]["because"] for one in group["effects"]] == ["restoration_untold"] * 2
    assert all(one["holding_share"]["estimate"] for one in group["effects"])
    assert "cannot be told" in group["sentence"]
    assert "Still good 90 days later" in group["sentence"]
    assert "recurrence by depth of clean and by attempt number" in group["sentence"]


def test_without_causes_no_share_is_told_but_how_many_hold_is(tmp_path):
    gaps = in_days(random_fleet(11, controllers=40, kept=KEPT).gaps)
    fit, group = restoration(gaps, by=[], horizon=EXACT.horizon)[0], group_of(gaps, tmp_path / "log")
    assert (group["because"], group["is_by_cause"]) == (None, False)
    for one, told in zip(fit.effects, group["effects"], strict=True):
        assert told["restoration_share"] == {"estimate": None, "low": None, "high": None, "because": "no_causes"}
        assert told["holding_share"]["estimate"] == pytest.approx(one.holding_share.estimate, rel=1e-5)
    assert "wear and dirt cannot be told apart; see how long cleans hold" in group["sentence"]


def test_after_a_planned_clean_of_an_untested_stick_a_module_is_not_followed(tmp_path):
    gaps = with_causes(in_days(random_fleet(12, controllers=40, kept=KEPT, planned=300.0).gaps))
    log = write_gap_log(gaps, tmp_path / "log")
    jobs = pd.read_csv(log / "jobs.csv")
    jobs.loc[jobs["visit_reason"] == "preventive", "finding"] = "not_tested"
    jobs.to_csv(log / "jobs.csv", index=False)
    (group,) = answered(log, "restoration", clock="days", settings=WATCHED)["groups"]
    planned = gaps.groupby("module")["upper"].shift() == np.inf
    left = gaps[~planned.groupby(gaps["module"]).cummax()]
    fit = restoration(left, by=[], horizon=EXACT.horizon)[0]
    assert 0 < fit.gaps < len(gaps)
    assert (group["counts"]["gaps"], group["counts"]["gaps_left_out"]) == (fit.gaps, len(gaps) - len(left))
    assert group["log_likelihood"] == pytest.approx(fit.log_likelihood, abs=1e-6)
    assert "follow a clean of a stick that nobody had tested" in group["sentence"]


def told_and_refused(connection, *, by: list[str], where: dict[str, list[str]] | None = None) -> tuple[list, set[str]]:
    """Return (depth, share) of those told, and the reasons of the others, in play hours."""
    groups = ask("restoration", connection, by=by, where=where or {}, clock="hours").groups
    effects = [(group.because, effect) for group in groups for effect in group.effects]
    told = [(one.depth, one.restoration_share) for _, one in effects if one.restoration_share.estimate is not None]
    return told, {str(because or one.restoration_share.because) for because, one in effects} - {"None", "limit_not_reached"}


def test_in_the_hard_world_a_share_holds_the_truth_or_is_refused_as_a_whole_and_by_family(tmp_path):
    page = Path(example_data.__file__).parent / "truth.json"
    truth = json.loads(page.read_text(encoding="utf-8"))["hard"]["restoration_of_contamination"]
    for seed in (1, 2, 3):
        with loaded_fleet(6000, seed, tmp_path / str(seed), easy=False) as (_, connection):
            for by in ([], ["family"]):
                told, reasons = told_and_refused(connection, by=by, where={"site": ["north", "south"]})
                assert reasons <= {"restoration_untold", "model_unfit", "too_few_failures"}
                assert [one for depth, one in told if not one.low <= truth[f"clean_{depth}"] <= one.high] == []


def test_in_the_easy_world_where_drift_after_cleans_has_its_own_law_nothing_is_told(tmp_path):
    with loaded_fleet(12_000, 1, tmp_path, easy=True) as (_, connection):
        assert told_and_refused(connection, by=[]) == ([], {"model_unfit"})


def test_by_cause_the_truth_of_the_dirt_is_recovered_through_the_log(tmp_path):
    depths, found = {"a": "air", "b": "flush", "c": "open"}, []
    for seed in range(4):
        gaps = in_days(two_mechanism_fleet(seed, controllers=150, worn_pass=1.0), depths)
        gaps["failed_by"] = gaps["failed_by"].where(np.isfinite(gaps["upper"]), None)
        group = group_of(gaps, tmp_path / str(seed))
        counts = group["counts"]
        assert group["is_by_cause"]
        assert 0 < counts["failures_counted"] < counts["failures"] - counts["failures_unnamed"] < counts["failures"]
        assert "were of wear and other causes, which no clean gives back" in group["sentence"]
        found += [(one["restoration_share"], truth) for one, truth in zip(group["effects"], TRUTH, strict=True)]
    told = [(one, truth) for one, truth in found if one["because"] is None]
    assert len(told) >= 9
    assert np.mean([one["estimate"] - truth for one, truth in told]) == pytest.approx(0, abs=0.06)
    assert sum(one["low"] <= truth <= one["high"] for one, truth in told) >= len(told) - 3
