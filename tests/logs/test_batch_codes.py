"""Codes of batches as they come in: words that name none, and a code that two deliveries share."""

from __future__ import annotations

import pytest

from pipelines.logs.spelling import is_no_batch

HEAD = "batch_id,supplier,part_type,received_on,qty,unit_cost\n"


@pytest.mark.parametrize("word", ["", "unknown", "Unknown ", "UNKNOWN", "?", "??", "n/a", "none", "-", "No batch"])
def test_a_word_that_names_no_batch_is_none(word):
    assert is_no_batch(word)


@pytest.mark.parametrize("code", ["B1", "7", "24/17", "UNK-04", "b-2"])
def test_a_code_is_one(code):
    assert not is_no_batch(code)


def test_modules_and_deliveries_without_a_code_are_of_no_batch(bench):
    jobs = ["job_id,unit_id,stick,family,received_on,action,outcome,part_batch_fitted,part_batch_found"]
    for number, word in enumerate(("B1", "unknown", "??", "N/A", "not known")):
        jobs.append(f"J{number},U{number},L,Nolm,2025-03-01,replace_module,pass,{word},{word}")
    report = bench.load(
        bench.write("jobs.csv", "\n".join(jobs)),
        bench.write("part_batches.csv", f"{HEAD}B1,Umber,module,2025-01-01,5,2\nunknown,Umber,module,2025-01-01,5,2\n"),
    )
    assert bench.column("part_batch_fitted") == bench.column("part_batch_found") == ["B1", None, None, None, None]
    assert bench.column("batch_id", "part_batch") == ["B1"]
    assert report.total("set_aside") == 1
    assert bench.set_aside()[0][:2] == (3, "batch_id")
