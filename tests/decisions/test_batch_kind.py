"""Which kind of worse: every word from the limits that stand for it."""

from __future__ import annotations

import pytest

from pipelines.decisions.batch_kind import BatchKind, batch_kind
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.ratio_by_age import RatioByAge
from pipelines.vocabulary import Because

NONE = Estimate.refused(Because.NOT_REACHED)


def found(ratio, *, change=(0.0, -0.4, 0.4), p=0.9, early=(1.0, 0.5, 2.0), late=(1.0, 0.5, 2.0), cross=NONE) -> RatioByAge:
    parts = (Estimate(*ratio), Estimate(*change), p, 10.0, Estimate(*early), 90.0, Estimate(*late))
    return RatioByAge(*parts, rates_cross=cross, curves_cross=NONE)


@pytest.mark.parametrize(
    ("ratio", "kind"),
    [
        ((2.0, 1.5, 2.6), BatchKind.SAME_KIND),
        ((0.5, 0.3, 0.8), BatchKind.BETTER),
        ((1.1, 0.8, 1.6), BatchKind.NOT_SHOWN),
        ((1.4, 0.7, 2.9), BatchKind.TOO_FEW),
        ((None, None, None), BatchKind.TOO_FEW),
    ],
)
def test_where_no_change_with_age_is_shown_the_one_ratio_tells(ratio, kind):
    assert batch_kind(found(ratio), level=0.95) is kind


def test_a_change_that_could_be_large_is_no_same_kind():
    assert batch_kind(found((2.0, 1.5, 2.6), change=(0.4, -0.5, 1.3)), level=0.95) is BatchKind.WORSE
    bare = RatioByAge(Estimate(3.0, 1.2, 8.0), NONE, None, None, NONE, None, NONE, NONE, NONE, Because.TOO_FEW_FAILURES)
    assert batch_kind(bare, level=0.95) is BatchKind.WORSE


def test_a_change_that_is_shown_names_the_age():
    early = {"change": (-0.9, -1.4, -0.4), "p": 0.001, "early": (4.0, 2.5, 6.0)}
    late = {"change": (0.9, 0.4, 1.4), "p": 0.001, "late": (4.0, 2.5, 6.0)}
    for ratio in ((1.9, 1.4, 2.6), (1.1, 0.8, 1.6)):
        assert batch_kind(found(ratio, **early), level=0.95) is BatchKind.EARLY
        assert batch_kind(found(ratio, **late), level=0.95) is BatchKind.LATE
    crossing = batch_kind(found((1.1, 0.8, 1.6), **late, cross=Estimate(40.0, 30.0, 55.0)), level=0.95)
    assert crossing is BatchKind.CROSSING
    half = Estimate(40.0, 30.0, None, Because.LIMIT_NOT_REACHED)
    assert batch_kind(found((1.1, 0.8, 1.6), **late, cross=half), level=0.95) is BatchKind.LATE
    assert batch_kind(found((0.4, 0.3, 0.6), change=(-0.9, -1.4, -0.4), p=0.001, early=(0.8, 0.4, 1.5)), level=0.95) is (
        BatchKind.BETTER
    )  # fmt: skip
