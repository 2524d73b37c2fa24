"""Which sellers' units are better or worse than those of others, with a correction for looking at many."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from pipelines.estimates.crossed_share import CrossedShares, Effect


class Against(StrEnum):
    """A seller's units against those of the average seller, of like families and stated conditions."""

    BETTER = "better"
    WORSE = "worse"
    CANNOT_TELL = "cannot_tell"


@dataclass(frozen=True)
class Standing:
    """A seller's record and where it stands: the limits of `effect` are of one seller alone, `against` is of all of them."""

    effect: Effect
    against: Against


def standings(shares: CrossedShares, *, level: float = 0.95) -> list[Standing]:
    """Return where each seller stands, the worst first: beyond doubt where the odds ratio's limits at 1 − (1 − level)/sellers
    leave out 1 (Bonferroni). Shares are of good units: an odds ratio under 1 is worse.
    """
    alone = shares.sellers(level=level)
    strict = shares.sellers(level=1 - (1 - level) / max(len(alone), 1))
    found = [Standing(one, _against(wide)) for one, wide in zip(alone, strict, strict=True)]
    return sorted(found, key=lambda one: one.effect.odds_ratio.estimate)


def _against(effect: Effect) -> Against:
    ratio = effect.odds_ratio
    return Against.WORSE if ratio.high < 1 else Against.BETTER if ratio.low > 1 else Against.CANNOT_TELL
