"""Prices valid on a day, and the currencies that money was written in."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pandas as pd
import pytest

from pipelines import warehouse
from pipelines.errors import InputError
from pipelines.facts.build import build
from pipelines.facts.money import currencies, one_currency, prices
from pipelines.settings import Settings
from tests.facts.warehouse_in_memory import filled
from tests.logs.bench import Bench

JOBS = "job_id,unit_id,stick,family,received_on,action,outcome,parts_cost\n"
LOTS = "lot_id,bought_on,family,units_bought,{price}\n"


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def written(bench: Bench) -> dict[str, dict[str, int]]:
    with warehouse.reading(bench.warehouse) as connection:
        return currencies(connection)


def test_signs_and_codes_are_kept_by_column(bench):
    job = "J{0},U{0},L,Nolm,2026-01-05,clean_air,pass,"
    rows = [job.format(number) + cost for number, cost in enumerate(['"€ 2,50"', "2", '" EUR 3"', "€ 4", "EUR 5"])]
    bench.write("jobs.csv", JOBS + "\n".join(rows) + "\n")
    bench.write("lots.csv", LOTS.format(price="lot_price_gbp") + "X,2026-01-02,Nolm,5,40\n")
    bench.write("sales.csv", "unit_id,sold_on,price\nU1,2026-02-01,30\n")
    bench.load()
    found = written(bench)
    jobs, lots = next(place for place in found if "jobs" in place), next(place for place in found if "lots" in place)
    # the line of the first of each; a heading stands on its own line
    assert found == {jobs: {"€": 2, "EUR": 4}, lots: {"GBP": 1}}
    assert jobs.endswith("jobs.csv, column parts_cost")
    assert lots.endswith("lots.csv, column lot_price_gbp")
    with pytest.raises(InputError, match=re.escape(f"not in one currency: EUR in {jobs}, line 2; GBP in {lots}, line 1.")):
        one_currency(found)


def test_a_file_whose_rows_were_all_replaced_says_nothing_of_the_currency(bench):
    line = "J1,U1,L,Nolm,2026-01-05,clean_air,pass,"
    bench.load(bench.write("a/jobs.csv", JOBS + line + "£2\n"))
    bench.load(bench.write("b/jobs.csv", JOBS + line + "EUR 3\n"))
    ((place, words),) = written(bench).items()
    assert place == "jobs.csv, column parts_cost"
    assert words == {"EUR": 2}


def test_the_line_is_that_of_the_file_and_of_the_first_cell(bench):
    sales = [
        "Sales of the year",
        "unit_id,sold_on,price",
        *(f"U{one},2026-02-01,30" for one in range(70_000)),
        "UX,2026-02-01,$30",
    ]
    bench.write("sales.csv", "\n".join(sales) + "\n")
    bench.load()
    assert written(bench) == {"sales.csv, column price": {"$": len(sales)}}


def test_many_files_of_a_currency_are_counted_and_the_first_is_named():
    files = {f"jobs_{month}.csv, column cost": {"€": 10 * month} for month in (3, 1, 2)}
    said = "EUR in jobs_3.csv, column cost, line 30, and 2 more; GBP in x.csv, column price, line 4."
    with pytest.raises(InputError, match=re.escape(said)):
        one_currency(files | {"x.csv, column price": {"£": 7, "GBP": 4}})


@pytest.mark.parametrize(
    ("words", "currency"),
    [
        ([], None), (["€"], "EUR"), (["EUR", "€"], "EUR"), (["$"], "$"), (["$", "CAD"], "CAD"), (["USD"], "USD"), (["£"], "GBP"),
    ],
)  # fmt: skip
def test_what_one_currency_can_be(words, currency):
    first, others = (dict.fromkeys(some, 2) for some in (words[:1], words[1:]))
    assert one_currency({"lots.lot_price": first, "sales.price": others}) == currency


@pytest.mark.parametrize("words", [["€", "£"], ["$", "EUR"], ["USD", "CAD"], ["$", "USD", "AUD"]])
def test_currencies_that_cannot_be_one_are_refused(words):
    with pytest.raises(InputError, match="Amounts are not converted"):
        one_currency({"lots.lot_price": dict.fromkeys(words, 2)})


def test_prices_below_zero_are_set_aside_with_a_reason(bench):
    bench.write("sales.csv", "unit_id,sold_on,price\nU1,2026-02-01,-30\nU2,2026-02-01,30\n")
    bench.write("prices.csv", "key,valid_from,amount,kind\nNolm/A,2026-01-01,-4,resale\nNolm/A,2026-01-01,€ 4,resale\n")
    bench.write("lots.csv", LOTS.format(price="lot_price") + "X,2026-01-02,Nolm,5,-40\n")
    bench.load()
    assert sorted(bench.set_aside()) == [(2, "amount", "'-4' is below 0"), (2, "lot_price", "'-40' is below 0"),
                                         (2, "price", "'-30' is below 0")]  # fmt: skip


def test_the_price_of_a_day_is_the_latest_that_began_by_it():
    day = dt.date(2026, 3, 1)
    rows = [("Nolm/A", "2026-01-01", 30, "resale"), ("Nolm/A", "2026-03-01", 28, "resale"),
            ("Nolm/A", "2026-03-02", 20, "resale"), ("Nolmm/B", "2026-01-01", 25, "resale"),
            ("bench", "2026-01-01", 18, "labour_per_hour"),
            ("nolm", "2026-01-01", 4, "part"), ("clean_air", "2027-01-01", 1, "clean_cost")]  # fmt: skip
    job = {"job_key": "J1", "job_id": "J1", "unit_id": "U1", "stick": "L", "family": "Nolm", "received_on": day,
           "action": "clean_air", "outcome": "pass", "site_id": "bench"}  # fmt: skip
    connection = filled({
        "price": pd.DataFrame(rows, columns=["key", "valid_from", "amount", "kind"]), "job": pd.DataFrame([job]),
    })  # fmt: skip
    build(connection, Settings())
    found = prices(connection, day)
    assert [tuple(row) for row in found[["kind", "key", "amount", "is_known"]].itertuples(index=False)] == [
        ("labour_per_hour", "bench", 18, True), ("part", "nolm", 4, True),
        ("resale", "Nolm/A", 28, True), ("resale", "Nolmm/B", 25, False),
    ]  # fmt: skip
