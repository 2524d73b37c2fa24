"""Shapes of a batch and of the rest weighted to it: against the plain fits, in fleets of known truth, cut at an age."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.estimates.batch_shape import batch_shape
from pipelines.estimates.clustered_weibull import clustered_weibull
from pipelines.vocabulary import Because
from tests.estimates.batches_alike import SHAPE, fleet


def dated(rows):
    return rows.assign(lower=rows["at"], upper=np.where(rows["is_failure"], rows["at"], np.inf))


def test_in_one_cell_both_are_the_plain_fits_with_the_rests_limits_by_controller():
    rows = dated(fleet(np.random.default_rng(1), batch_size=100, rest_size=300))
    rows = rows[rows["cell"] == 0]
    found = batch_shape(rows, until=1e9)
    batch, rest = (clustered_weibull(rows[rows["is_batch"] == side], by=[])[0].shape for side in (True, False))
    assert found.batch == batch
    assert found.rest.estimate == pytest.approx(rest.estimate, rel=1e-6)
    # those of the plain fit are the outer ones of the sandwich's and the likelihood ratio's
    assert rest.low <= found.rest.low * (1 + 1e-9) < found.rest.high <= rest.high * (1 + 1e-9)


def test_cells_that_differ_blur_both_sides_alike():
    """Three sites of scales 700 to 1,400 blur a shape of 2; batch and rest with the same truth must come out the same."""
    rng, gaps = np.random.default_rng(2), []
    for _ in range(30):
        found = batch_shape(dated(fleet(rng, batch_size=300, rest_size=600)), until=700.0)
        gaps.append(np.log(found.batch.estimate / found.rest.estimate))
    assert np.mean(gaps) == pytest.approx(0.0, abs=0.06)


def test_early_failures_have_a_shape_under_1_and_cutting_at_an_age_keeps_it():
    rng, hits = np.random.default_rng(3), []
    for _ in range(40):
        rows = dated(fleet(rng, batch_size=300, rest_size=300, shape_change=-1.2))
        shape = batch_shape(rows[rows["cell"] == 0], until=600.0).batch
        hits.append(shape.low <= SHAPE - 1.2 <= shape.high)
        assert shape.estimate < 1.1
    assert np.mean(hits) > 0.85


def test_what_cannot_be_fitted_is_refused():
    rows = dated(fleet(np.random.default_rng(4), batch_size=60, rest_size=60))
    few = rows[~(rows["is_batch"] & rows["is_failure"])]
    assert batch_shape(few, until=500.0).batch.because is Because.NO_FAILURES
    apart = rows.assign(cell=rows["is_batch"])
    assert batch_shape(apart, until=500.0).rest.because is Because.NO_SPELLS
