"""One number with its limits; whatever is missing carries its reason."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.vocabulary import Because


@dataclass(frozen=True)
class Estimate:
    """An estimate and its two limits, in the unit of the thing estimated.

    Each of the three may be None. `because` says why: the reason of the estimate where the estimate itself is
    missing, `limit_not_reached` where only a limit is.
    """

    estimate: float | None
    low: float | None
    high: float | None
    because: Because | None = None

    @classmethod
    def refused(cls, because: Because) -> Estimate:
        """Return an estimate of which nothing can be said, for the reason given."""
        return cls(None, None, None, because)

    @classmethod
    def within(cls, estimate: float, low: float | None, high: float | None) -> Estimate:
        """Return a known estimate; a limit that is None gives the reason `limit_not_reached`."""
        is_whole = low is not None and high is not None
        return cls(estimate, low, high, None if is_whole else Because.LIMIT_NOT_REACHED)
