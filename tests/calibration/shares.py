"""Parts of the table on shares of cleans that passed or held. Failures are the cleans that did not."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipelines.estimates.durable import durable
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.pooled_share import pooled_share
from pipelines.estimates.proportion import wilson
from pipelines.estimates.standardised import standardised
from tests.calibration.fleets import fleet_of
from tests.calibration.score import Kind, Rule, Sample

HORIZON = 90


def one_share(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Wilson's limits, averaged over true shares from 0.05 to 0.95."""
    p = rng.uniform(0.05, 0.95, fleets)
    shares = [wilson(int(k), 2 * failures) for k in rng.binomial(2 * failures, p)]
    return {"share passed": Sample.of(shares, p, Kind.SHARE, Rule.DISCRETE)}


def durable_share(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Cleans that pass (0.75 on average) and then hold 90 days, many lost sight of before."""
    each = round(failures / 0.5)
    fleet = fleet_of(fleets, each)
    passes = rng.uniform(0.55, 0.95, fleets)
    life, last = np.ceil(200 * rng.weibull(1.3, len(fleet))), rng.integers(0, 250, len(fleet))
    rows = pd.DataFrame({"fleet": fleet, "is_passed": rng.random(len(fleet)) < passes[fleet], "at": np.minimum(life, last)})
    found = durable(rows.assign(is_failure=life <= last, attempt_count=1), by=["fleet"], horizon=HORIZON)
    shares = [Estimate(one.share, one.low, one.high, one.because) for one in found]
    truth = passes * np.exp(-((HORIZON / 200) ** 1.3))
    return {f"held {HORIZON} days": Sample.of(shares, truth, Kind.SHARE, Rule.DISCRETE)}


def pooled_cells(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Three methods and twelve families, attempts spread unevenly over the cells."""
    method, family = (one.ravel() for one in np.meshgrid(np.arange(3), np.arange(12), indexing="ij"))
    estimates, truths, owner = [], [], []
    for fleet in range(fleets):
        logit = rng.normal(0.8, 0.6, 3)[method] + rng.normal(0, 0.6, 12)[family] + rng.normal(0, 0.3, 36)
        p = 1 / (1 + np.exp(-logit))
        n = rng.multinomial(3 * failures, rng.dirichlet(np.ones(36)))
        cells = pd.DataFrame({"method": method, "family": family, "k": rng.binomial(n, p), "n": n})
        estimates += [one.share for one in pooled_share(cells).cells]
        truths += p.tolist()
        owner += [fleet] * 36
    return {"share passed of pooled cells": Sample.of(estimates, truths, Kind.SHARE, fleet=owner)}


def standardised_share(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Four bands of severity of known mix, by which both the choice to clean and its success go."""
    mix, chance, tried_share = np.array([0.3, 0.3, 0.2, 0.2]), np.array([0.9, 0.7, 0.35, 0.1]), np.array([0.9, 0.8, 0.5, 0.3])
    band_failures = rng.multinomial(round(failures / 0.4), mix, fleets)
    tried = rng.binomial(band_failures, tried_share)
    passed = rng.binomial(tried, chance)
    fleet, band = fleet_of(fleets, 4), np.tile(np.arange(4), fleets)
    kinds = ((True, True, passed), (True, False, tried - passed), (False, False, band_failures - tried))
    attempts = pd.concat(
        pd.DataFrame({"fleet": fleet, "band": band, "is_tried": is_tried, "is_passed": is_passed, "failure_count": count.ravel()})
        for is_tried, is_passed, count in kinds
    )
    standard = pd.DataFrame({"band": range(4), "failure_count": (10 * mix).round().astype(int)})
    found = standardised(attempts, by=["fleet"], band="band", standard=standard)
    estimates = [one.standardised for one in found]
    return {"standardised share": Sample.of(estimates, mix @ chance, Kind.SHARE, Rule.DISCRETE)}
