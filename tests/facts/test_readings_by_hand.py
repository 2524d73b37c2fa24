"""The readings of histories for the heavier estimates, on histories worked out by hand."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import duckdb
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.facts.build import build
from pipelines.facts.read import GROUPINGS, MODULE_GROUPINGS, Attempts, Failures
from pipelines.facts.spells import Gaps, Recurrent, Spells
from pipelines.settings import Settings
from tests.facts.warehouse_in_memory import filled
from tests.facts.worked_cases import worked_cases
from tests.facts.worked_text import Worked, day, worked

ALL = {"by": [], "where": {}}
GAP = ["place", "kind", "is_age_known", "entry", "lower", "upper", "ended_by", "depth_before", "depth_after"]
DESIGN = {case.name[0]: case for case in worked_cases()[:3]}


def history(name: str, **tables: str) -> Worked:
    return worked(name, expected={}, **tables)


def built(case: Worked) -> duckdb.DuckDBPyConnection:
    connection = filled(case.tables)
    build(connection, case.settings)
    return connection


def told(frame: pd.DataFrame, columns: list[str]) -> list[tuple]:
    """Return the rows as plain values, None for what is not known, in an order that depends on them alone."""
    plain = frame[columns].astype(object).where(frame[columns].notna(), None)
    return sorted(plain.itertuples(index=False, name=None), key=repr)


def spells(connection: duckdb.DuckDBPyConnection, kind: str, *, is_hours: bool = False, **asked: object) -> Spells:
    return Spells(connection, kind=kind, is_hours=is_hours, **{**ALL, **asked})


MECHANISMS = history(
    "mechanisms at the start and at the end of a spell",
    unit="unit sticks in_service condition\nA1 S d0 new\nA2 S d0 new\nA3 S d0 new",
    job="""
    unit stick received reason finding action outcome mechanism
    A1   S     d50      check  bad     air    pass    contamination
    A1   S     d90      check  bad     air    fail    track_wear
    A2   S     d50      check  bad     air    pass    unknown""",
)


def test_failures_carry_the_mechanism_that_ended_the_spell():
    connection = built(MECHANISMS)
    first = spells(connection, "first_life").counts_by_mechanism(grid=0)
    assert told(first, ["entry", "at", "is_failure", "failed_by", "spell_count"]) == [
        (0.0, 25.0, True, "contamination", 1),
        (0.0, 25.0, True, "not_recorded", 1),
        (0.0, 400.0, False, None, 1),
    ]
    again = spells(connection, "after_clean", by=["mechanism"]).counts_by_mechanism(grid=0)
    assert told(again, ["mechanism", "at", "failed_by"]) == [("contamination", 20.0, "track_wear"), (None, 350.0, None)]
    gaps = Gaps(connection, is_hours=False, **ALL).rows()
    assert Counter(gaps["failed_by"].fillna("well")) == {"contamination": 1, "not_recorded": 1, "track_wear": 1, "well": 2}
    assert (gaps["failed_by"].notna() == (gaps["ended_by"] == "failure")).all()


TWO_STICKS = history(
    "a controller with two sticks, one cleaned twice and one never bad, and a unit at another site",
    unit="unit sticks in_service condition site_id\nA1 L+R d0 new North\nA2 S d0 new South\nA3 S d0 used -",
    job="""
    unit stick received back reason     finding  action       outcome hours
    A1   L     d100     d105 check      bad      air          pass    1000
    A1   L     d150     -    preventive untested flush        pass    1500
    A1   R     d200     -    check      nff      test         pass    2000
    A1   L     d250     -    check      bad      swap         pass    2500
    A3   S     d50      -    check      nff      test         pass    3000
    A3   S     d300     -    check      bad      cal          pass    5500""",
)


def test_two_sticks_of_a_controller_are_one_cluster_and_all_units_of_a_site_are_one():
    connection = built(TWO_STICKS)
    counted = spells(connection, "first_life").counts_by_cluster(grid=0)
    assert counted["spell_count"].sum() == 5
    assert sorted(counted.groupby("cluster")["spell_count"].sum()) == [1, 1, 3]
    by_site = spells(connection, "first_life").counts_by_cluster(grid=0, cluster="site")
    assert by_site.groupby("cluster", dropna=False)["spell_count"].sum().to_dict() == {1: 3, 2: 1, pd.NA: 1}
    with pytest.raises(InputError, match="clusters by family"):
        spells(connection, "first_life").counts_by_cluster(grid=0, cluster="family")


def test_use_is_the_hours_a_day_between_the_readings_of_a_controller():
    connection = built(TWO_STICKS)
    counted = spells(connection, "first_life").counts_by_usage(grid=0)
    # A1 and A3 play 10 h a day; of A2, registered as new, no reading but 0 is known
    assert counted.loc[counted["hours_per_day"].isna(), "spell_count"].sum() == 1
    assert set(counted["hours_per_day"].dropna().round(9)) == {round(math.exp(2.3), 9)}
    with pytest.raises(InputError, match="days"):
        spells(connection, "first_life", is_hours=True).counts_by_usage(grid=0)


def test_several_factors_are_counted_at_once():
    counted = spells(built(TWO_STICKS), "first_life", by=["site", "stick"]).counts_by_cluster(grid=0)
    assert list(counted.columns[: len(GROUPINGS)]) == list(GROUPINGS)
    assert told(counted, ["site", "stick", "at", "is_failure"]) == [
        ("North", "L", 150.0, False),
        ("North", "L", 50.0, True),
        ("North", "R", 400.0, False),
        ("South", "S", 400.0, False),
        (None, "S", 125.0, True),
    ]


def test_rounded_times_keep_the_spells_and_their_length():
    connection = built(TWO_STICKS)
    for read in ("counts", "counts_by_mechanism", "counts_by_cluster", "counts_by_usage"):
        counted = getattr(spells(connection, "first_life"), read)(grid=60)
        assert counted["spell_count"].sum() == 5
        assert set(counted["at"]) <= {60.0, 120.0, 180.0, 420.0}
        assert (counted["at"] > counted["entry"]).all()


@pytest.mark.parametrize(
    ("name", "is_hours", "rows"),
    [
        ("A", False, [
            (1, "first_life", True, 0, 16, 30, "failure", None, "open"),
            (1, "first_life", True, 0, 38, math.inf, "censored", None, None),
            (2, "after_clean", True, 40, 48, 62, "failure", "open", None),
        ]),
        ("A", True, [
            (1, "first_life", True, 0, 160, 300, "failure", None, "open"),
            (1, "first_life", True, 0, 280, math.inf, "censored", None, None),
            (2, "after_clean", True, 300, 380, 520, "failure", "open", None),
        ]),
        ("B", False, [
            (1, "first_life", True, 0, 60, math.inf, "planned_clean", None, None),  # (nobody had tested the stick)
            (2, "after_preventive", True, 60, 60, 90, "failure", None, "flush"),
            (3, "after_clean", True, 90, 120, math.inf, "censored", "flush", None),
        ]),
        ("B", True, [
            (1, "first_life", True, 0, 600, math.inf, "planned_clean", None, None),  # (nobody had tested the stick)
            (2, "after_preventive", True, 600, 600, 900, "failure", None, "flush"),
            (3, "after_clean", True, 900, 1150, math.inf, "censored", "flush", None),
        ]),
        ("C", False, [(1, "after_clean", False, 0, 19, 19, "failure", "open", None)]),
        ("C", True, []),
    ],
)  # fmt: skip
def test_gaps_are_ages_of_the_module(name, is_hours, rows):
    assert told(Gaps(built(DESIGN[name]), is_hours=is_hours, **ALL).rows(), GAP) == rows


def test_the_ages_of_a_module_go_on_over_the_bench():
    gaps = Gaps(built(TWO_STICKS), is_hours=True, by=["stick"], where={"site": ["North"]}).rows()
    assert gaps["cluster"].nunique() == 1
    assert told(gaps[gaps.groupby("module")["place"].transform("max") == 3], GAP) == [
        (1, "first_life", True, 0, 0, 1000, "failure", None, "air"),
        # back on d105 at the hours of the bench
        (2, "after_clean", True, 1000, 1500, math.inf, "planned_clean", "air", None),
        (3, "after_preventive", True, 1500, 1500, 2500, "failure", None, None),
    ]


def test_a_spell_that_began_before_the_log_is_entered_late():
    settings = Settings(quiet_lag_days=0, log_end=day("d400"), log_start=day("d60"))
    gaps = Gaps(built(replace(TWO_STICKS, settings=settings)), is_hours=False, by=[], where={"site": ["South"]}).rows()
    assert told(gaps, ["is_age_known", "opened", "entry", "lower"]) == [(True, 0, 60, 400)]
    settings = replace(settings, log_start=day("d120"))
    left = Gaps(built(replace(TWO_STICKS, settings=settings)), is_hours=False, by=[], where={"stick": ["L"]}).rows()
    assert told(left, ["place", "is_age_known", "opened", "entry", "lower"])[:2] == [
        (1, True, 0, 0, 150),
        (1, True, 105, 120, 150),
    ]


def test_a_clean_after_the_end_of_the_watch_did_not_end_the_gap():
    case = history(
        "cleaned after the warranty",
        job="""
        unit stick received reason finding  action     outcome warranty
        A1   S     d10      report bad      open_clean pass    30
        A1   S     d90      check  untested air        pass    30""",
    )
    assert told(Gaps(built(case), is_hours=False, **ALL).rows(), ["entry", "lower", "ended_by", "depth_after"]) == [
        (0, 30, "censored", None),
        (80, 110, "censored", None),
    ]


@pytest.mark.parametrize(
    ("name", "is_hours", "units", "failures"),
    [
        ("A", False, [(0, 30), (40, 100)], [(23, "clean"), (55, "replacement")]),
        ("A", True, [(0, 800)], [(230, "clean"), (450, "replacement")]),
        ("B", False, [(0, 120)], [(75, "clean")]),
        ("B", True, [(0, 1150)], [(750, "clean")]),
        ("C", False, [(0, 19)], [(19, None)]),
        ("C", True, [], []),
    ],
)
def test_failures_of_a_controller_by_age(name, is_hours, units, failures):
    read = Recurrent(built(DESIGN[name]), is_hours=is_hours, **ALL)
    assert told(read.units(), ["entry", "exit"]) == units
    assert told(read.failures(), ["at", "ended_by"]) == failures
    assert told(read.ages(), ["at"]) == [(at,) for at, _ in failures]
    assert set(read.units()["is_age_known"]) <= {name != "C"}


def test_a_controller_is_watched_while_one_of_its_sticks_is():
    connection = built(TWO_STICKS)
    whole = Recurrent(connection, is_hours=False, by=["site"], where={})
    assert told(whole.units(), ["site", "is_age_known", "entry", "exit"]) == [
        ("North", True, 0, 400),
        ("South", True, 0, 400),
        (None, False, 0, 350),
    ]
    assert told(whole.failures(), ["site", "at", "ended_by"]) == [
        ("North", 200.0, "replacement"),
        ("North", 50.0, "clean"),
        (None, 125.0, "other_repair"),
    ]
    by_stick = Recurrent(connection, is_hours=False, by=["stick"], where={"site": ["North"]}, is_by_stick=True)
    assert told(by_stick.units(), ["stick", "entry", "exit"]) == [("L", 0, 100), ("L", 105, 400), ("R", 0, 400)]
    assert set(by_stick.failures()["unit"]) < set(by_stick.units()["unit"])


@pytest.mark.parametrize(
    ("jobs", "watched"),
    [
        ("A1 L d100 report bad swap fail", [(0, 400, False)]),  # (the right stick goes on)
        ("A1 L d100 report bad test fail\nA1 R d100 report bad test fail", [(0, 100, True)]),
        ("A1 L d100 report bad test fail\nA1 R d120 report bad test fail", [(0, 120, True)]),
        ("A1 L d100 report bad swap pass\nA1 R d120 report bad swap pass", [(0, 400, False)]),
        ("A1 L d100 report bad test fail\nA1 R d120 check nff test pass", [(0, 400, False)]),
    ],
)
def test_a_watch_that_its_last_failure_ended_says_so(jobs, watched):
    case = history(
        "a pair",
        unit="unit sticks in_service condition\nA1 L+R d0 new",
        job=f"unit stick received reason finding action outcome\n{jobs}",
    )
    units = Recurrent(built(case), is_hours=False, **ALL).units()
    assert told(units, ["entry", "exit", "is_ended_by_failure"]) == watched


@pytest.mark.parametrize("asked", [{"by": ["depth"], "where": {}}, {"by": [], "where": {"attempt_number": ["2"]}}])
def test_a_whole_history_is_not_cut_by_what_was_done_to_it(asked):
    for read in (Gaps, Recurrent):
        with pytest.raises(InputError, match="Whole histories have no"):
            read(built(DESIGN["A"]), is_hours=False, **asked)


def test_the_meter_of_a_used_controller_is_its_age():
    units = Recurrent(built(TWO_STICKS), is_hours=True, by=["stick"], where={"stick": ["S"]}).units()
    assert told(units, ["is_age_known", "entry", "exit"]) == [(True, 3000, 5500)]


def test_shelf_and_the_time_after_a_warranty_are_not_watched():
    case = next(case for case in worked_cases() if "sold again from that sale" in case.name)
    read = Recurrent(built(case), is_hours=False, **ALL)
    assert told(read.units(), ["entry", "exit"]) == [(0, 35), (0, 35), (40, 90), (50, 140)]


READ = history(
    "as-found readings, some of them lacking",
    job="""
    unit stick received reason finding action     outcome mechanism     af_rest_offset_pct af_jitter_pct af_reach_pct
    A1   S     d10      intake bad     air        pass    contamination 5                  -             -
    A2   S     d10      report bad     air+flush  pass    contamination 2                  9             -
    A3   S     d10      report bad     swap       pass    track_wear    -                  -             80
    A4   S     d10      report bad     air        pass    track_wear    -                  -             -
    A5   S     d10      report bad     test       fail    -             -                  -             -
    A5   S     d20      report bad     air        pass    -             50                 -             -
    A6   S     d10      report bad     air        open    -             1                  -             -""",
)


def test_each_episode_has_a_severity_and_the_result_of_its_first_clean():
    counted = Failures(built(READ), by=["mechanism"], where={}).counts()
    assert told(counted, ["mechanism", "band", "is_tried", "is_passed", "failure_count"]) == [
        ("contamination", "severity_1", True, True, 1),
        # the first of two cleans failed
        ("contamination", "severity_2", True, False, 1),
        ("track_wear", "severity_3", False, False, 1),
        ("track_wear", "track_wear", True, True, 1),
        # (A5 was cleaned at its second visit; the clean of A6 has no result)
        (None, "not_recorded", False, False, 1),
    ]
    assert Failures(built(READ), by=[], where={"mechanism": ["track_wear"]}).counts()["failure_count"].sum() == 2


def test_cells_for_pooling_are_in_the_counts_of_attempts():
    attempts = Attempts(built(READ), by=["depth", "family"], where={}).counts(is_hours=False, grid=0)
    cells = attempts.assign(k=attempts["attempt_count"] * attempts["is_passed"]).groupby("depth")[["k", "attempt_count"]].sum()
    assert cells.to_dict("index") == {"air": {"k": 3, "attempt_count": 4}, "flush": {"k": 1, "attempt_count": 1}}


def test_controllers_are_counted_by_their_attempts():
    case = history(
        "two controllers of two sticks, one that nobody told the stick of, and one tried once",
        job="""
        unit stick received reason finding action    outcome
        A1   L     d10      report bad     air+flush pass
        A1   R     d90      report bad     air       pass
        A2   L     d10      report bad     air       fail
        A2   L     d20      report bad     flush     pass
        A2   R     d30      report bad     flush     pass
        A3   U     d10      report bad     air       fail
        A3   S     d50      report bad     air       pass
        A4   S     d50      report bad     air       pass""",
    )
    read = Attempts(built(case), by=[], where={})
    assert told(read.counts_by_controller(), ["attempt_count", "passed_count", "controller_count"]) == [
        (1, 1, 1), (2, 1, 1), (3, 2, 2)
    ]  # fmt: skip
    counted = Attempts(built(case), by=["depth"], where={}).counts_by_controller()
    assert told(counted, ["depth", "attempt_count", "passed_count", "controller_count"]) == [
        ("air", 1, 0, 1), ("air", 1, 1, 1), ("air", 2, 1, 2), ("flush", 1, 1, 1), ("flush", 2, 2, 1)
    ]  # fmt: skip


def test_an_empty_warehouse_gives_empty_readings():
    connection = filled({})
    build(connection, Settings())
    for read in ("counts", "counts_by_mechanism", "counts_by_cluster", "counts_by_usage"):
        assert set(GROUPINGS) < set(getattr(spells(connection, "first_life"), read)(grid=0).columns)
    for is_hours in (False, True):
        recurrent = Recurrent(connection, is_hours=is_hours, **ALL)
        for frame in (
            Gaps(connection, is_hours=is_hours, **ALL).rows(),
            recurrent.units(),
            recurrent.failures(),
            recurrent.ages(),
        ):
            assert frame.empty
            assert set(MODULE_GROUPINGS) < set(frame.columns)
    assert Failures(connection, **ALL).counts().empty
    assert Attempts(connection, **ALL).counts_by_controller().empty
