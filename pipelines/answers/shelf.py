"""`answer shelf`: how many modules and spare controllers to keep for a chosen chance that they last."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pandas as pd

from pipelines.answers.fleet_record import FleetRecord, fleet_record
from pipelines.answers.lot_money import Missing
from pipelines.answers.outlook import QUARTER_DAYS, Outlook, outlook
from pipelines.answers.question import Asked
from pipelines.answers.shelf_record import Shelf, ShelfRow
from pipelines.estimates.coming_faults import Events, expected_faults, total_of
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.stock import pace_draws, stock_for
from pipelines.facts.read import Connection
from pipelines.settings import Settings
from pipelines.vocabulary import Because
from pipelines.wording import outlook as outlook_wording
from pipelines.wording import shelf as wording

MODULE, SPARE = "module", "spare_controller"


def shelf(connection: Connection, asked: Asked) -> Shelf:
    """Answer from the log."""
    return shelf_of(fleet_record(connection, asked.settings), asked)


def shelf_of(record: FleetRecord, asked: Asked) -> Shelf:
    """Answer from a record of the own fleet read before."""
    settings = asked.settings
    found = outlook(record, min_failures=settings.min_failures)
    away = settings.turnaround_days if settings.turnaround_days is not None else record.turnaround_days
    origin = "setting" if settings.turnaround_days is not None else "record" if away is not None else None
    rows = [*_modules(record, found, asked), *_spares(found, away, asked)]
    told = [row for row in rows if row.because is None]
    because = None if told else found.because or next((row.because for row in rows), Because.NOTHING_IN_SERVICE)
    missing = [name for name, value in (("lead_time_days", settings.lead_time_days), ("turnaround_days", away)) if value is None]
    help_of = {one.name: one.metadata for one in fields(Settings)}
    return Shelf(
        question=asked.question.value, level=asked.level, log_start=record.log_start, log_end=record.log_end,
        settings=settings.as_plain(), because=because, sentence=wording.shelf_sentence(because, rows, settings),
        warnings=[*outlook_wording.outlook_warnings(record, found, None), *wording.shelf_warnings(record, rows, origin, away)],
        asked_for=[Missing(name, help_of[name]["unit"], help_of[name]["help"], []) for name in missing],
        fill_chance=settings.fill_chance, turnaround_days=away, turnaround_origin=origin, turnaround_jobs=record.turnaround_jobs,
        rows=rows,
    )  # fmt: skip


def _modules(record: FleetRecord, found: Outlook, asked: Asked) -> list[ShelfRow]:
    """Return a row for each sensor type: what own faults will take, and everything else at the pace of the last year."""
    days, stock = asked.settings.lead_time_days, record.part_stock
    types = {*_named(record.part_use["sensor_type"]), *_named(stock["sensor_type"])}
    types |= set() if found.because else set(_named(found.frame["sensor_type"]))
    events = None if found.because or days is None else found.events(days)
    rows = []
    for name in sorted(types, key=lambda one: (one is None, str(one))):
        held = stock[_is(stock["sensor_type"], name)]
        received = held["received_count"].sum(min_count=1) if len(held) else None
        hand = None if received is None or pd.isna(received) else int(max(received - held["fitted_count"].sum(), 0))
        unrecorded = int(held["unrecorded_count"].sum()) if len(held) else 0
        because = Because.NOT_GIVEN if days is None else found.because
        demand = None
        if because is None:
            demand = _taken(events, found, name) + _else(record.part_use, name, days, found)
        rows.append(_row(MODULE, name, None, because, days, demand, hand, unrecorded, asked))
    return rows


def _taken(events: Events, found: Outlook, name: str | None) -> np.ndarray:
    """Return how many parts of a type the faults of the own sticks take, by future."""
    is_type = _is(found.frame["sensor_type"], name)
    return np.bincount(events.future[events.is_part & is_type[events.stick]], minlength=found.draws)


def _else(use: pd.DataFrame, name: str | None, days: int, found: Outlook) -> np.ndarray:
    """Return how many are fitted for other reasons than a fault of an own stick, at the pace of the last four quarters."""
    mine = use[_is(use["sensor_type"], name)]
    other = (mine["fitted_count"] - mine["own_fault_count"]).to_numpy(dtype=float)
    by_quarter = np.bincount(mine["quarter"].to_numpy(dtype=np.int64), weights=other, minlength=4)[:4]
    return pace_draws(by_quarter, periods=days / QUARTER_DAYS, count=found.draws, rng=found.rng)


def _spares(found: Outlook, away: float | None, asked: Asked) -> list[ShelfRow]:
    """Return a row for each family at a site: how many of its controllers are away at once."""
    if found.because is not None:
        return []
    frame = found.frame
    values = [tuple(None if pd.isna(one) else one for one in row) for row in frame[["site", "family"]].itertuples(index=False)]
    names = sorted(set(values), key=lambda one: tuple((part is None, str(part)) for part in one))
    if away is None:
        return [_row(SPARE, family, site, Because.NOT_GIVEN, None, None, None, None, asked) for site, family in names]
    place = {name: number for number, name in enumerate(names)}
    cell = np.array([place[one] for one in values], dtype=np.int64)
    pace = expected_faults(found.sticks, found.laws, found.factor, days=away) @ np.eye(len(names))[cell]
    # those away at once are Poisson about pace × time away, whatever the times are (Palm 1938, from memory); drawn by numbers of
    # their own, which what was drawn for modules does not move
    drawn = found.rng.spawn(1)[0].poisson(pace)
    return [_row(SPARE, family, site, None, away, drawn[:, one], None, None, asked) for one, (site, family) in enumerate(names)]


def _row(kind, part, site, because, days, demand, hand, unrecorded, asked: Asked) -> ShelfRow:
    if because is not None:
        return ShelfRow(kind, part, site, because, days, Estimate.refused(because), None, None, hand, unrecorded, None)
    told, chance = total_of(demand, level=asked.level), asked.settings.fill_chance
    keep = stock_for(demand, fill_chance=chance)
    return ShelfRow(
        kind, part, site, None, days, told, keep, _if_known(told.estimate, chance), hand, unrecorded,
        None if hand is None else hand < keep,
    )  # fmt: skip


def _if_known(mean: float, chance: float) -> int:
    from scipy.special import pdtrik

    return int(max(np.ceil(pdtrik(chance, mean) - 1e-9), 0)) if mean > 0 else 0


def _named(column: pd.Series) -> list[str | None]:
    return [None if pd.isna(one) else one for one in column]


def _is(column: pd.Series, name: str | None) -> np.ndarray:
    return (column.isna() if name is None else column == name).to_numpy(dtype=bool)
