"""The screen of past lots: what is asked for, forecast and result, sellers and the waiting work, and the files."""

import html

import pytest

from pipelines.load import load
from pipelines.settings import Settings
from tests.answers.made_trade import before, made_trade

#: A trade of which the log ends while a lot is at the bench; its prices stand in the address.
COSTS = {
    "other_fault_pct": "0", "return_cost": "0", "warranty_days": "0", "labour_per_hour": "20", "selling_fee_pct": "10",
    "freight_out": "3", "harvest_value": "2",
}  # fmt: skip


@pytest.fixture(scope="module")
def trade(tmp_path_factory):
    folder = tmp_path_factory.mktemp("trade")
    tables = made_trade(3, lots=20)
    tables = before(tables, str(tables["job"]["received_on"].sort_values().iloc[-12]))
    (folder / "exports").mkdir()
    jobs = tables["job"].rename(columns={"job_key": "job_id"}).drop(columns=["file_id", "line"])
    for name, frame in (("jobs", jobs), ("sales", tables["sale"]), ("lots", tables["lot"])):
        frame.to_csv(folder / "exports" / f"{name}.csv", index=False)
    load([folder / "exports"], warehouse=folder / "warehouse", settings=Settings())
    return folder / "warehouse"


@pytest.fixture
def past(screen, trade, monkeypatch):
    """Return the screen on a trade of twenty lots."""
    monkeypatch.setenv("STICKFLEET_WAREHOUSE", str(trade))
    return lambda **query: screen("past_lots", **query)


def texts(app) -> list[str]:
    return [
        html.unescape(one.proto.body).partition(">")[2].removesuffix("</p>").replace("\u00a0", " ") for one in app.get("html")
    ]


def has(app, words: str) -> bool:
    return any(words in one for one in texts(app))


def test_what_nobody_gave_is_asked_for(screen):
    app = screen("past_lots")
    assert not app.exception
    assert app.title[0].value == "Past lots"
    assert has(app, "Before past lots can be held against a forecast, give: ")
    assert {one.label for one in app.number_input if one.placeholder == "needed"} >= {"Lost to other faults, %"}
    assert not app.get("plotly_chart")
    assert not {"forecast", "earned"} & set(app.dataframe[0].value.columns)


def test_forecasts_stand_beside_results(past):
    app = past(**COSTS)
    assert not app.exception
    assert has(app, "with a result came out inside the 80 % forecast")
    assert len(app.get("plotly_chart")) == 1
    lots, *_, sellers = [one.value for one in app.dataframe]
    assert (lots["turned out"] != "–").sum() > 5
    assert {"advised", "paid", "earned", "what stands out"} <= set(lots.columns)
    assert set(sellers.columns) >= {"seller", "odds of working, × others'", "stands"}
    assert [one.label for one in app.get("download_button")] == ["CSV", "Excel"]


def test_free_hours_give_weeks_and_a_cost_changes_the_forecast(past):
    app = past(**COSTS, bench_hours_free="10")
    before = list(app.dataframe[0].value["forecast"])
    assert has(app, "waiting for the bench")
    app.number_input(key="labour_per_hour").set_value(40.0).run()
    assert not app.exception
    assert list(app.dataframe[0].value["forecast"]) != before
