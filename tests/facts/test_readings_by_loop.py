"""The readings of histories for the heavier estimates against plain loops over the oracle's rows, on nasty logs."""

from __future__ import annotations

from collections import Counter, defaultdict
from functools import cache

import pandas as pd
import pytest

from pipelines.facts.build import build
from pipelines.facts.read import Failures
from pipelines.facts.spells import Gaps, Recurrent, Spells
from tests.facts import oracle
from tests.facts.nasty import nasty_log, nasty_settings
from tests.facts.oracle_rows import DEPTHS, rows_of
from tests.facts.oracle_spells import Watch
from tests.facts.oracle_walk import Unit
from tests.facts.warehouse_in_memory import filled

SEEDS = range(8)
ALL = {"by": [], "where": {}}
NAMED = {"by": ["family", "stick"], "where": {}}


@cache
def standing(seed: int):
    tables, settings = nasty_log(seed), nasty_settings(seed)
    connection = filled(tables)
    build(connection, settings)
    return connection, oracle.histories(tables, settings)


@cache
def units_of(seed: int) -> dict[str, Unit]:
    """Return the oracle's units, their jobs in order and their hours, unwalked."""
    tables, settings = nasty_log(seed), nasty_settings(seed)
    jobs, units, sales, readings = (rows_of(tables, name) for name in ("job", "unit", "sale", "usage_reading"))
    found = standing(seed)[1]
    watch = Watch(found.log_start.toordinal(), found.log_end.toordinal(), found.log_end.toordinal() - settings.quiet_lag_days)
    names = {row["unit_id"] for row in (*jobs, *units)}
    return {name: oracle._unit(name, jobs, units, sales, readings, settings, watch) for name in names}


def bags(frame: pd.DataFrame, key: list[str], columns: list[str]) -> Counter:
    """Return the groups of `key` as bags of rows: equal whatever the groups are called."""
    found = defaultdict(list)
    for row in frame[[*key, *columns]].itertuples(index=False, name=None):
        found[row[: len(key)]].append(tuple(_plain(value) for value in row[len(key) :]))
    return Counter(tuple(sorted(rows, key=repr)) for rows in found.values())


def _plain(value: object) -> object:
    if value is None or value is pd.NA or (isinstance(value, float) and pd.isna(value)):
        return None
    if isinstance(value, (bool, str)):
        return value
    # (0.0 is -0.0)
    return round(float(value), 5) + 0.0


def loop_spells(seed: int, clock: str) -> pd.DataFrame:
    """Return the oracle's spells that have length on a clock, with their days on the calendar."""
    found = standing(seed)[1]
    rows = found.spells
    is_long = rows[f"at_{clock}"].notna() & (rows[f"at_{clock}"].astype(float) > rows[f"entry_{clock}"].astype(float))
    rows = rows[is_long].copy()
    zero = rows["age_zero_on"].map(lambda day: day.toordinal())
    for name in ("entry", "lower", "upper", "at"):
        rows[f"{name}_day"] = zero + rows[f"{name}_days"].astype(float)
    return rows


@pytest.mark.parametrize("kind", ["first_life", "after_clean"])
@pytest.mark.parametrize(("is_hours", "clock"), [(False, "days"), (True, "h")])
@pytest.mark.parametrize("seed", SEEDS)
def test_the_sticks_and_lives_of_a_controller_are_its_cluster(seed, is_hours, clock, kind):
    spells = Spells(standing(seed)[0], kind=kind, is_hours=is_hours, **NAMED)
    counted = spells.counts_by_cluster(grid=0)
    rows = loop_spells(seed, clock)
    rows = rows[rows["kind"] == kind].rename(columns={f"entry_{clock}": "entry", f"at_{clock}": "at"})
    columns = ["stick", "entry", "at", "is_failure"]
    assert bags(_expanded(counted), ["cluster"], columns) == bags(rows, ["unit_id", "life"], columns)
    by_mechanism = spells.counts_by_mechanism(grid=0)
    assert bags(_expanded(by_mechanism), [], columns) == bags(rows, [], columns)
    assert (by_mechanism["failed_by"].notna() == by_mechanism["is_failure"]).all()


def _expanded(counted: pd.DataFrame) -> pd.DataFrame:
    return counted.loc[counted.index.repeat(counted["spell_count"])]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_failure_is_counted_under_the_mechanism_that_its_job_found(seed):
    rows = loop_spells(seed, "days").rename(columns={"entry_days": "entry", "at_days": "at"})
    rows = rows[(rows["kind"] == "first_life") & rows["is_failure"].astype(bool)].fillna({"failed_by": "not_recorded"})
    counted = _expanded(Spells(standing(seed)[0], kind="first_life", is_hours=False, **NAMED).counts_by_mechanism(grid=0))
    columns = ["stick", "entry", "at", "failed_by"]
    assert bags(counted[counted["is_failure"]], [], columns) == bags(rows, [], columns)
    assert len(rows) > 5


@pytest.mark.parametrize("seed", SEEDS)
def test_use_is_the_slope_of_the_readings(seed):
    rows = loop_spells(seed, "days")
    rows = rows[rows["kind"] == "first_life"].copy()
    rows["slope"] = [_slope(units_of(seed)[name]) for name in rows["unit_id"]]
    counted = _expanded(Spells(standing(seed)[0], kind="first_life", is_hours=False, **NAMED).counts_by_usage(grid=0))
    assert len(counted) == len(rows)
    assert counted["hours_per_day"].isna().sum() == rows["slope"].isna().sum()
    # (the steps are monotone, so sorted values stand side by side)
    ratio = counted["hours_per_day"].dropna().sort_values().to_numpy() / rows["slope"].dropna().sort_values().to_numpy()
    assert ((ratio > 0.95) & (ratio < 1.0 / 0.95)).all()


def _slope(unit: Unit) -> float | None:
    read = unit.hours.readings
    days = max(read, default=0) - min(read, default=0)
    return (max(read.values()) - min(read.values())) / days or None if days else None


@pytest.mark.parametrize("seed", SEEDS)
def test_gaps_in_days_are_the_spells_on_the_clock_of_their_module(seed):
    connection, found = standing(seed)
    module = ["unit_id", "stick", "life", "generation"]
    lives = found.module_lives[[*module, "opened_on", "entry_days", "is_age_known_days"]]
    rows = loop_spells(seed, "days").merge(lives, on=module, how="left", suffixes=("", "_of_module"))
    begun = rows.groupby(module)["opened_on"].transform("min")
    # what is watched for a buyer after the module's life was watched to its end has no age
    unwatched = {"opened_on_of_module": begun, "entry_days_of_module": 0, "is_age_known_days_of_module": False}
    for name, known in unwatched.items():
        rows[name] = rows[name].where(rows[name].notna(), known)
    entered = rows["opened_on_of_module"].map(lambda day: max(day, found.log_start).toordinal())
    zero = entered - rows["entry_days_of_module"].astype(float)
    seen = rows.groupby(module)["entry_day"].transform("min")
    # dates that contradict each other tell no age: it counts from the first spell seen; and so it may where the spell
    # that began the module has no length, as if it were not there
    by_first = _aged(rows, seen.where(zero > seen, zero), (zero <= seen) & rows["is_age_known_days_of_module"].astype(bool))
    by_seen = _aged(rows, seen, seen != seen)
    is_begun = (begun == rows["opened_on_of_module"]) | (rows["opened_on_of_module"] <= found.log_start)
    gaps = Gaps(connection, is_hours=False, **NAMED).rows()
    columns = ["stick", "kind", "is_age_known", "entry", "lower", "upper"]
    told, sure = bags(gaps, ["module"], columns), bags(by_first[is_begun], module, columns)
    unsure = [bags(one[~is_begun], module, columns) for one in (by_first, by_seen)]
    assert sure <= told
    assert told - sure <= unsure[0] + unsure[1]
    assert (told - sure).total() == unsure[0].total() < sure.total() / 10
    assert bags(gaps, ["cluster"], ["stick", "kind"]) == bags(rows, ["unit_id", "life"], ["stick", "kind"])
    assert gaps.groupby("module")["place"].apply(lambda place: place.is_monotonic_increasing and place.is_unique).all()
    assert (gaps["entry"] >= 0).all()
    cleaned = rows.loc[rows["kind"] == "after_clean", "depth"]
    assert Counter(gaps.loc[gaps["kind"] == "after_clean", "depth_before"]) == Counter(cleaned)


def _aged(rows: pd.DataFrame, zero: pd.Series, is_known: pd.Series) -> pd.DataFrame:
    upper = (rows["upper_day"] - zero).where(rows["is_failure"].astype(bool), float("inf"))
    return rows.assign(
        entry=rows["entry_day"] - zero, lower=rows["lower_day"] - zero, upper=upper, is_age_known=is_known.astype(object)
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_a_planned_clean_has_the_depth_of_the_last_clean_before_its_spell_where_the_stick_was_tested(seed):
    depths, least, most = Counter(), Counter(), Counter()
    rows = loop_spells(seed, "days")
    cleans = {(name, stick): [job for job in unit.jobs if job.slot == stick and job.cleans]
              for name, unit in units_of(seed).items() for stick in unit.sticks}  # fmt: skip
    clean_days = {(*key, job.day) for key, jobs in cleans.items() for job in jobs}
    unfailed = rows[~rows["is_failure"].astype(bool)]
    ended = set(zip(unfailed["unit_id"], unfailed["stick"], unfailed["generation"], unfailed["upper_day"], strict=True))
    for row in rows[rows["kind"] == "after_preventive"].to_dict("records"):
        job = [job for job in cleans[row["unit_id"], row["stick"]] if job.day <= row["opened_on"].toordinal()][-1]
        of_day = [one for one in cleans[row["unit_id"], row["stick"]] if one.day == job.day]
        is_tested = not all(one.is_untested for one in of_day)
        depths[DEPTHS[job.actions[job.cleans[-1]]] if is_tested else "untested"] += 1
        least[row["stick"]] += (row["unit_id"], row["stick"], row["generation"], job.day) in ended
    for unit_id, stick, _, day in ended:
        most[stick] += (unit_id, stick, day) in clean_days
    gaps = Gaps(standing(seed)[0], is_hours=False, **NAMED).rows()
    assert Counter(gaps.loc[gaps["kind"] == "after_preventive", "depth_before"].fillna("untested")) == depths
    found = Counter(gaps.loc[gaps["ended_by"] == "planned_clean", "stick"])
    assert least <= found <= most
    assert found.total() > 5
    assert depths["untested"] > 0


@pytest.mark.parametrize("seed", SEEDS)
def test_gaps_in_hours_stand_on_the_meter(seed):
    """Ages of a module differ as the hours of its controller do, and of a module as old as the meter they are those."""
    connection, _ = standing(seed)
    rows = loop_spells(seed, "h")
    units = units_of(seed)
    at_end = []
    for row in rows.to_dict("records"):
        hours = units[row["unit_id"]].hours
        end = hours.on(row["upper_day"]) if row["is_failure"] else hours.until(row["upper_day"], after=row["entry_day"])
        at_end.append(end)
    rows["end_h"] = at_end
    key = ["unit_id", "stick", "life", "generation"]
    rows["end_since_first"] = rows["end_h"] - rows.groupby(key)["end_h"].transform("min")
    gaps = Gaps(connection, is_hours=True, **NAMED).rows()
    gaps["end"] = gaps["upper"].where(gaps["ended_by"] == "failure", gaps["lower"])
    gaps["end_since_first"] = gaps["end"] - gaps.groupby("module")["end"].transform("min")
    columns = ["stick", "kind", "end_since_first"]
    assert bags(gaps, ["module"], columns) == bags(rows, key, columns)
    assert (gaps["entry"] >= 0).all()
    is_new = [units[row["unit_id"]].register is not None and units[row["unit_id"]].register["new_or_used"] == "new"
              and row["generation"] == 1 and row["life"] == 0 for row in rows.to_dict("records")]  # fmt: skip
    on_meter = Counter(round(value, 5) for value in rows.loc[is_new, "end_h"])
    assert on_meter <= Counter(round(value, 5) for value in gaps.loc[gaps["is_age_known"], "end"])


@pytest.mark.parametrize("seed", SEEDS)
def test_a_controller_is_watched_over_the_union_of_its_spells(seed):
    read = Recurrent(standing(seed)[0], is_hours=False, **ALL)
    rows = loop_spells(seed, "days")
    expected, failures = [], []
    for key, spells in rows.groupby(["unit_id", "life"]):
        first = spells["entry_day"].min()
        new_on = _new_on(units_of(seed)[key[0]], key[1])
        zero = first if new_on is None or new_on > first else new_on
        for entry, end in _merged(spells[["entry_day", "upper_day"]].to_numpy(dtype=float)):
            expected.append((*key, entry - zero, end - zero, new_on == zero))
        for at in spells.loc[spells["is_failure"].astype(bool), "at_day"]:
            failures.append((*key, at - zero))
    watched = pd.DataFrame(expected, columns=["unit_id", "life", "entry", "exit", "is_age_known"])
    columns = ["entry", "exit", "is_age_known"]
    assert bags(read.units(), ["unit"], columns) == bags(watched, ["unit_id", "life"], columns)
    failed = pd.DataFrame(failures, columns=["unit_id", "life", "at"])
    assert bags(read.failures(), ["unit"], ["at"]) == bags(failed, ["unit_id", "life"], ["at"])


def _new_on(unit: Unit, life: int) -> int | None:
    """Return the day a controller was new: registered so, else what the jobs say of a module that is as old as it."""
    if life > 0:
        return None
    register = unit.register
    if register is not None and register["new_or_used"] == "new":
        return register["in_service_on"].toordinal()
    if register is not None and register["new_or_used"] == "refurbished":
        return None
    starts = []
    for slot in unit.sticks:
        jobs = []
        for job in unit.jobs:
            if job.slot == slot:
                jobs.append(job)
            if job.scraps or (job.slot == slot and job.replaces):
                break
        known = {job.row["life_known_from"] for job in jobs}
        since = [job.row["in_service_since"].toordinal() for job in jobs if job.row["in_service_since"]]
        is_used = register is not None and register["new_or_used"] == "used"
        if since and "previous_replacement" not in known and (is_used or known & {"new", "bought_used"}):
            starts.append(min(since))
    return min(starts, default=None)


def _merged(spans) -> list[tuple[float, float]]:
    merged = []
    for entry, end in sorted(map(tuple, spans)):
        if merged and entry <= merged[-1][1]:
            merged[-1] = merged[-1][0], max(merged[-1][1], end)
        else:
            merged.append((entry, end))
    return merged


@pytest.mark.parametrize("seed", SEEDS)
def test_the_watch_by_stick_is_its_spells(seed):
    for is_hours in (False, True):
        read = Recurrent(standing(seed)[0], is_hours=is_hours, is_by_stick=True, **NAMED)
        units, failures = read.units(), read.failures()
        spells = loop_spells(seed, "h" if is_hours else "days")
        assert len(failures) == spells["is_failure"].sum()
        assert (units["exit"] > units["entry"]).all()
        assert (units["entry"] >= 0).all()
        inside = failures.merge(units, on="unit", how="left")
        is_in = (inside["at"] > inside["entry"]) & (inside["at"] <= inside["exit"])
        assert is_in.sum() == len(failures)


@pytest.mark.parametrize("seed", range(16))
def test_each_episode_is_counted_once_with_its_first_clean(seed):
    expected = Counter()
    for unit in units_of(seed).values():
        state = dict.fromkeys(unit.sticks, False)
        for place, job in enumerate(unit.jobs):
            if job.slot is not None:
                if job.is_drift and not state[job.slot]:
                    expected.update(_episode(job))
                if job.replaces or job.is_good_sight or (job.is_passed and job.has_repair):
                    state[job.slot] = False
                elif job.is_drift:
                    state[job.slot] = True
            is_day_over = place + 1 == len(unit.jobs) or unit.jobs[place + 1].day > job.day
            if is_day_over and any(other.scraps and other.day == job.day for other in unit.jobs):
                state = dict.fromkeys(state, False)
    counted = Failures(standing(seed)[0], by=["stick", "mechanism"], where={}).counts()
    columns = ["stick", "mechanism", "band", "is_tried", "is_passed"]
    found = Counter()
    for *row, number in counted[[*columns, "failure_count"]].itertuples(index=False, name=None):
        found[tuple(_plain(value) for value in row)] += number
    assert found == expected
    assert sum(expected.values()) > 20


def _episode(job) -> list[tuple]:
    word = job.row["failure_mechanism"]
    mechanism = None if word == "unknown" else word
    if not job.cleans:
        return [(job.slot, mechanism, mechanism or "not_recorded", False, False)]
    is_last = len(job.cleans) == 1
    rest = job.actions[job.cleans[0] + 1 :]
    is_given_up = any(action.startswith("replace_") or action == "scrap" for action in rest)
    if not is_last or is_given_up or job.outcome in ("fail", "scrapped"):
        return [(job.slot, mechanism, mechanism or "not_recorded", True, False)]
    return [(job.slot, mechanism, mechanism or "not_recorded", True, True)] if job.is_passed else []
