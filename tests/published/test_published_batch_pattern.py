"""A batch beside the rest on published data of two groups; sources in cases.json."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.estimates.alike import alike
from pipelines.estimates.excess_by_mechanism import excess_by_mechanism
from pipelines.estimates.survival_difference import survival_difference
from tests.published.cases import HERE, load_case, rows_of


def test_the_curve_of_a_batch_comes_out_as_published():
    case = load_case("km_6mp")
    rows = pd.read_csv(HERE / case.data["csv"])
    spells = pd.DataFrame({
        "is_batch": rows["group"] == "6-MP", "cell": 0, "cluster": np.arange(len(rows)), "entry": 0.0,
        "at": rows["time"].astype(float), "is_failure": rows["event"] == 1, "spell_count": 1,
    })  # fmt: skip
    found = survival_difference(alike(spells, min_at_risk=3)).points
    times = np.array(case.expected["times"])
    is_seen = times <= found["at"].max()
    assert is_seen.sum() >= 5
    shares = found["batch"].to_numpy()[np.searchsorted(found["at"], times[is_seen], side="right") - 1]
    assert shares.tolist() == pytest.approx(np.array(case.expected["surv"])[is_seen].tolist(), rel=case.rel_tol)


def test_the_shares_by_mechanism_of_a_batch_and_of_its_rest_come_out_as_published():
    case = load_case("cif_bmtcrr")
    rows = rows_of(case).reset_index(drop=True)
    status = rows[case.data["status"]]
    spells = rows.assign(
        entry=0.0, at=rows[case.data["time"]].astype(float), is_failure=status > 0, failed_by=status.where(status > 0),
        spell_count=1, cell=0, cluster=np.arange(len(rows)),
    )  # fmt: skip
    named = sorted(rows["D"].unique())
    found = excess_by_mechanism(alike(spells.assign(is_batch=rows["D"] == named[0]), min_at_risk=1))
    times = np.array(case.expected["times"])
    is_seen = times <= found.ages[-1]
    places = np.searchsorted(found.ages, times[is_seen], side="right") - 1
    assert is_seen.sum() >= 4
    for one in found.mechanisms:
        for group, shares in zip(named, (one.batch_share, one.rest_share), strict=True):
            expected = np.array(case.expected["group_cif"][f"{group} {int(float(one.mechanism))}"])[is_seen]
            assert shares[places].tolist() == pytest.approx(expected.tolist(), rel=case.rel_tol)
