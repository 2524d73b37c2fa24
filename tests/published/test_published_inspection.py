"""Measurement studies, standard plans and control charts against published examples; sources in cases.json."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.estimates.control_chart import cumulative_sum, share_chart
from pipelines.estimates.crossed_study import crossed_study
from pipelines.estimates.standard_plans import FIRST_LETTER, SAMPLES, code_letter, standard_plan
from tests.published.cases import load_case, rows_of
from tests.published.test_published_acceptance import as_printed


def test_the_measurement_study_of_the_manual():
    case = load_case("grr_aiag")
    rows = rows_of(case).sort_values(["part", "op", "trial"])
    study = crossed_study(rows["y"].to_numpy().reshape(rows["part"].nunique(), rows["op"].nunique(), -1))
    told, want = study.variances, case.expected
    squares = {"stick": "part", "person": "operator", "interaction": "interaction", "repeat": "repeat"}
    found = {f"SS_{word}": study.source(name).sum_of_squares for name, word in squares.items()}
    found |= {
        "SS_total": sum(one.sum_of_squares for one in study.sources),
        "F_interaction": study.source("interaction").f, "p_interaction": study.source("interaction").p_value,
        "var_repeatability": told.repeat, "var_operator": told.person, "var_interaction": told.interaction,
        "var_part": told.stick,
        "sd_repeatability": told.repeat**0.5, "sd_reproducibility": told.between_persons**0.5, "sd_grr": told.tester**0.5,
        "sd_part": told.stick**0.5, "sd_total": told.total**0.5, "pct_grr_of_total_sd": 100 * told.tester_share,
    }  # fmt: skip
    assert study.is_pooled
    assert found == pytest.approx({name: want[name] for name in found}, rel=case.rel_tol, abs=1e-12)
    # the manual writes √2 as 1.41
    assert told.classes == pytest.approx(want["ndc"] / 1.41 * 2**0.5, rel=case.rel_tol)
    for name, value in found.items():
        as_printed(case, name, value)


def test_the_plans_of_the_standard():
    case = load_case("iso2859_rows")
    want = case.expected
    assert [code_letter(size, "II") for size in case.data["lots"]] == want["letter_II"]
    assert case.data["sample_size"] == SAMPLES
    for size, aql in ((2400, 2.5), (400, 1.0), (1000, 4.0)):
        plan = standard_plan(size, aql_pct=aql).plan
        key = f"{size}_II_AQL{aql:g}".replace(".", "_")
        assert (plan.sample_count, plan.acceptance_number) == (want[f"n_{key}"], want[f"Ac_{key}"])
    assert SAMPLES[code_letter(150, "I")] == want["n_150_I"]
    assert SAMPLES[code_letter(150, "III")] == want["n_150_III"]


def test_every_row_and_every_cell_that_is_no_arrow():
    case = load_case("iso2859_rows")
    for smallest, largest, *letters in case.data["code_letters"]:
        for size in {smallest, largest or 10**7}:
            assert [code_letter(size, level) for level in ("I", "II", "III")] == letters
    first_of = {letter: smallest for smallest, _, _, letter, _ in case.data["code_letters"]}
    assert {float(one) for one in case.data["Ac"]} == set(FIRST_LETTER)
    for aql, row in case.data["Ac"].items():
        for letter, smallest in first_of.items():
            found = standard_plan(10**6 if letter == "Q" else smallest, aql_pct=float(aql))
            assert found.letter == letter
            assert (found.plan and found.plan.acceptance_number) == row.get(letter)


def test_the_chart_of_shares_in_the_handbook():
    case = load_case("pchart_nist")
    bad = np.array(case.data["defectives"])
    chart = share_chart(bad, np.full(len(bad), case.data["n"]))
    assert chart.middle == pytest.approx(case.expected["pbar"], rel=case.rel_tol)
    assert chart.low == pytest.approx(np.full(len(bad), case.expected["LCL"]), rel=case.rel_tol)
    assert chart.high == pytest.approx(np.full(len(bad), case.expected["UCL"]), rel=case.rel_tol)
    outside = (np.flatnonzero(chart.is_outside) + 1).tolist()
    assert outside == case.expected["outside"]
    for name, value in (("pbar", chart.middle), ("LCL", chart.low[0]), ("UCL", chart.high[0]), ("outside", outside)):
        as_printed(case, name, value)


def test_the_cumulative_sums_of_the_handbook():
    case = load_case("cusum_nist")
    values, target = np.array(case.data["x"]), case.data["target"]
    above = cumulative_sum(values, target=target, allowance=case.data["k"])
    below = cumulative_sum(-values, target=-target, allowance=case.data["k"])
    assert above == pytest.approx(np.array(case.expected["S_hi"]), rel=case.rel_tol, abs=1e-9)
    assert below == pytest.approx(np.array(case.expected["S_lo"]), rel=case.rel_tol, abs=1e-9)
    assert np.argmax(above > case.data["h"]) == case.expected["first_signal"] - 1
