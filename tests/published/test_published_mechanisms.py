"""Cumulative incidence by mechanism, and Gray's test, against R's survival and cmprsk; sources in cases.json."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.estimates.competing import cumulative_incidence
from pipelines.estimates.gray import gray_test
from tests.published.cases import Case, case_ids, load_case, rows_of


def counts_of(case: Case):
    """Return a case's rows as counts; status 0 is censored, and so a null mechanism."""
    rows = rows_of(case)
    status = rows[case.data["status"]]
    counts = rows.assign(entry=0.0, at=rows[case.data["time"]].astype(float), mechanism=status.where(status > 0), spell_count=1)
    return counts.reset_index(drop=True)


def at(rows, times):
    return rows.iloc[np.searchsorted(rows["at"], times, side="right") - 1]


@pytest.mark.parametrize("case_id", case_ids("cif_"))
@pytest.mark.parametrize("mechanism", [1, 2])
def test_a_cumulative_incidence_and_its_limits_come_out_as_published(case_id, mechanism):
    case = load_case(case_id)
    curves = cumulative_incidence(counts_of(case), by=[])
    rows = at(curves[curves["mechanism"] == mechanism], case.expected["times"])
    for column, key in (("failed_share", "cif"), ("low", "loglog_lo"), ("high", "loglog_hi")):
        assert rows[column].tolist() == pytest.approx(case.expected[f"{key}{mechanism}"], rel=case.rel_tol)


def test_a_cumulative_incidence_by_group_comes_out_as_published():
    case = load_case("cif_bmtcrr")
    curves = cumulative_incidence(counts_of(case), by=["D"])
    for (group, mechanism), rows in curves.groupby(["D", "mechanism"]):
        expected = case.expected["group_cif"][f"{group} {int(mechanism)}"]
        assert at(rows, case.expected["times"])["failed_share"].tolist() == pytest.approx(expected, rel=case.rel_tol)


@pytest.mark.parametrize("mechanism", [1, 2])
def test_grays_test_comes_out_as_published(mechanism):
    case = load_case("cif_bmtcrr")
    test = gray_test(counts_of(case), group="D", mechanism=mechanism)
    for key, value in (("stat", test.statistic), ("p", test.p_value)):
        assert value == pytest.approx(case.expected[f"gray_{key}"][mechanism - 1], rel=case.rel_tol)
        printed = case.published[f"gray_{key}|{mechanism - 1}"]
        assert value == pytest.approx(printed["value"], abs=printed["abs_tol"])
    assert test.degrees_of_freedom == case.expected["gray_df"][mechanism - 1]
