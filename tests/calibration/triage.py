"""Part of the table on single sticks: the chance that a clean passes. Failures are the cleans that did not.

    python -m tests.calibration.triage [fleets]

says whether the chances come true over many fleets: the slope of results on chances, pooled, and the log loss against that
of the plain share.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from pipelines.estimates.estimate import Estimate
from pipelines.estimates.reliability import out_of_sample, reliability
from pipelines.estimates.triage import triage
from tests.calibration.score import Kind, Rule, Sample
from tests.estimates.tries import Fleet

#: Of the attempts, about so many fail; and so many new sticks are asked for.
FAILED_SHARE, NEW_STICKS = 0.42, 100


def single_sticks(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Eight families, readings that go together, a fifth of one blank, controllers that differ; and new sticks."""
    chances, truths, owner, slopes = [], [], [], []
    for number in range(fleets):
        fleet = Fleet(rng)
        past, new = fleet.attempts(round(failures / FAILED_SHARE)), fleet.attempts(NEW_STICKS, blank_share=0.0)
        model = triage(past)
        new = new[model.is_like_anything(new)]
        chances += model.chance(new)
        truths += new["chance"].tolist()
        owner += [number] * len(new)
        slopes.append(out_of_sample(past).slope)
    return {
        "chance that a clean passes": Sample.of(chances, truths, Kind.SHARE, fleet=owner),
        "slope of results on chances": Sample.of(slopes, 1.0, Kind.PLAIN, Rule.SHOWN),
    }


@dataclass(frozen=True)
class Score:
    """Over all fleets: the slope of results on chances, and the log losses of chance, plain share and truth."""

    slope: Estimate
    log_loss: float
    plain_log_loss: float
    least_log_loss: float


def scores(attempts: int, fleets: int, *, seed: int = 3) -> Score:
    """Make fleets of so many past attempts, and hold the chances of 200 new sticks of each against what happens to them."""
    rng = np.random.default_rng(seed)
    chance, passed, plain, truth = [], [], [], []
    for _ in range(fleets):
        fleet = Fleet(rng)
        past, new = fleet.attempts(attempts), fleet.attempts(200)
        chance.append(triage(past).predicted(new))
        # (a plain share of 0 or 1 would cost without end)
        plain.append(np.full(len(new), np.clip(past["passed_count"].mean(), 0.01, 0.99)))
        passed.append(new["passed_count"])
        truth.append(new["chance"])
    k, n = np.concatenate(passed), np.ones(200 * fleets)
    found = reliability(np.concatenate(chance), k, n, plain=np.concatenate(plain))
    least = reliability(np.concatenate(truth), k, n).log_loss
    return Score(found.slope, found.log_loss, found.plain_log_loss, least)


def main() -> None:
    fleets = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    for attempts in (40, 100, 1000):
        print(attempts, "attempts,", fleets, "fleets:", scores(attempts, fleets))


if __name__ == "__main__":
    main()
