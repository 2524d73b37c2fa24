"""Part of the table on a batch beside the rest: their difference by age, a ratio that changes, and where the two cross."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipelines.estimates.alike import alike
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.ratio_by_age import ratio_by_age
from pipelines.estimates.survival_difference import SurvivalDifference, survival_difference
from tests.calibration.score import Kind, Rule, Sample
from tests.estimates.batches_alike import fleet, true_shares

REFUSED = Estimate(None, None, None)
#: Modules made for each failure of the batch, and of the rest for each of the batch.
MODULES, REST, MOST_REST = 2.1, 4, 12_000
#: Of the positive stable factor that two sticks of a controller share.
INDEX, AGE, CHANGE, RATIO, CROSSING = 0.8, 500.0, 1.2, 2.0, 400.0


def batch_pattern(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """A batch like the rest, one that fails twice as often, and one whose hazard crosses the rest's at 400 h."""
    gaps, shown, changing, ratios, changes, crossings = ([] for _ in range(6))
    for _ in range(fleets):
        like, twice, cross = (_world(rng, failures, **world) for world in ({}, {"ratio": RATIO}, {"shape_change": CHANGE}))
        pair = alike(like)
        found, ratio = survival_difference(pair), ratio_by_age(pair)
        shown.append(_told(found.because, found.differs_from is not None))
        changing.append(_told(ratio.because, ratio.change_p is not None and ratio.change_p < 0.05))
        gaps.append(_gap(survival_difference(alike(twice[twice["cell"] == 0]))))
        ratios.append(ratio_by_age(alike(twice)).ratio)
        crossed = ratio_by_age(alike(cross))
        changes.append(crossed.change)
        whole = crossed.rates_cross
        crossings.append(REFUSED if whole.low is None or whole.high is None else whole)
    truth = float(np.subtract(*true_shares(np.array([AGE]), ratio=RATIO))[0])
    return {
        f"difference of the curves at {AGE:.0f} h": Sample.of(gaps, truth, Kind.SHARE),
        "curves alike: none is shown to differ": Sample.of(shown, 0.0, Kind.PLAIN, Rule.AT_LEAST),
        "one ratio at all ages: none is shown to change": Sample.of(changing, 0.0, Kind.PLAIN, Rule.AT_LEAST),
        "hazard ratio of the batch": Sample.of(ratios, RATIO),
        "shape of the batch less the rest's": Sample.of(changes, CHANGE, Kind.PLAIN),
        "age at which the hazards cross": Sample.of(crossings, CROSSING, rule=Rule.GATED),
    }


def _world(rng: np.random.Generator, failures: int, **world: float) -> pd.DataFrame:
    size = round(MODULES * failures)
    return fleet(rng, batch_size=size, rest_size=min(REST * size, max(MOST_REST, size)), index=INDEX, **world)


def _told(because, is_shown: bool) -> Estimate:
    """Return limits that hold 0 where nothing is shown, and that miss it where something is."""
    return REFUSED if because is not None else Estimate(0.0, *((1.0, 1.0) if is_shown else (-1.0, 1.0)))


def _gap(found: SurvivalDifference) -> Estimate:
    at = found.points["at"].to_numpy()
    if not len(at) or at[-1] < AGE:
        return REFUSED
    row = found.points.iloc[int(np.searchsorted(at, AGE, side="right")) - 1]
    return Estimate(float(row["difference"]), float(row["low"]), float(row["high"]))
