"""Past lots replayed on made trades of known truth: no look-ahead, intervals that hold, curse, refusals, and the page."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import fields, replace
from functools import cache

import pandas as pd
import pytest
from scipy import stats

from pipelines.answers import ask
from pipelines.answers.lot_bought import bought_lots
from pipelines.answers.lot_replay import Forecast, Replay, replay
from pipelines.answers.past_lots import bid_less_curse, curse_of, of_replay
from pipelines.answers.past_lots_record import Backlog, PastLot, PastLots, Seller, Sum
from pipelines.answers.past_lots_text import past_lots_csv, past_lots_sheets, past_lots_table, past_lots_text
from pipelines.answers.question import asked
from pipelines.decisions.bid import Fees
from pipelines.errors import SettingError
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.lot_result import Differences
from pipelines.estimates.winners_curse import Curse
from pipelines.settings import Settings
from pipelines.vocabulary import Because
from tests.answers.made_trade import COSTS, before, made_trade, standing
from tests.answers.test_contract import rows

GIVEN = Settings(**COSTS)
COMPUTER_WORD = re.compile(r"\b(nan|None|inf|NaN|NaT|null)\b")


@cache
def replayed(seed: int) -> Replay:
    return replay(standing(made_trade(seed)), GIVEN)


def answered(found: Replay, settings: Settings = GIVEN) -> PastLots:
    return of_replay(found, asked("past-lots", by=[], where={}, clock=None, level=None, settings=settings))


def scored(found: Replay) -> list:
    return [one for one in found.lots if one.because is None]


def numbers(forecast: Forecast | None) -> list[float]:
    """Return all that a forecast says; sums of the database may differ in the last digit."""
    if forecast is None:
        return []
    bid, value = forecast.bid, forecast.value
    return [
        forecast.record_on.toordinal(), forecast.is_prior_led, value.estimate, value.low, value.high, forecast.sd,
        -1.0 if bid.highest_bid is None else bid.highest_bid, bid.at.loss_chance, forecast.loss_chance,
    ]  # fmt: skip


def test_what_comes_later_changes_no_advice():
    """The same lots, from a log that ends in the middle and from the whole one."""
    tables, day = made_trade(1), "2024-02-01"
    early = replay(standing(before(tables, day)), GIVEN)
    told = {one.lot.lot_id: one.forecast for one in replayed(1).lots}
    assert sum(one.forecast is not None for one in early.lots) > 10
    assert len(early.lots) < len(told)
    for one in early.lots:
        assert numbers(one.forecast) == pytest.approx(numbers(told[one.lot.lot_id]))


def test_intervals_hold_in_four_of_five():
    """Three trades of about thirty results each; of 42 larger ones 81 % of 1,686 results lay inside."""
    results = [one for seed in range(3) for one in scored(replayed(seed))]
    held = sum(one.is_within for one in results)
    assert len(results) > 85
    assert stats.binom.ppf(0.001, len(results), 0.8) <= held <= stats.binom.ppf(0.999, len(results), 0.8)
    off = [(one.value - one.forecast.value.estimate) / one.forecast.sd for one in results]
    assert abs(sum(off) / len(off)) < 0.3


def test_intervals_hold_where_returns_are_dear_and_differ_from_lot_to_lot():
    """Two trades; of twelve larger runs 80 % of 355 results lay inside, and 75 % with one share for all lots."""
    costs = Settings(**{**COSTS, "return_share": None, "warranty_days": 60, "return_cost": 20.0})
    found = [replay(standing(made_trade(seed, returned=0.08), settings=costs), costs) for seed in (100, 101)]
    results = [one for each in found for one in scored(each)]
    held = sum(one.is_within for one in results)
    assert len(results) > 50
    assert stats.binom.ppf(0.001, len(results), 0.8) <= held <= stats.binom.ppf(0.999, len(results), 0.8)
    assert any(one.apart.returns < -20 for one in results)


def test_the_result_is_what_was_sold_less_what_it_took():
    """A lot whose units are all settled, added up from the tables by hand."""
    tables = made_trade(2)
    lot = scored(replayed(2))[3]
    jobs = tables["job"][tables["job"]["lot_id"] == lot.lot.lot_id]
    sales = tables["sale"][tables["sale"]["unit_id"].isin(jobs["unit_id"])]
    scrapped = (jobs["outcome"] == "scrapped").sum()
    came = 0.9 * sales["price"].sum() - 3 * len(sales) + 2 * scrapped
    came -= 20 * jobs["bench_minutes"].sum() / 60 + jobs["parts_cost"].sum() + jobs["consumables_cost"].sum()
    assert lot.waiting == 0
    assert lot.value == pytest.approx(came)
    bought = tables["lot"][tables["lot"]["lot_id"] == lot.lot.lot_id]
    assert lot.lot.paid == pytest.approx(bought[["lot_price", "buyer_premium", "freight", "tax"]].sum().sum())
    assert lot.forecast.value.estimate + lot.apart.total == pytest.approx(lot.value)


def test_a_lot_is_not_held_against_its_forecast_while_much_of_it_is_out():
    tables = made_trade(3, lots=20)
    last = tables["lot"]["bought_on"].max()
    cut = before(tables, (pd.Timestamp(last) + pd.Timedelta(days=10)).date().isoformat())
    found = replay(standing(cut), GIVEN)
    out = found.lots[-1]
    assert (out.because, out.value, out.apart) == (Because.STILL_OUT, None, None)
    assert out.forecast is not None
    assert out.waiting > 3
    answer = answered(found, replace(GIVEN, bench_hours_free=10.0))
    assert answer.backlog.units >= 1
    assert 0 < answer.backlog.hours.low < answer.backlog.hours.estimate < answer.backlog.hours.high
    assert answer.backlog.weeks.estimate == pytest.approx(answer.backlog.hours.estimate / 10)
    assert "waiting for the bench" in past_lots_text(answer)


def test_the_first_lots_have_no_forecast_and_say_why():
    found = replayed(0)
    first = found.lots[0]
    assert (first.because, first.forecast) == (Because.NO_PAST_LOTS, None)
    assert first.value is not None


def test_prices_that_fall_are_found_as_the_reason_and_as_a_curse():
    found = replay(standing(made_trade(2, fall=0.45)), GIVEN)
    answer = answered(found)
    reasons = [one.reason for one in answer.lots if one.lot_id in answer.disappointing]
    assert reasons.count("prices") > len(reasons) / 2
    assert "lower prices" in answer.sentence
    assert curse_of(found).share.estimate < curse_of(replayed(2)).share.estimate
    assert "take that off" not in answered(replayed(2)).sentence


def test_a_curse_that_is_shown_lowers_the_bid_and_another_does_not():
    fees = Fees(buyer_premium_share=0.1, tax_share=0.0, inbound_freight=20.0)
    shown = Curse(20, 8, -0.12, Estimate(-0.1, -0.15, -0.05))
    left = bid_less_curse(300.0, fees, shown)
    assert fees.price(left) == pytest.approx(0.9 * fees.price(300.0))
    assert bid_less_curse(1.0, fees, shown) == 0.0
    # a tenth off what a lot is expected to be worth, a margin on the outlay kept
    worth, cost, margin = 800.0, 120.0, 0.25
    bids = [fees.bid((part * worth - margin * cost) / (1 + margin)) for part in (1.0, 0.9)]
    assert bid_less_curse(bids[0], fees, shown, kept=margin * cost / (1 + margin)) == pytest.approx(bids[1])
    assert bid_less_curse(300.0, fees, replace(shown, share=Estimate(-0.1, -0.2, 0.01))) is None


def test_a_worse_seller_is_named():
    answer = answered(replay(standing(made_trade(5, seller_logit=-2.5)), GIVEN))
    assert (answer.sellers[0].name, answer.sellers[0].against) == ("Cedar", "worse")
    assert "Cedar: worse than others" in past_lots_text(answer)


def test_bids_kept_to_and_bids_above_add_up():
    answer = answered(replayed(1))
    assert answer.within_advice.lots + answer.over_advice.lots == answer.all_scored.lots
    for name in ("paid", "forecast", "value", "profit"):
        parts = getattr(answer.within_advice, name) + getattr(answer.over_advice, name)
        assert parts == pytest.approx(getattr(answer.all_scored, name))
    assert answer.held.k == sum(bool(one.is_within) for one in answer.lots)


def test_what_nobody_gave_is_asked_for_and_nothing_is_assumed():
    answer = answered(replay(standing(made_trade(0)), Settings(labour_per_hour=20.0)), Settings(labour_per_hour=20.0))
    assert answer.because is Because.NOT_GIVEN
    assert {"other_fault_share", "selling_fee_share", "freight_out"} <= {one.name for one in answer.asked_for}
    assert answer.sentence.startswith("Before past lots can be held against a forecast, give: ")
    assert all(one.value_forecast is None for one in answer.lots)
    assert answer.sellers
    assert "To be given:" in past_lots_text(answer)


def test_logs_without_lots_or_with_broken_ones_are_refused_in_words():
    tables = made_trade(0, lots=6)
    nothing = answered(replay(standing({name: frame.head(0) for name, frame in tables.items()}), GIVEN))
    assert (nothing.because, nothing.lots) == (Because.NO_PAST_LOTS, [])
    assert nothing.sentence.startswith("No past lot is on record")
    broken = {**tables, "lot": tables["lot"].assign(bought_on=None)}
    assert answered(replay(standing(broken), GIVEN)).left_out == {"not_listed": 0, "no_day": 6, "no_count": 0}
    broken = {**tables, "lot": tables["lot"].assign(units_bought=None)}
    assert answered(replay(standing(broken), GIVEN)).left_out["no_count"] == 6
    broken = {**tables, "lot": tables["lot"].head(0)}
    assert answered(replay(standing(broken), GIVEN)).left_out["not_listed"] == 6
    unpriced = {**(few := made_trade(1, lots=20)), "lot": few["lot"].assign(lot_price=None)}
    answer = answered(replay(standing(unpriced), GIVEN))
    assert answer.held.n > 10
    assert answer.all_scored == Sum(0, 0, 0, 0)
    assert all(one.paid is None and one.profit is None for one in answer.lots)
    for one in (nothing, answer):
        assert not COMPUTER_WORD.search(past_lots_text(one))
        json.dumps(one.to_dict(), allow_nan=False)


def test_one_price_on_each_line_of_a_lot_counts_once():
    columns = {
        "lot_id": "X", "is_listed": True, "seller": "Alder", "stated_condition": ["untested", "tested"],
        "bought_on": pd.Timestamp("2025-01-01"), "bought_count": [10, 5], "not_seen_count": 0, "lot_price": 100.0,
        "buyer_premium": 10.0, "freight": None, "tax": 0.0, "family": ["Nolm", "Velm"], "is_price_repeated": True,
    }  # fmt: skip
    ((lot,), _) = bought_lots(pd.DataFrame(columns))
    assert (lot.bid, lot.paid, lot.fees, lot.mix) == (100.0, 110.0, None, {"Nolm": 10, "Velm": 5})
    ((lot,), _) = bought_lots(pd.DataFrame(columns | {"is_price_repeated": False, "freight": [7.0, 5.0]}))
    assert (lot.bid, lot.paid, lot.fees) == (200.0, 232.0, Fees(0.1, 0.0, 12.0))
    ((lot,), _) = bought_lots(pd.DataFrame(columns | {"is_price_repeated": False, "lot_price": [100.0, None]}))
    assert (lot.bid, lot.paid) == (None, None)


#: Parts that the page describes in one row, with their record.
PARTS = {"curse": Curse, "backlog": Backlog, "sellers": Seller, "apart": Differences, "all_scored": Sum}


def test_the_json_holds_the_keys_of_the_page_and_no_others():
    plain = json.loads(json.dumps(answered(replayed(1)).to_dict(), allow_nan=False))
    page = rows("`past-lots`")
    assert set().union(*(names for names, _ in page)) == set(plain) | {one.name for one in fields(PastLot)}
    for part, record in PARTS.items():
        inner = next(words for names, words in page if part in names)
        assert {one.name for one in fields(record)} <= inner, part


def test_text_csv_and_sheets_say_every_lot_once():
    answer = answered(replayed(1))
    said = past_lots_text(answer)
    assert not COMPUTER_WORD.search(said)
    table = list(csv.DictReader(io.StringIO(past_lots_csv(answer))))
    assert [row["lot_id"] for row in table] == [one.lot_id for one in answer.lots]
    assert all(one.lot_id in said for one in answer.lots)
    assert past_lots_table(answer)["apart_prices"].notna().sum() == answer.held.n
    assert list(past_lots_sheets(answer)) == ["lots", "sellers", "asked"]
    hostile = replace(answer, lots=[replace(answer.lots[0], lot_id="=1+1")])
    assert past_lots_csv(hostile).splitlines()[1].startswith("'=1+1")


def test_it_is_asked_like_any_question():
    connection = standing(made_trade(1))
    found = ask("past-lots", connection, settings=GIVEN)
    assert found.sentence == answered(replayed(1)).sentence
    assert [one.lot_id for one in found.lots] == [one.lot_id for one in answered(replayed(1)).lots]
    with pytest.raises(SettingError):
        ask("past-lots", connection, settings=GIVEN, case={"mix": "Nolm:3"})
