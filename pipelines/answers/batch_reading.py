"""What the log says of supplier batches, read and compared once: the ground of the answers about them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.answers.clock import HourCheck, check_hours
from pipelines.answers.question import Asked
from pipelines.answers.spells import grid_for
from pipelines.estimates.batch_cells import Cells
from pipelines.estimates.batch_law import alikeness, shared_law
from pipelines.facts.batches import BatchCounts, Batches
from pipelines.facts.read import Connection, window
from pipelines.vocabulary import Clock

#: Steps of age, each with about as many failures: fine enough that a ratio of 2.5 moves by no more than 2 %.
STEPS = 48


@dataclass(frozen=True)
class BatchReading:
    """numbers: one row per batch code, as `Batches.numbers`; read: counts by stratum, batch and step (None: no spell); cells: the
    same as arrays. By batch of `read`: alike (how much larger the variance is for shared controllers), expected_per_day
    (failures of its modules still watched, were they like the others). lives: counts as `Batches.counts`.
    """

    log_start: str | None
    log_end: str | None
    clock: Clock
    hours: HourCheck
    numbers: pd.DataFrame
    unnamed: tuple[int, int, int]
    no_hours: int
    read: BatchCounts | None
    cells: Cells | None
    alike: np.ndarray
    alikeness: float | None
    expected_per_day: np.ndarray
    lives: pd.DataFrame


def on_clock(connection: Connection, asked: Asked) -> tuple[Batches, Clock, HourCheck]:
    """Return the modules of batches on the clock asked for: without one in hours, or in days where hours would mislead."""
    clock = asked.clock or Clock.HOURS
    batches = Batches(
        connection, is_hours=clock is Clock.HOURS, where=asked.where, period_months=asked.settings.fitting_period_months
    )
    hours = check_hours(batches.clocks())
    if asked.clock is None and hours.is_refused:
        clock = Clock.DAYS
        batches.in_days()
    return batches, clock, hours


def read_batches(connection: Connection, asked: Asked) -> BatchReading:
    """Read and count."""
    batches, clock, hours = on_clock(connection, asked)
    log, numbers = window(connection), batches.numbers()
    spells = int(numbers["spell_count"].sum())
    no_hours = hours.without if clock is Clock.HOURS else 0
    lives = batches.counts(grid=grid_for(asked.settings, spells, float(numbers["longest"].max())) if spells else 0.0)
    head = (log.log_start, log.log_end, clock, hours, numbers, batches.unnamed(), no_hours)
    if not spells:
        return BatchReading(*head, None, None, np.zeros(0), None, np.zeros(0), lives)
    steps = batches.steps(STEPS)
    read = batches.cells(steps)
    cells = Cells.of(read.counts, steps, len(read.batches))
    law = shared_law(cells, read.strata, steps)
    found = batches.alike(law.table(), law.factor)
    squares = found["by_unit"].to_numpy(), found["by_module"].to_numpy()
    whole = max(float(squares[0].sum() / squares[1].sum()), 1.0) if squares[1].sum() > 0 else 1.0
    return BatchReading(*head, read, cells, alikeness(*squares), whole, found["expected_per_day"].to_numpy(), lives)
