"""The heavier estimates as flat tables hold what the record holds, one row a group (or more where the part is a list)."""

from dataclasses import replace

import pandas as pd
import pytest

from pipelines.answers import detail_table
from pipelines.answers.detail import PooledShare
from pipelines.vocabulary import Because
from tests.charts.answers import answer, cleaning_group, life_group
from tests.charts.details import (
    REFUSED,
    by_controller,
    by_site,
    interval_curve,
    mean_cumulative,
    mechanism,
    pooled_life,
    pooled_share,
    standardised,
    surviving_at,
    with_mechanisms,
    with_pooled,
)


def test_mechanisms_have_a_row_each_with_the_share_by_the_last_age_drawn():
    group = with_mechanisms(life_group("A"), mechanism("impact", failures=9, last=0.4), mechanism("not_recorded", failures=3))
    table = detail_table.mechanisms(answer([group, life_group("B")]))
    assert list(table["family"]) == ["A", "A"]
    assert list(table["failed_by"]) == ["impact", "not_recorded"]
    assert table.loc[0, ["failure_count", "drawn_to", "failed_share"]].tolist() == [9, 300.0, 0.30000000000000004]


def test_pooled_lives_stand_beside_the_groups_own():
    table = detail_table.pooled_lives(answer([with_pooled(life_group("A"), pooled_life(300, rank=2, low=1, high=3))]))
    assert table.loc[0, ["rank", "rank_low", "rank_high", "pooled_median", "median", "median_low"]].tolist() == [
        2, 1, 3, 300.0, 480.0, 320.0,
    ]  # fmt: skip


def test_a_refused_part_keeps_its_row_and_says_why():
    place = pooled_share(0.4, rank=1, low=1, high=1).place
    refused = PooledShare(Because.TOO_FEW_FAILURES, REFUSED, REFUSED, place)
    table = detail_table.pooled_shares(answer([with_pooled(cleaning_group({"family": "A"}, k=1, n=4), refused)]))
    assert table.loc[0, "because"] == "too_few_failures"
    assert pd.isna(table.loc[0, "pooled_same_day_share"])


def test_controllers_name_a_share_for_cleans_and_ages_for_lives():
    lives = detail_table.controllers(answer([replace(life_group("A"), by_controller=by_controller(480.0))]))
    assert lives.loc[0, ["controller_count", "design_effect", "median"]].tolist() == [30, 1.5, 480.0]
    assert "same_day_share" not in lives
    one = replace(by_controller(480.0), b10=None, median=None, share=REFUSED)
    cleans = detail_table.controllers(answer([replace(cleaning_group({"family": "A"}, k=3, n=9), by_controller=one)]))
    assert "same_day_share" in cleans
    assert "median" not in cleans


def test_sites_stand_with_the_limits_of_the_curve_and_of_the_law():
    part = by_site(480.0)
    row = detail_table.sites(answer([replace(life_group("A"), by_site=part), life_group("B")])).iloc[0]
    assert row[["site_count", "median", "weibull_median_low", "width_ratio"]].tolist() == [6, 480.0, 320.0, 1.4]
    assert "weibull_shape" in detail_table.controllers(
        answer([replace(life_group("A"), by_controller=replace(by_controller(480.0), weibull=part.weibull))])
    )


def test_survivors_have_a_row_a_group_by_the_curve_and_by_both_laws():
    groups = [replace(life_group("A"), surviving_at=surviving_at(0.8)), life_group("B")]
    row = detail_table.survivors(answer(groups)).iloc[0]
    names = ["at", "at_risk", "surviving_share", "surviving_share_low", "weibull_share", "lognormal_share_high"]
    assert row[names].tolist() == pytest.approx([200.0, 36, 0.8, 0.7, 0.75, 0.9])


def test_the_other_tables_have_a_row_a_group():
    groups = [replace(life_group("A"), mean_cumulative=mean_cumulative(), interval_curve=interval_curve())]
    assert detail_table.mean_counts(answer(groups)).loc[0, ["mean_count", "trend"]].tolist() == [1.2, "getting_more_frequent"]
    assert list(detail_table.intervals(answer(groups))["surviving_share"]) == [0.8, 0.5]
    cleaned = [replace(cleaning_group({"family": "A"}, k=6, n=10), standardised=standardised(0.5))]
    assert detail_table.standardised(answer(cleaned)).loc[0, ["tried_count", "standardised_share"]].tolist() == [10, 0.5]


def test_an_answer_without_a_part_gives_an_empty_table():
    plain = answer([life_group("A")])
    lives = ("mechanisms", "pooled_lives", "assumed_lives", "laws", "dating", "intervals", "mean_counts")
    for name in (*lives, "controllers", "sites", "survivors"):
        assert not len(getattr(detail_table, name)(plain))
    assert not len(detail_table.mechanism_tests(plain))
