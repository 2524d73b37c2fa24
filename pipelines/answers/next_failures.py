"""`answer next-failures`: which sticks will fail next, and the faults, jobs and modules of the coming 13 weeks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
import pandas as pd

from pipelines.answers.asked_record import Band
from pipelines.answers.fleet_record import HELD_OUT_DAYS, FleetRecord, HeldOut, fleet_record, held_out
from pipelines.answers.next_failures_record import Ahead, NextFailures, PastQuarter, StickAhead, Tried, Week
from pipelines.answers.outlook import QUARTER_DAYS, Outlook, outlook
from pipelines.answers.question import Asked
from pipelines.estimates.coming_faults import Events, fault_chances, total_of
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.reliability import reliability
from pipelines.estimates.stock import pace_draws
from pipelines.facts.read import Connection
from pipelines.vocabulary import Because
from pipelines.wording import outlook as wording

#: The chance of a fault is told for so many days.
SOON_DAYS = 30
#: By what the coming weeks are told: all, site, family, and family at each site.
GROUPED = ((), ("site",), ("family",), ("site", "family"))


def next_failures(connection: Connection, asked: Asked) -> NextFailures:
    """Answer from the log; with `is_brief` without trying it on the last 13 weeks."""
    record = fleet_record(connection, asked.settings)
    return next_failures_of(record, None if asked.is_brief else held_out(connection, asked.settings), asked)


def next_failures_of(record: FleetRecord, held: HeldOut | None, asked: Asked) -> NextFailures:
    """Answer from a record of the own fleet read before; held: None where nothing is to be tried on the last weeks."""
    found = outlook(record, min_failures=asked.settings.min_failures)
    tried = None if held is None else _tried(held, asked)
    told = {"soon": Estimate.refused(found.because), "sticks": [], "groups": [], "weeks": []} if found.because else _told(
        found, record, asked.level
    )  # fmt: skip
    counts = _counts(found.frame)
    whole = told["groups"][0] if told["groups"] else None
    return NextFailures(
        question=asked.question.value, level=asked.level, log_start=record.log_start, log_end=record.log_end,
        settings=asked.settings.as_plain(), because=found.because, days=SOON_DAYS, counts=counts,
        sentence=wording.next_sentence(found.because, counts, SOON_DAYS, told["soon"], told["sticks"], whole, asked.level),
        warnings=wording.outlook_warnings(record, found, tried), quarters=_past(found.quarters, record.log_end),
        quarter_sd=found.shock.sd, season=record.season, tried=tried, **told,
    )  # fmt: skip


def _counts(frame: pd.DataFrame) -> dict[str, int]:
    return {
        "sticks": len(frame), "units": int(frame["unit_id"].nunique()), "by_hours": int(frame["is_hours"].sum()),
        "age_unknown": int((frame["kind"] == "since_first_seen").sum()),
    }  # fmt: skip


def _told(found: Outlook, record: FleetRecord, level: float) -> dict[str, object]:
    chances = fault_chances(found.sticks, found.laws, found.factor, days=SOON_DAYS, level=level)
    events = found.events(QUARTER_DAYS)
    soon = total_of(_per_future(events, events.day <= SOON_DAYS, found.draws), level=level)
    return {
        "soon": soon, "sticks": _sticks(found.frame, chances), "groups": _groups(found, record, events, level),
        "weeks": _weeks(events, found.draws, record.log_end, level),
    }  # fmt: skip


def _sticks(frame: pd.DataFrame, chances: Sequence[Estimate]) -> list[StickAhead]:
    """Return the sticks, the likeliest to fail first."""
    order = np.argsort([-one.estimate for one in chances], kind="stable")
    rows = frame.iloc[order]
    columns = (
        rows["unit_id"], rows["stick"], rows["family"], rows["site"], rows["usage_class"], rows["kind"], rows["since_on"],
        rows["age_h"].where(rows["is_hours"], rows["age_days"]), (7 * rows["pace"]).where(rows["is_hours"]),
        rows["faults_before"],
    )  # fmt: skip
    listed = zip(*(column.astype(object).where(column.notna(), None).tolist() for column in columns), strict=True)
    return [StickAhead(rank, *row, chances[place]) for rank, (place, row) in enumerate(zip(order, listed, strict=True), 1)]


def _groups(found: Outlook, record: FleetRecord, events: Events, level: float) -> list[Ahead]:
    """Return the coming 13 weeks of all, of each site, of each family and of each family at a site."""
    frame = found.frame[["site", "family"]]
    cell, names = _cells(frame)
    faults = _counted(events, cell, (found.draws, len(names)), np.ones(len(events.day), dtype=bool))
    modules = _counted(events, cell, (found.draws, len(names)), events.is_part)
    other = np.zeros((found.draws, len(names)), dtype=np.int64)
    for place, name in enumerate(names):
        other[:, place] = pace_draws(_other_jobs(record.jobs, name), periods=1.0, count=found.draws, rng=found.rng)
    sizes = np.bincount(cell, minlength=len(names))
    rows = []
    for by in GROUPED:
        keys = [tuple(name[("site", "family").index(column)] for column in by) for name in names]
        for key in sorted(set(keys), key=lambda one: tuple((part is None, str(part)) for part in one)):
            mine = np.array([one == key for one in keys])
            totals = [total_of(one[:, mine].sum(axis=1), level=level) for one in (faults, faults + other, modules)]
            if not found.has_repairs:
                totals[2] = Estimate.refused(Because.NO_FAILURES)
            rows.append(Ahead(dict(zip(by, key, strict=True)), int(sizes[mine].sum()), *totals))
    return rows


def _cells(frame: pd.DataFrame) -> tuple[np.ndarray, list[tuple]]:
    """Return the cell of each row, and the values of each cell with None for what is missing."""
    values = [tuple(None if pd.isna(one) else one for one in row) for row in frame.itertuples(index=False)]
    names = list(dict.fromkeys(values))
    place = {name: number for number, name in enumerate(names)}
    return np.array([place[one] for one in values], dtype=np.int64), names


def _counted(events: Events, cell: np.ndarray, shape: tuple[int, int], is_in: np.ndarray) -> np.ndarray:
    """Return how many of the events fall into each future and cell, (draws, cells)."""
    code = events.future[is_in] * shape[1] + cell[events.stick[is_in]]
    return np.bincount(code, minlength=shape[0] * shape[1]).reshape(shape)


def _per_future(events: Events, is_in: np.ndarray, draws: int) -> np.ndarray:
    return np.bincount(events.future[is_in], minlength=draws)


def _other_jobs(jobs: pd.DataFrame, name: tuple) -> np.ndarray:
    """Return the jobs without a fault of a family at a site in each of the last four quarters; none where there was no job."""
    is_mine = np.ones(len(jobs), dtype=bool)
    for column, value in zip(("site", "family"), name, strict=True):
        is_mine &= (jobs[column].isna() if value is None else jobs[column] == value).to_numpy(dtype=bool)
    mine = jobs[is_mine]
    return np.bincount(mine["quarter"].to_numpy(dtype=np.int64), weights=mine["other_count"], minlength=4)[:4]


def _weeks(events: Events, draws: int, log_end: str, level: float) -> list[Week]:
    last = dt.date.fromisoformat(log_end)
    week = np.clip(np.ceil(events.day / 7), 1, QUARTER_DAYS // 7)
    ends = [(one, (last + dt.timedelta(days=7 * one)).isoformat()) for one in range(1, QUARTER_DAYS // 7 + 1)]
    return [Week(end, total_of(_per_future(events, week == one, draws), level=level)) for one, end in ends]


def _past(quarters: pd.DataFrame, log_end: str | None) -> list[PastQuarter]:
    if log_end is None:
        return []
    last = dt.date.fromisoformat(log_end)
    return [
        PastQuarter((last + dt.timedelta(days=int(row.ended_on))).isoformat(), int(row.observed), float(row.expected))
        for row in quarters.itertuples(index=False)
    ]


def _tried(held: HeldOut, asked: Asked) -> Tried:
    """Give the answer as of HELD_OUT_DAYS before the end, and hold it against the faults found since."""
    found = outlook(held.record, min_failures=asked.settings.min_failures)
    if found.because is not None:
        none = Estimate.refused(found.because)
        return Tried(found.because, held.record.log_end, len(found.frame), None, None, [], none, None, None, none, None, None)
    chance = np.array(
        [one.estimate for one in fault_chances(found.sticks, found.laws, found.factor, days=SOON_DAYS, level=asked.level)]
    )
    soon = held.faults[held.faults["found_on"] <= SOON_DAYS - HELD_OUT_DAYS]
    failed = set(zip(soon["unit_id"], soon["stick"], strict=True))
    k = np.array([one in failed for one in zip(found.frame["unit_id"], found.frame["stick"], strict=True)], dtype=float)
    judged = reliability(chance, k, np.ones(len(k)), level=asked.level)
    forecast = total_of(np.bincount(found.events(QUARTER_DAYS).future, minlength=found.draws), level=asked.level)
    # (what came to sticks that were in service then; a fault of one that came since is none of theirs)
    known = set(zip(found.frame["unit_id"], found.frame["stick"], strict=True))
    came = sum(one in known for one in zip(held.faults["unit_id"], held.faults["stick"], strict=True))
    bands = [Band(*row) for row in judged.bands.itertuples(index=False, name=None)]
    return Tried(
        judged.because, held.record.log_end, len(k), float(chance.sum()), int(k.sum()), bands, judged.slope, judged.brier,
        judged.plain_brier, forecast, came, bool(forecast.low <= came <= forecast.high),
    )  # fmt: skip
