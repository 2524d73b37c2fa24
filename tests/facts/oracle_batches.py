"""The batch that each module was fitted with a second time: walk the jobs of a unit in order, in plain Python."""

from __future__ import annotations

from tests.facts.oracle_walk import Unit


def batches_of(unit: Unit) -> dict[tuple[str, int, int], tuple[str | None, int]]:
    """Return {(stick, life, generation): (batch as fitted, day it was fitted)} of the modules that jobs fitted.

    A scrap ends the life of all sticks once the jobs of its day are done.
    """
    fitted: dict[tuple[str, int, int], tuple[str | None, int]] = {}
    generation = dict.fromkeys(unit.sticks, 1)
    life, scrapped_on = 0, None
    for job in unit.jobs:
        if scrapped_on is not None and job.day > scrapped_on:
            life, scrapped_on, generation = life + 1, None, dict.fromkeys(unit.sticks, 1)
        if job.scraps:
            scrapped_on = job.day
        if job.slot is not None and job.replaces:
            generation[job.slot] += 1
            fitted[job.slot, life, generation[job.slot]] = (job.row["part_batch_fitted"], job.day)
    return fitted
