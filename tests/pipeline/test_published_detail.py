"""Published sets through the whole pipeline: lognormal lives, Turnbull's curve, mechanisms that compete, an assumed shape.

Sources and tolerances stand with each case in tests/published/cases.json.
"""

from __future__ import annotations

import math
from bisect import bisect_right

import pandas as pd
import pytest

from tests.pipeline.job_log import EXACT, answered, write_job_log
from tests.published.cases import Case, load_case, rows_of

LOGNORMAL = ["ln_shock", "ln_locomotive", "ln_heatexchanger", "ln_channing_male"]
INTERVALS = ["turnbull_v7tube", "turnbull_heatexchanger"]
#: The words of the log for the two modes of the set.
MECHANISMS = {1: "track_wear", 2: "contamination"}


def near(case: Case, expected):
    return pytest.approx(expected, rel=case.rel_tol, abs=1e-9)


@pytest.fixture(scope="module")
def group_of(tmp_path_factory):
    """Return a function: case id → the one group of its answer on the hour clock, loaded once."""
    done = {}

    def group(case_id: str) -> dict:
        if case_id not in done:
            folder = write_job_log(load_case(case_id).spells, tmp_path_factory.mktemp(case_id) / "exports", as_parquet=True)
            (done[case_id],) = answered(folder, clock="hours")["groups"]
        return done[case_id]

    return group


@pytest.fixture(scope="module")
def group_at(tmp_path_factory):
    """Return a function: case id, age → the one group of its brief answer at that age."""
    folders = {}

    def group(case_id: str, age: float) -> dict:
        if case_id not in folders:
            folders[case_id] = write_job_log(load_case(case_id).spells, tmp_path_factory.mktemp(f"{case_id}_at") / "exports",
                                             as_parquet=True)  # fmt: skip
        settings = EXACT.overlaid({"age": age})
        (found,) = answered(folders[case_id], clock="hours", is_brief=True, settings=settings)["groups"]
        return found

    return group


@pytest.mark.parametrize("case_id", LOGNORMAL)
def test_a_lognormal_fit_comes_out_of_the_pipeline_as_published(group_of, case_id):
    case, fit = load_case(case_id), group_of(case_id)["laws"]["lognormal"]
    assert fit["log_likelihood"] == near(case, case.expected["loglik"])
    assert math.log(fit["median"]["estimate"]) == near(case, case.expected["mu"])
    assert fit["log_sd"]["estimate"] == near(case, case.expected["sigma"])
    for mine, theirs in (("b10", "B10"), ("median", "B50")):
        keys = [key for key in ("", "_lr_lo", "_lr_hi") if f"{theirs}{key}" in case.expected]
        found = dict(zip(("", "_lr_lo", "_lr_hi"), (fit[mine][key] for key in ("estimate", "low", "high")), strict=True))
        assert [found[key] for key in keys] == near(case, [case.expected[f"{theirs}{key}"] for key in keys])


@pytest.mark.parametrize("case_id", LOGNORMAL)
def test_the_two_laws_are_compared_by_their_published_likelihoods(group_of, case_id):
    laws, weibull = group_of(case_id)["laws"], group_of(case_id)["weibull"]
    difference = 2 * (load_case(case_id).expected["loglik"] - weibull["log_likelihood"])
    assert laws["aic_difference"] == pytest.approx(difference, abs=1e-3)
    assert laws["better"] == ("too_close" if abs(difference) < 2 else "lognormal" if difference > 0 else "weibull")


@pytest.mark.parametrize("case_id", INTERVALS)
def test_turnbulls_curve_comes_out_of_the_pipeline_as_published(group_of, case_id):
    case, curve = load_case(case_id), group_of(case_id)["interval_curve"]
    shares = [point["surviving_share"] for point in curve["points"]]
    assert [point["to_at"] for point in curve["points"]] == case.expected["times"]
    assert shares == near(case, case.expected["surv"])
    assert [point["from_at"] for point in curve["points"]] == case.expected["intervals_left"][: len(shares)]
    assert all(point["low"] <= point["surviving_share"] <= point["high"] for point in curve["points"])


@pytest.mark.parametrize("case_id", INTERVALS)
def test_dating_those_failures_at_their_visits_would_mislead(group_of, case_id):
    case, group = load_case(case_id), group_of(case_id)
    spells = case.spells[case.spells["upper"] < math.inf]
    assert group["dating"]["between_count"] == spells["spell_count"].sum()
    assert group["dating"]["is_misleading"]
    assert max(abs(group["dating"][key] - 1) for key in ("b10_ratio", "median_ratio")) > 0.05


def test_two_mechanisms_come_out_of_the_pipeline_as_published(tmp_path):
    """The rows of the set are in the order of the units; the mode of each failure is written as a mechanism."""
    case = load_case("cif_shock")
    rows = rows_of(case)
    at, cause = rows[case.data["time"]].astype(float), rows[case.data["status"]]
    spells = pd.DataFrame({"entry": 0.0, "lower": at, "upper": at.where(cause > 0, math.inf)})
    folder = write_job_log(spells, tmp_path / "exports")
    jobs = pd.read_csv(folder / "jobs.csv")
    jobs["failure_mechanism"] = cause.to_numpy()[jobs["unit_id"].str[1:].astype(int)]
    jobs["failure_mechanism"] = jobs["failure_mechanism"].map(MECHANISMS)
    jobs.to_csv(folder / "jobs.csv", index=False)
    settings = EXACT.overlaid({"min_at_risk": 1})
    (group,) = answered(folder, clock="hours", settings=settings)["groups"]
    found = {one["mechanism"]: one for one in group["by_mechanism"]}
    assert {name: one["failures"] for name, one in found.items()} == {
        name: int((cause == number).sum()) for number, name in MECHANISMS.items()
    }
    for number, name in MECHANISMS.items():
        curve = found[name]["curve"]
        ages = [point["at"] for point in curve]
        points = [curve[bisect_right(ages, time) - 1] for time in case.expected["times"]]
        for key, theirs in (("failed_share", "cif"), ("low", "loglog_lo"), ("high", "loglog_hi")):
            assert [point[key] for point in points] == near(case, case.expected[f"{theirs}{number}"])


@pytest.mark.parametrize("shape", [1.5, 2, 3])
def test_lives_under_an_assumed_shape_come_out_of_the_pipeline_as_published(tmp_path_factory, shape):
    case = load_case("weibayes_bearingcage")
    folder = write_job_log(case.spells, tmp_path_factory.mktemp(f"shape{shape}") / "exports", as_parquet=True)
    settings = EXACT.overlaid({"assumed_shape": shape})
    (group,) = answered(folder, clock="hours", settings=settings, level=0.9)["groups"]
    life = group["assumed_shape"]["life"]
    assert (group["counts"]["failures"], life["shape"]) == (6, shape)
    for mine, theirs in (("scale", "eta"), ("b10", "B10")):
        assert life[mine]["estimate"] == near(case, case.expected[f"beta{shape}_{theirs}_mle"])
        assert life[mine]["low"] == near(case, case.expected[f"beta{shape}_{theirs}_lower"])


@pytest.mark.parametrize("place", [2, 5, 9])
def test_the_share_still_good_at_an_age_is_the_published_step_of_the_curve(group_at, place):
    case = load_case("km_shock")
    age = case.expected["times"][place]
    found = group_at("km_shock", age)["surviving_at"]
    expected = [case.expected[name][place] for name in ("surv", "loglog_lo", "loglog_hi")]
    assert [found["curve"][name] for name in ("estimate", "low", "high")] == near(case, expected)
    assert (found["age"], found["unit"], found["at_risk"]) == (age, "hours", case.expected["n_risk"][place])


@pytest.mark.parametrize(("case_id", "law"), [("wb_shock", "weibull"), ("ln_shock", "lognormal")])
@pytest.mark.parametrize(("name", "share"), [("B10", 0.9), ("B50", 0.5)])
def test_the_share_by_a_law_at_a_published_life_or_limit_is_that_of_the_life(group_at, case_id, law, name, share):
    """Where a life's lower limit lies, its share is the lower limit of the share still good, and likewise above."""
    case = load_case(case_id)
    for key, limit in (("", "estimate"), ("_lr_lo", "low"), ("_lr_hi", "high")):
        part = group_at(case_id, case.expected[f"{name}{key}"])["surviving_at"][law]
        assert part[limit] == pytest.approx(share, abs=2e-5)
