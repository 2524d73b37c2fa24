"""The bench work that is waiting in lots that are not finished."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from pipelines.answers.lot_bought import Bought, bought_lots, by_lot, came_of
from pipelines.answers.lot_gathering import Gathering
from pipelines.answers.lot_record import LotRecord
from pipelines.answers.past_lots_record import Backlog
from pipelines.estimates.estimate import Estimate
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Fate

DRAWS, SEED = 2000, 7
#: The interval holds this share of the draws.
SHOWN = 0.8


def backlog(record: LotRecord, results: pd.DataFrame, settings: Settings) -> Backlog:
    """Return the hours that units not finished will take, by the fates expected of them, less what was spent on them already.

    results: `Lots.results`; units that were given up do not count, those of a lot not yet seen do.
    """
    free = settings.bench_hours_free
    open_units = results[~results["is_settled"] & (results["fate"] == Fate.OPEN)]
    of_lot = by_lot(open_units)
    waiting = [
        (lot, units)
        for lot in bought_lots(record.lines)[0]
        if (units := _waiting(lot, of_lot.get(lot.lot_id, []), record.log_end))
    ]
    count = sum(sum(units.values()) for _, units in waiting)
    if not count:
        return Backlog(0, 0, Estimate(0.0, 0.0, 0.0), free, _weeks(Estimate(0.0, 0.0, 0.0), free))
    families = sorted({family for _, units in waiting for family in units})
    each = Gathering(record, families, settings).bench_h()
    if each is None or record.fates.because is not None:
        refused = Estimate.refused(record.fates.because or Because.NOT_GIVEN)
        return Backlog(len(waiting), count, refused, free, refused)
    rng = np.random.default_rng(SEED)
    drawn = np.zeros((DRAWS, len(families), 4))
    for lot, units in waiting:
        for condition in dict.fromkeys(lot.conditions[family] for family in units):
            own = {family: number for family, number in units.items() if lot.conditions[family] == condition}
            places = [families.index(family) for family in own]
            drawn[:, places] += record.fates.draws(own, condition=condition, seller=lot.seller, count=DRAWS, rng=rng)
    mean, error, unit_sd = (np.broadcast_to(one, drawn.shape[1:]) for one in (each.mean, each.mean_se, each.unit_sd))
    spread = np.sqrt((drawn * unit_sd**2 + (drawn * error) ** 2).sum(axis=(1, 2)))
    hours = (drawn * mean).sum(axis=(1, 2)) + spread * rng.standard_normal(DRAWS) - float(open_units["bench_h"].sum())
    low, high = np.quantile(hours, [(1 - SHOWN) / 2, (1 + SHOWN) / 2])
    told = Estimate(*(max(float(one), 0.0) for one in (hours.mean(), low, high)))
    return Backlog(len(waiting), count, told, free, _weeks(told, free))


def _waiting(lot: Bought, open_units: Sequence[Mapping], log_end: str | None) -> dict[str, int]:
    """Return the units of a lot that the bench has not finished, by family."""
    came = came_of(lot, open_units, is_young=lot.is_young(log_end))
    return {family: int(units) for family, units in zip(lot.mix, came.waiting, strict=True) if units}


def _weeks(hours: Estimate, free: float | None) -> Estimate:
    if not free:
        return Estimate.refused(Because.NOT_GIVEN)
    return Estimate(*(one / free for one in (hours.estimate, hours.low, hours.high)))
