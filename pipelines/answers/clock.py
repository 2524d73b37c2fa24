"""Hours or days: the hour clock is refused where too many spells have no usable hours."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

#: Refused when more than this share of the spells has no usable hours …
MISSING_SHARE = 0.20
#: … or survivors lose theirs this many times as often as failures, and this much more often.
SURVIVOR_RATIO, SURVIVOR_EXCESS = 2.0, 0.10


@dataclass(frozen=True)
class HourCheck:
    """Spells with length in days, by end, and how many of them have no usable hours."""

    survivors: int
    survivors_without: int
    failures: int
    failures_without: int

    @property
    def without(self) -> int:
        return self.survivors_without + self.failures_without

    @property
    def total(self) -> int:
        return self.survivors + self.failures

    @property
    def is_refused(self) -> bool:
        """Tell whether hours would mislead. No spells at all refuse nothing."""
        if self.total == 0:
            return False
        if self.without > MISSING_SHARE * self.total:
            return True
        return self.is_survivor_biased

    @property
    def is_survivor_biased(self) -> bool:
        """Tell whether those that did not fail lose their hours much more often than failures."""
        lost = self.survivors_without / self.survivors if self.survivors else 0.0
        lost_failed = self.failures_without / self.failures if self.failures else 0.0
        return lost >= SURVIVOR_RATIO * lost_failed and lost >= lost_failed + SURVIVOR_EXCESS


def check_hours(numbers: pd.DataFrame) -> HourCheck:
    """Read the check off the counts of one question: `is_age_known`, `is_failure`, `day_count`, `no_hours_count`.

    Spells of unknown age stand apart from the curve, so they only count where there are no others.
    """
    is_known = numbers["is_age_known"].to_numpy(dtype=bool)
    if is_known.any():
        numbers = numbers[is_known]
    is_failure = numbers["is_failure"].to_numpy(dtype=bool)
    days, lost = numbers["day_count"].to_numpy(), numbers["no_hours_count"].to_numpy()
    return HourCheck(
        survivors=int(days[~is_failure].sum()),
        survivors_without=int(lost[~is_failure].sum()),
        failures=int(days[is_failure].sum()),
        failures_without=int(lost[is_failure].sum()),
    )
