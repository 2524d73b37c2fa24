"""Published histories of units that fail again and again, written as job logs, loaded and answered.

A unit is a controller registered as new; each failure is reported, found and cleaned at once, so that it is watched from 0
to its end. Of two failures at one age the second is the other stick's.
"""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from tests.pipeline.job_log import DAY_UNITS, EXACT, JOBS, START, answered
from tests.published.cases import Case, case_ids, load_case
from tests.published.test_published_recurrent import history

#: The published sets are counted from the first failure to the last, however few are watched then.
WHOLE = EXACT.overlaid({"min_at_risk": 1})


def write_histories(case: Case, folder: Path) -> Path:
    """Write the failures and units of a case as a register and a list of jobs with metered hours."""
    events, units = history(case)
    ages = {unit: sorted(part["at"]) for unit, part in events.groupby("unit")}
    register, jobs = [], []
    for number, unit in enumerate(units.itertuples(index=False)):
        name, failed, on, last = f"U{number:03d}", ages.get(unit.unit, []), START, 0.0
        visits = [(at, "R" if at in failed[:place] else "L", "fault_confirmed") for place, at in enumerate(failed)]
        for at, stick, finding in [*visits, (unit.exit, "L", "no_fault_found"), (unit.exit, "R", "no_fault_found")]:
            on += dt.timedelta(days=math.ceil((at - last) / 20))
            last = at
            reason, action = ("fault_report", "clean_flush") if finding == "fault_confirmed" else ("check", "test_only")
            jobs.append((f"J{len(jobs)}", name, stick, "Testfam", on, reason, finding, action, "pass", at, "metered"))
        register.append((name, "Testfam", "L+R", START, "new", on, "stored"))
    folder.mkdir(parents=True)
    pd.DataFrame(register, columns=DAY_UNITS.split()).to_csv(folder / "units.csv", index=False)
    pd.DataFrame(jobs, columns=JOBS.split()).to_csv(folder / "jobs.csv", index=False)
    return folder


def part_of(case: Case, folder: Path) -> dict:
    answer = answered(write_histories(case, folder / "exports"), "recurrence", clock="hours", settings=WHOLE)
    (group,) = answer["groups"]
    return group["mean_cumulative"]


@pytest.mark.parametrize("case_id", case_ids("mcf_"))
def test_the_mean_number_of_failures_comes_out_of_the_pipeline_as_published(case_id, tmp_path):
    case = load_case(case_id)
    part = part_of(case, tmp_path)
    expected, ages = case.expected, [point["at"] for point in part["curve"]]

    def near(value):
        return pytest.approx(value, rel=case.rel_tol)

    assert (part["units"], part["failures"], part["counted_from"]) == (expected["n_units"], expected["n_events"], 0)
    points = [part["curve"][place] for place in np.searchsorted(ages, expected["times"], side="right") - 1]
    assert [point["mean_count"] for point in points] == near(expected["mcf"])
    at_risk = [part["curve"][place]["at_risk"] for place in np.searchsorted(ages, expected["times"])]
    assert at_risk == expected["n_risk"]
    # the limits stand on the log scale, by the larger of the published errors
    error = np.maximum(expected["se_robust"], expected["se_poisson"]) / expected["mcf"]
    for side, name in ((-1, "low"), (1, "high")):
        assert [point[name] for point in points] == near(expected["mcf"] * np.exp(side * norm.ppf(0.975) * error))


@pytest.mark.parametrize("case_id", case_ids("plp_"))
def test_a_power_law_and_its_trend_come_out_of_the_pipeline_as_published(case_id, tmp_path):
    case = load_case(case_id)
    expected, part = case.expected, part_of(case, tmp_path)["trend"]

    def near(value):
        return pytest.approx(value, rel=case.rel_tol)

    assert (part["because"], part["tested"]) == (None, expected["n"])
    shape = part["shape"]
    assert shape["estimate"] == near(expected["beta"])
    assert (shape["low"], shape["high"]) == (near(expected["beta_chi2_lo"]), near(expected["beta_chi2_hi"]))
    laplace = expected.get("laplace", expected.get("laplace_pooled"))
    if case_id == "plp_valveseat":
        # forty engines tell their spread too, which may only make the test more careful
        assert 2 * norm.sf(abs(laplace)) <= part["p_value"] < 0.05
    else:
        assert part["p_value"] == near(2 * norm.sf(abs(laplace)))
    rate = "getting_more_frequent" if laplace > 0 else "getting_rarer"
    assert part["verdict"] == (rate if part["p_value"] < 0.05 else "no_trend_shown")
