"""Parts of an answer about lives, for the tests of the sentences about them."""

from __future__ import annotations

from pipelines.answers.detail import CommonShape, Dating, Place, PooledLife
from pipelines.answers.laws_record import Laws, Lognormal
from pipelines.answers.record import LifeGroup, WeibullPart
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, Clock

HOURS = Clock.HOURS


def known(estimate: float) -> Estimate:
    return Estimate(estimate, estimate / 2, estimate * 2)


def refused(because: Because) -> Estimate:
    return Estimate.refused(because)


LAWS = Laws(None, "lognormal", 5.0, 0.8, 1.2, Lognormal(None, known(0.8), known(400), known(1500), -50.0))
DATING = Dating(None, 12, 1.19, 1.02, 1.3, True)
POOLED = PooledLife(None, known(300), known(900), Place(4, 2, 6, 0.1))
COMMON = CommonShape(None, known(1.4), True, 0.4, known(200), known(800))
GROUP = LifeGroup({}, None, "", {"failures": 4, "spells": 40}, [], None, {}, WeibullPart(None, *[known(1)] * 4, None))
