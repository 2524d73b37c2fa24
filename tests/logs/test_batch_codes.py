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


def test_of_a_code_given_twice_the_later_delivery_counts_and_it_is_said(bench):
    report = bench.load(bench.write("part_batches.csv", f"{HEAD}B1,Umber,module,2025-01-01,5,2\n"
                                    "B2,Umber,module,2025-01-01,5,2\nB2,Umber,module,2025-02-01,9,2\n"
                                    "B1,Tarnside,module,2025-02-01,7,2\n"))  # fmt: skip
    assert bench.rows("SELECT batch_id, supplier, qty FROM part_batch ORDER BY 1") == [("B1", "Tarnside", 7), ("B2", "Umber", 9)]
    assert bench.set_aside() == [
        (2, "", "its batch code comes again on line 5 from another supplier; the later line counts"),
        (3, "", "given again on line 4 with other content; the later line counts"),
    ]
    assert report.total("set_aside") == 2


def test_a_code_of_an_earlier_file_is_replaced_and_counted(bench):
    bench.load(bench.write("part_batches.csv", f"{HEAD}B1,Umber,module,2025-01-01,5,2\n"))
    report = bench.load(bench.write("later.csv", f"{HEAD}B1,Tarnside,module,2025-02-01,7,2\n"))
    assert bench.rows("SELECT supplier, qty FROM part_batch") == [("Tarnside", 7)]
    assert (report.total("replaced"), report.total("set_aside")) == (1, 0)
