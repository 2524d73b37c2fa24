"""Whether a tester is good enough to judge sticks by: its share of the spread against what is allowed."""

from __future__ import annotations

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import StudyVerdict


def verdict_on_tester(share: Estimate, allowed: float) -> StudyVerdict:
    """Return the verdict that holds at both limits of the tester's share of the spread; else that it cannot be told."""
    if share.high is not None and share.high <= allowed:
        return StudyVerdict.GOOD_ENOUGH
    if share.low is not None and share.low > allowed:
        return StudyVerdict.TOO_COARSE
    return StudyVerdict.CANNOT_TELL
