"""A batch beside the rest, spell by spell: whose spells, in which cells, and what is drawn of many."""

from __future__ import annotations

import pytest

from pipelines import warehouse
from pipelines.facts import batch_beside as beside
from pipelines.facts.batches import Batches
from tests.answers.made_batches import Bench


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    """Return three batches: ODD in the north, PLAIN north and south, MIXED (its bin was mixed) in the north."""
    bench = Bench().fit("ODD", good=3, failed=[40, 60]).fit("PLAIN", good=10, failed=[50] * 5)
    bench.fit("PLAIN", good=4, site="south").fit("MIXED", good=2)
    deliveries = "ODD Umber 2025-01-01 9 false\nPLAIN Umber 2025-01-01 30 false\nMIXED Umber 2025-01-01 9 true"
    return bench.log(tmp_path_factory.mktemp("beside"), deliveries)


def read(log, batch: str, reference: str | None = None):
    with warehouse.reading(log.path) as connection:
        Batches(connection, is_hours=False, where={})
        return beside.batch_beside(connection, batch, reference=reference)


def test_the_rest_is_read_in_the_cells_of_the_batch_without_mixed_bins(log):
    rows = read(log, "ODD")
    assert rows["is_batch"].value_counts().to_dict() == {False: 15, True: 5}
    assert rows.loc[rows["is_batch"], "is_failure"].sum() == 2
    assert set(rows["site"]) == {"north"}
    assert (rows["rest_count"] == 15).all()
    assert (rows["entry"] == 0).all()
    assert rows.loc[rows["is_failure"], "failed_by"].isna().all()  # no mechanism is on record


def test_a_reference_is_the_only_rest_even_of_a_mixed_bin(log):
    rows = read(log, "ODD", "MIXED")
    assert rows["is_batch"].value_counts().to_dict() == {True: 5, False: 2}
    assert len(read(log, "PLAIN", "ODD")) == 19 + 5


def test_of_many_whole_controllers_are_drawn_and_always_the_same(log, monkeypatch):
    monkeypatch.setattr(beside, "MOST", 6)
    one, again = read(log, "ODD"), read(log, "ODD")
    assert one.equals(again)
    assert one["is_batch"].sum() == 5
    assert 1 <= (~one["is_batch"]).sum() < 15
    assert (one["rest_count"] == 15).all()
