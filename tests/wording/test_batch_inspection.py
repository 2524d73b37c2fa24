"""Words of incoming inspection."""

from __future__ import annotations

import pytest

from pipelines.answers.batch_inspection_record import FieldBatch, FieldPart
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, InspectionDecision
from pipelines.wording.batch_inspection import decision_words, field_sentence, fine_share_words

BATCHES = [FieldBatch(f"B-{one}", one, 40, 5, 4.0) for one in range(9)]


@pytest.mark.parametrize(("share", "said"), [(0.0, "0 %"), (0.0123, "1.2 %"), (0.002, "0.2 %"), (0.124, "12 %"), (1.0, "100 %")])
def test_a_small_share_keeps_a_decimal(share, said):
    assert fine_share_words(share).replace("\u00a0", " ") == said


def test_every_decision_has_its_words():
    assert [decision_words(one) for one in InspectionDecision] == ["accepted", "rejected", "accepted on concession", "on hold"]


def field(low: float, high: float, real: float | None = 0.9, known: float | None = None) -> str:
    return field_sentence(FieldPart("offset", None, Estimate((low * high) ** 0.5, low, high), real, known, 0, BATCHES), 0.95)


def test_a_trend_is_told_by_its_limits_and_what_blurs_it_is_named():
    assert field(1.1, 1.4).startswith("Inspection of offset did tell the field: each percentage point")
    assert field(0.6, 0.9).startswith("Batches that did worse at inspection of offset did better")
    assert field(0.9, 1.2).startswith("Inspection of offset is not shown to tell the field")
    assert "9 batches" in field(0.9, 1.2)
    assert "Only 40\u00a0% of how the shares differ is real" in field(0.9, 1.2, 0.4, 1.3)
    assert "without that it would be 1.30 times" in field(0.9, 1.2, 0.4, 1.3)
    assert "larger samples would" in field(0.9, 1.2, 0.0)


@pytest.mark.parametrize("because", [Because.TOO_FEW_BATCHES, Because.SHARES_ALIKE, Because.NO_FAILURES, Because.FIT_FAILED])
def test_what_cannot_be_told_says_why(because):
    part = FieldPart("offset", because, Estimate.refused(because), None, None, 0, BATCHES[:3])
    assert "cannot be said" in field_sentence(part, 0.95)
