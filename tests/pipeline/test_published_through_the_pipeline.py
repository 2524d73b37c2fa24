"""Published data sets, written as job logs, loaded and answered: the numbers must come out as published.

Sources and tolerances stand with each case in tests/published/cases.json. Late notice and quiet lag are 0, as the
published sets know neither.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right

import numpy as np
import pandas as pd
import pytest

from pipelines.settings import Settings
from tests.pipeline.job_log import EXACT, START, answered, write_cleans, write_day_log, write_job_log
from tests.published.cases import Case, load_case

CURVES = ["km_6mp", "km_shock", "km_bearingcage_weighted", "km_channing_male_68", "km_channing_female_68", "km_entry_ties"]
FITS = [
    "wb_nist8413", "wb_shock", "wb_shock_mode1", "wb_bearingcage", "wb_channing_male", "wb_heatexchanger", "wb_v7tube",
    "wb_cirpack6_v2", "wb_abernethy_c5",
]  # fmt: skip
QUANTITIES = {"shape": "beta", "scale": "eta", "b10": "B10", "median": "B50"}
LARGE = 1000


def near(case: Case, expected):
    return pytest.approx(expected, rel=case.rel_tol, abs=1e-9)


def settings_of(case: Case) -> Settings:
    """One set has five failures; the default asks for six."""
    return EXACT.overlaid({"min_failures": 5}) if case.id == "wb_abernethy_c5" else EXACT


@pytest.fixture(scope="module")
def group_of(tmp_path_factory):
    """Return a function: case id → the one group of its answer on the hour clock, loaded once."""
    done = {}

    def group(case_id: str) -> dict:
        if case_id not in done:
            case = load_case(case_id)
            is_large = case.spells["spell_count"].sum() > LARGE
            folder = write_job_log(case.spells, tmp_path_factory.mktemp(case_id) / "exports", as_parquet=is_large)
            answer = answered(folder, clock="hours", settings=settings_of(case))
            assert sum(answer["left_out"].values()) == 0
            (done[case_id],) = answer["groups"]
        return done[case_id]

    return group


@pytest.mark.parametrize("case_id", [*CURVES, "km_channing_male_trap", *FITS])
def test_every_unit_of_the_set_is_one_spell(group_of, case_id):
    spells = load_case(case_id).spells
    failed = int(spells.loc[np.isfinite(spells["upper"]), "spell_count"].sum())
    total = int(spells["spell_count"].sum())
    assert group_of(case_id)["counts"] == {
        "modules": total, "spells": total, "failures": failed, "assumed_failures": 0,
    }  # fmt: skip


def curve_at(group: dict, times: list[float]) -> list[dict]:
    ages = [point["at"] for point in group["curve"]]
    return [group["curve"][bisect_right(ages, time) - 1] for time in times]


@pytest.mark.parametrize("case_id", CURVES)
def test_a_curve_and_its_limits_come_out_of_the_pipeline_as_published(group_of, case_id):
    case, group = load_case(case_id), group_of(case_id)
    points = curve_at(group, case.expected["times"])
    assert [point["surviving_share"] for point in points] == near(case, case.expected["surv"])
    for mine, theirs in (("low", "loglog_lo"), ("high", "loglog_hi")):
        assert [point[mine] for point in points] == [None if one is None else near(case, one) for one in case.expected[theirs]]
    at_risk = [next(point["at_risk"] for point in group["curve"] if point["at"] >= time) for time in case.expected["times"]]
    assert at_risk == case.expected["n_risk"]


@pytest.mark.parametrize("case_id", CURVES)
def test_the_ages_read_off_a_curve_come_out_of_the_pipeline_as_published(group_of, case_id):
    case, read = load_case(case_id), group_of(case_id)["curve_quantiles"]
    assert (read["b10"]["estimate"], read["median"]["estimate"]) == (case.expected["q10"], case.expected["q50"])
    if "q50_lo" in case.expected:
        assert (read["median"]["low"], read["median"]["high"]) == (case.expected["q50_lo"], case.expected["q50_hi"])
    for one in read.values():
        assert (one["because"] == "not_reached") == (one["estimate"] is None)


def test_a_curve_whose_early_risk_set_fails_entirely_stays_at_zero_through_the_pipeline(group_of):
    case, group = load_case("km_channing_male_trap"), group_of("km_channing_male_trap")
    at_zero = [point for point in group["curve"] if point["surviving_share"] == 0]
    assert at_zero[0]["at"] == case.expected["first_zero_time"]
    assert {(point["low"], point["high"]) for point in at_zero} == {(None, None)}
    assert next(point["at_risk"] for point in group["curve"] if point["at"] >= 900) == case.expected["n_risk_900"]
    assert group["drawn_from"] > case.expected["first_zero_time"]


@pytest.mark.parametrize("case_id", FITS)
def test_a_weibull_fit_comes_out_of_the_pipeline_as_published(group_of, case_id):
    case, fit = load_case(case_id), group_of(case_id)["weibull"]
    assert fit["because"] is None
    assert fit["log_likelihood"] == near(case, case.expected["loglik"])
    for mine, theirs in QUANTITIES.items():
        expected = [case.expected[theirs + suffix] for suffix in ("", "_lr_lo", "_lr_hi")]
        assert [fit[mine][key] for key in ("estimate", "low", "high")] == near(case, expected), mine


def test_on_the_day_clock_a_curve_comes_out_as_published(tmp_path):
    case = load_case("km_6mp")
    answer = answered(write_day_log(case.spells, tmp_path / "exports"), clock="days")
    points = curve_at(answer["groups"][0], case.expected["times"])
    assert answer["clock"] == "days"
    assert [point["surviving_share"] for point in points] == near(case, case.expected["surv"])
    assert [point["low"] for point in points] == near(case, case.expected["loglog_lo"])
    assert [point["high"] for point in points] == near(case, case.expected["loglog_hi"])


def test_on_the_day_clock_a_weibull_fit_comes_out_as_published(tmp_path):
    """The last job is a failure on day 386; only the owner of the log knows that it was watched until day 500."""
    case = load_case("wb_nist8413")
    settings = EXACT.overlaid({"log_end": START + dt.timedelta(days=500)})
    folder = write_day_log(case.spells, tmp_path / "exports")
    assert_fit_as_published(case, answered(folder, clock="days", settings=settings))


def test_units_in_service_before_the_log_began_enter_late_on_the_day_clock_as_published(tmp_path):
    case, watched_from = load_case("wb_channing_male"), dt.date(2005, 3, 1)
    folder = write_day_log(case.spells, tmp_path / "exports", watched_from=watched_from)
    last = watched_from + dt.timedelta(days=int((case.spells["lower"] - case.spells["entry"]).max()))
    settings = EXACT.overlaid({"log_start": watched_from, "log_end": last})
    answer = answered(folder, clock="days", settings=settings)
    assert_fit_as_published(case, answer)
    assert "set log_start" in " ".join(answered(folder, clock="days")["warnings"])


def assert_fit_as_published(case: Case, answer: dict) -> None:
    (group,) = answer["groups"]
    assert group["weibull"]["log_likelihood"] == near(case, case.expected["loglik"])
    for mine, theirs in QUANTITIES.items():
        expected = [case.expected[theirs + suffix] for suffix in ("", "_lr_lo", "_lr_hi")]
        assert [group["weibull"][mine][key] for key in ("estimate", "low", "high")] == near(case, expected), mine


def test_wilson_limits_come_out_of_the_pipeline_as_published(tmp_path):
    case = load_case("prop_newcombe1998")
    answer = answered(write_cleans(case.data["x_n"], tmp_path / "exports"), "cleaning-success", by=["family"])
    found = {group["by"]["family"]: group["same_day"] for group in answer["groups"]}
    for k, n in case.data["x_n"]:
        one = found[f"{k}/{n}"]
        assert (one["k"], one["n"], one["share"]) == (k, n, k / n)
        assert [one["low"], one["high"]] == near(case, case.expected[f"{k}/{n}"][:2])


def test_rows_in_another_order_give_the_same_answer(group_of, tmp_path):
    folder = write_job_log(load_case("wb_shock").spells, tmp_path / "exports")
    for file in folder.iterdir():
        pd.read_csv(file).sample(frac=1, random_state=5).to_csv(file, index=False)
    assert answered(folder, clock="hours")["groups"] == [group_of("wb_shock")]


def test_rescaled_time_gives_rescaled_answers(group_of, tmp_path):
    once = group_of("wb_shock")
    folder = write_job_log(load_case("wb_shock").spells, tmp_path / "exports", scale=3)
    (thrice,) = answered(folder, clock="hours")["groups"]
    assert [point["at"] for point in thrice["curve"]] == [3 * point["at"] for point in once["curve"]]
    for key in ("surviving_share", "low", "high", "at_risk"):
        assert [point[key] for point in thrice["curve"]] == [point[key] for point in once["curve"]]
    for name in ("scale", "b10", "median"):
        for key in ("estimate", "low", "high"):
            assert thrice["weibull"][name][key] == pytest.approx(3 * once["weibull"][name][key], rel=1e-6)
    for key in ("estimate", "low", "high"):
        assert thrice["weibull"]["shape"][key] == pytest.approx(once["weibull"]["shape"][key], rel=1e-6)


def test_two_families_in_one_file_give_what_each_gives_alone(group_of, tmp_path):
    alone = {"Shockfam": "wb_shock", "Nistfam": "wb_nist8413", "Cagefam": "wb_bearingcage"}
    spells = pd.concat([load_case(case_id).spells.assign(family=family) for family, case_id in alone.items()])
    folder = write_job_log(spells.reset_index(drop=True), tmp_path / "exports", group="family", as_parquet=True)
    answer = answered(folder, clock="hours", by=["family"])
    assert [group["by"]["family"] for group in answer["groups"]] == sorted(alone)
    for group in answer["groups"]:
        single = group_of(alone[group["by"]["family"]])
        assert (group["counts"], group["curve_quantiles"]) == (single["counts"], single["curve_quantiles"])
        # a group's share is a ratio of the common curve's, so the last digit of a float may differ
        pd.testing.assert_frame_equal(pd.DataFrame(group["curve"]), pd.DataFrame(single["curve"]), rtol=1e-13, atol=1e-13)
        assert group["weibull"]["log_likelihood"] == pytest.approx(single["weibull"]["log_likelihood"], rel=1e-9)
        for name in QUANTITIES:
            assert group["weibull"][name]["estimate"] == pytest.approx(single["weibull"][name]["estimate"], rel=1e-6)
