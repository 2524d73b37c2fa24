"""Whether what was decided of a batch is what its plan says."""

from __future__ import annotations

from pipelines.vocabulary import Agreement, InspectionDecision


def agreement(decision: str, *, is_within: bool) -> Agreement:
    """Return how a decision stands to the plan. is_within: no more nonconforming were found than the plan accepts."""
    if decision == InspectionDecision.HOLD:
        return Agreement.OPEN
    if decision == InspectionDecision.ACCEPT_ON_CONCESSION and not is_within:
        return Agreement.CONCESSION
    is_taken = decision != InspectionDecision.REJECT
    return Agreement.AS_PLANNED if is_taken is is_within else Agreement.AGAINST_PLAN
