"""Tests that show how long modules last: so many on test for so long, with at most so many failures.

The law is Weibull with a shape that is assumed. Under it a test is a single sampling plan (`acceptance`): the share that fails
within the test is what the life to be shown makes it. Source: Meeker & Escobar (1998), section 10.6 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.acceptance import process_acceptance, smallest_sample
from pipelines.estimates.fixed_shape import LARGEST_SHAPE, LEAST_SHAPE

#: A test that needs more modules than this is none.
MOST_MODULES = 1_000_000


@dataclass(frozen=True)
class ShownLife:
    """What is to be shown: by the age `life` at most `share` (0–1) have failed, with this confidence, if the shape is so."""

    life: float
    share: float
    shape: float
    confidence: float

    def __post_init__(self) -> None:
        if not (0 < self.life < np.inf and 0 < self.share < 1 and 0 < self.confidence < 1):
            raise InputError(
                "A test needs a life above 0, and a share and a confidence between 0 and 1.", "Give for example 400, 0.1 and 0.9."
            )
        if not LEAST_SHAPE <= self.shape <= LARGEST_SHAPE:
            raise InputError(f"A shape of {self.shape:g} is not one of a life.", "Assume a shape between 0.1 and 20, such as 2.")

    def failed_share(self, test_time: float, *, times_as_long: float = 1.0) -> float:
        """Return the share that fails within the test where modules last so many times as long as is to be shown."""
        return float(-np.expm1(np.log1p(-self.share) * (test_time / (times_as_long * self.life)) ** self.shape))


@dataclass(frozen=True)
class Demonstration:
    """Put `module_count` on test for `test_time` (in the unit of the life); it is shown with up to `failures_allowed` failures.

    pass_chance: that the test passes where modules last as many times as long as was asked, in that order.
    """

    failures_allowed: int
    test_time: float
    module_count: int
    pass_chance: tuple[float, ...]


def demonstrations(
    shown: ShownLife, *, failures_allowed: Sequence[int], test_times: Sequence[float], times_as_long: Sequence[float] = ()
) -> list[Demonstration]:
    """Return the smallest test for each number of failures and each time; none where it would take over a million modules.

    With no failure and a test as long as the life, the success run. Raises InputError.
    """
    found = []
    for allowed in failures_allowed:
        for time in test_times:
            if not 0 < time < np.inf:
                raise InputError(f"A test cannot run for {time:g}.", "Give a time above 0.")
            failing = shown.failed_share(time)
            # (by the Poisson law so many at least)
            if not failing * MOST_MODULES > allowed + 1 - np.log1p(-shown.confidence):
                continue
            plan = smallest_sample(consumer_share=failing, consumer_risk=1 - shown.confidence, acceptance_number=allowed)
            passes = [float(process_acceptance(plan, shown.failed_share(time, times_as_long=one))) for one in times_as_long]
            found.append(Demonstration(allowed, float(time), plan.sample_count, tuple(passes)))
    return found
