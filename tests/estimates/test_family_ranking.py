"""The ranking of families: closed forms with very many units, small families, and refusals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.family_ranking import family_ranking, family_yields
from pipelines.estimates.lot_fate import FATES, lot_fates
from pipelines.estimates.lot_inputs import Amount
from pipelines.vocabulary import Because
from tests.estimates.lots import made_fates, plain_inputs

SPLITS = {"A": (0.6, 0.2, 0.1, 0.1), "B": (0.3, 0.3, 0.2, 0.2), "C": (0.1, 0.2, 0.2, 0.5)}


def past(splits: dict, *, lots: int = 12, units: int = 200) -> pd.DataFrame:
    rows = [
        ("c", family, f"s{lot}", f"{family}{lot}", fate, round(part * units))
        for family, split in splits.items() for lot in range(lots) for fate, part in zip(FATES, split, strict=True)
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=["condition", "family", "seller", "lot", "fate", "units"])


def ranked(rows: pd.DataFrame, prices: dict, **changed):
    return family_ranking(lot_fates(rows), prices, plain_inputs(**changed), condition="c", seed=1)


def test_profits_shares_and_hours_are_those_of_the_splits():
    found = ranked(past(SPLITS), dict.fromkeys(SPLITS, 5.0))
    assert [one.family for one in found.families] == ["A", "B", "C"]
    assert found.best == "A"
    for one in found.families:
        split = np.array(SPLITS[one.family])
        profit = split @ [17.5, 17.5, 13.5, -4.5] - 5
        assert one.profit_per_unit.estimate == pytest.approx(profit, abs=0.6)
        assert one.profit_per_unit.low < profit < one.profit_per_unit.high
        assert one.good_share.estimate == pytest.approx(1 - split[3], abs=0.03)
        assert one.cleaned_share.estimate == pytest.approx(split[1], abs=0.03)
        assert one.bench_h_per_unit.estimate == pytest.approx(0.5)
        assert (one.rank.low, one.rank.rank, one.rank.high) == (("A", "B", "C").index(one.family) + 1,) * 3
    first = found.families[0]
    assert first.bench_h_per_profit.estimate == pytest.approx(0.5 / first.profit_per_unit.estimate)
    assert first.bench_h_per_profit.low == pytest.approx(0.5 / first.profit_per_unit.high, rel=0.01)


def test_a_family_of_three_perfect_units_does_not_top_the_list():
    few = pd.DataFrame({"condition": "c", "family": "tiny", "seller": "s", "lot": "t", "fate": FATES[0], "units": [3]})
    found = ranked(pd.concat([past(SPLITS), few]), dict.fromkeys([*SPLITS, "tiny", "unseen"], 5.0))
    assert [one.family for one in found.families][:3] == ["A", "B", "C"]
    tiny = next(one for one in found.families if one.family == "tiny")
    assert tiny.is_thin
    assert tiny.units == 3
    assert tiny.rank.high - tiny.rank.low >= 2
    assert found.best != "tiny"


def test_a_higher_price_is_that_much_less_profit_and_the_rank_follows():
    cheap, dear = ranked(past(SPLITS), {"A": 5.0, "B": 5.0}), ranked(past(SPLITS), {"A": 15.0, "B": 5.0})
    profit = [next(one for one in found.families if one.family == "A").profit_per_unit.estimate for found in (cheap, dear)]
    assert profit[0] - profit[1] == pytest.approx(10.0)
    assert dear.families[0].family == "B"


def test_where_nothing_is_earned_there_are_no_hours_for_a_unit_of_profit():
    found = ranked(past(SPLITS), {"C": 50.0, "A": 5.0})
    assert found.families[1].bench_h_per_profit.because is Because.NO_PROFIT
    free = ranked(past(SPLITS), {"A": 5.0}, bench_h=Amount(0.0))
    assert free.families[0].bench_h_per_profit.estimate == 0
    doubtful = ranked(past({"B": SPLITS["B"]}, lots=2, units=10), {"B": 10.0})
    assert doubtful.families[0].bench_h_per_profit.because is Because.LIMIT_NOT_REACHED


def test_the_chance_to_earn_is_that_of_a_profit_over_0():
    sure = ranked(past(SPLITS), {"A": 5.0, "C": 50.0})
    assert [one.earn_chance for one in sure.families] == [1.0, 0.0]
    doubtful = ranked(past({"B": SPLITS["B"]}, lots=3, units=20), {"B": 10.0}).families[0]
    assert 0 < doubtful.earn_chance < 1
    assert doubtful.profit_per_unit.low < 0 < doubtful.profit_per_unit.high


def test_yields_without_prices_are_those_of_the_ranking():
    fates, names = lot_fates(past(SPLITS)), list(SPLITS)
    told = {one.family: one for one in family_yields(fates, names, condition="c", seed=1)}
    for one in ranked(past(SPLITS), dict.fromkeys(names, 5.0)).families:
        same = told[one.family]
        assert (same.good_share, same.cleaned_share) == (one.good_share, one.cleaned_share)
        assert (same.units, same.lots, same.is_thin) == (2400, 12, False)
    assert family_yields(fates, [], condition="c", seed=1) == []
    assert family_yields(fates, ["unseen"], condition="c", seed=1)[0].is_thin


def test_the_order_of_the_prices_does_not_matter_to_the_numbers():
    rows = made_fates(np.random.default_rng(2), lots=40)
    numbers = []
    for names in ([0, 1, 2, 3], [3, 1, 0, 2]):
        found = family_ranking(lot_fates(rows), dict.fromkeys(names, 6.0), plain_inputs(), condition=0, seed=1, count=20_000)
        numbers.append({one.family: one.profit_per_unit.estimate for one in found.families})
    assert numbers[0] == pytest.approx(numbers[1], abs=0.1)


def test_no_prices_no_past_and_impossible_prices():
    assert ranked(past(SPLITS), {}).families == []
    with pytest.raises(InputError, match="going price"):
        ranked(past(SPLITS), {"A": -1.0})
    with pytest.raises(InputError, match="Nothing is known"):
        ranked(past(SPLITS).head(0), {"A": 1.0})
