"""The running evidence against a batch: closed forms, exact laws of scipy, and the bound on false alarms at any time."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom, nchypergeom_fisher, poisson

from pipelines.estimates.running_evidence import RATIOS, WEIGHTS, Running, running_evidence


def counts(rows: list[tuple[int, int, int, float, int]]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["cell", "batch", "look", "at_risk", "failures"])


def evidence(rows, *, batches: int = 2, looks: int = 1, tolerance: float = 1.0) -> Running:
    return running_evidence(counts(rows), batches=batches, looks=looks, tolerance=tolerance)


def mixed(logs) -> float:
    """Return the logarithm of the weighted mean over RATIOS."""
    return float(np.log(np.exp(np.asarray(logs)) @ WEIGHTS))


@pytest.mark.parametrize("tolerance", [1.0, 1.2])
def test_it_is_the_ratio_of_two_binomial_laws_given_all_failures_of_a_cell(tolerance):
    """By hand: 7 of 12 failures where the batch has 20 of 80 at risk; scipy's binomial gives both chances."""
    told = evidence([(4, 0, 0, 20, 7), (4, 1, 0, 60, 5)], tolerance=tolerance)
    chance = lambda ratio: ratio * 20 / (ratio * 20 + 60)  # noqa: E731
    logs = [binom.logpmf(7, 12, chance(ratio * tolerance)) - binom.logpmf(7, 12, chance(tolerance)) for ratio in RATIOS]
    assert told.log_evidence[0, 0] == pytest.approx(mixed(logs), abs=1e-12)
    assert (told.observed[0, 0], told.expected[0, 0]) == (7, 3)


def test_with_a_large_reference_it_is_the_mixture_for_a_known_hazard():
    """Closed form: with a hazard that is known, the failures of a batch are Poisson, and so is the ratio of both laws."""
    hazard, others, own, failed, tolerance = 0.02, 1e9, 500.0, 24, 1.2
    told = evidence([(0, 0, 0, own, failed), (0, 1, 0, others, round(hazard * others) - failed)], tolerance=tolerance)
    expected = tolerance * hazard * own
    logs = [poisson.logpmf(failed, ratio * expected) - poisson.logpmf(failed, expected) for ratio in RATIOS]
    assert told.log_evidence[0, 0] == pytest.approx(mixed(logs), abs=1e-4)
    plain = np.exp(failed * np.log(RATIOS) - (RATIOS - 1) * expected) @ WEIGHTS
    assert np.exp(told.log_evidence[0, 0]) == pytest.approx(plain, rel=1e-4)


def test_looks_add_up_and_cells_multiply():
    """Split over looks, in any order of rows, the last look says what one look says; cells multiply for each ratio."""
    whole = [(0, 0, 0, 30, 6), (0, 1, 0, 90, 5), (1, 0, 0, 10, 1), (1, 2, 0, 40, 9)]
    split = [
        (0, 0, 1, 10, 2),
        (0, 0, 3, 20, 4),
        (0, 1, 0, 50, 1),
        (0, 1, 4, 40, 4),
        (1, 0, 2, 10, 1),
        (1, 2, 2, 15, 4),
        (1, 2, 5, 25, 5),
    ]
    at_once, by_looks = evidence(whole, batches=3), evidence(split[::-1], batches=3, looks=6)
    assert by_looks.log_evidence[:, -1] == pytest.approx(at_once.log_evidence[:, -1], abs=1e-12)
    assert by_looks.expected[:, -1] == pytest.approx(at_once.expected[:, -1], abs=1e-12)
    assert list(by_looks.observed[0]) == [0, 2, 3, 7, 7, 7]
    logs = [
        6 * np.log(one) - 11 * np.log((one * 30 + 90) / 120) + np.log(one) - 10 * np.log((one * 10 + 40) / 50) for one in RATIOS
    ]
    assert at_once.log_evidence[0, 0] == pytest.approx(mixed(logs), abs=1e-12)


def test_nothing_is_told_without_others_or_without_failures():
    told = evidence([(0, 0, 0, 30, 9), (1, 0, 0, 5, 0), (1, 1, 0, 5, 0)])
    assert told.log_evidence == pytest.approx(np.zeros((2, 1)), abs=1e-12)
    assert not told.observed.any()
    assert not told.expected.any()
    assert running_evidence(counts([]), batches=2, looks=3, tolerance=1.2).log_evidence.shape == (2, 3)


def test_others_that_come_later_do_not_change_what_was_known():
    """No look-ahead: a look is the same whatever follows it."""
    rows = [(0, 0, 0, 20, 3), (0, 1, 0, 30, 2), (0, 0, 1, 15, 4)]
    later = [(0, 1, 2, 400, 1), (0, 0, 2, 5, 5), (7, 0, 2, 5, 1), (7, 1, 2, 5, 1)]
    known, all_told = evidence(rows, looks=2), evidence(rows + later, looks=3)
    assert all_told.log_evidence[:, :2] == pytest.approx(known.log_evidence, abs=1e-12)


@pytest.mark.parametrize(("tolerance", "ratio"), [(1.0, 0.5), (1.0, 1.0), (1.2, 1.0), (1.2, 1.2), (2.0, 1.2), (2.0, 2.0)])
def test_its_mean_is_at_most_one_where_failures_are_drawn_without_replacement(tolerance, ratio):
    """Modules of one look fail without being put back: scipy's noncentral hypergeometric law of Fisher."""
    for own, others, failed in [(1, 2, 2), (3, 3, 4), (10, 40, 8), (40, 10, 25), (5, 200, 60)]:
        values = np.arange(max(0, failed - others), min(own, failed) + 1)
        chances = nchypergeom_fisher(own + others, own, failed, ratio).pmf(values)
        told = [
            np.exp(evidence([(0, 0, 0, own, x), (0, 1, 0, others, failed - x)], tolerance=tolerance).log_evidence[0, 0])
            for x in values
        ]
        assert chances @ told <= 1 + 1e-9


#: Exposure of the batch and of the others, in expected failures, look by look: others thin, before it, after it, in turns.
LOOKS = 80
SCHEDULES = {
    "side by side": (np.full(LOOKS, 0.5), np.full(LOOKS, 0.5)),
    "a large reference": (np.full(LOOKS, 0.5), np.full(LOOKS, 5.0)),
    "a thin reference": (np.full(LOOKS, 1.0), np.full(LOOKS, 0.1)),
    "the others first": (np.repeat([0.01, 1.0], LOOKS // 2), np.repeat([0.75, 0.01], LOOKS // 2)),
    "the batch first": (np.repeat([1.0, 0.01], LOOKS // 2), np.repeat([0.01, 1.0], LOOKS // 2)),
    "in turns": (np.tile(np.repeat([1.0, 0.01], 8), LOOKS // 16), np.tile(np.repeat([0.01, 1.0], 8), LOOKS // 16)),
}


@pytest.mark.parametrize("schedule", SCHEDULES)
@pytest.mark.parametrize("cells", [1, 20])
def test_a_batch_as_bad_as_tolerated_hardly_ever_reaches_the_limits(schedule, cells):
    """Ville (1939): ever over 20 with chance 0.05 at most, over 100 with 0.01; looked at after every look. 1,500 batches each."""
    rng, batches, tolerance = np.random.default_rng(11), 1500, 1.2
    own, others = (part / cells for part in SCHEDULES[schedule])
    pairs = [(tolerance * own, own, 0), (others, others, 1)]
    peaks = []
    for _ in range(0, batches, 250):
        shape = (250, cells, LOOKS)
        at = np.indices(shape).reshape(3, -1)
        rows = pd.concat([
            pd.DataFrame({
                "cell": at[0] * cells + at[1], "batch": 2 * at[0] + side, "look": at[2],
                "at_risk": np.broadcast_to(exposure, shape).ravel(),
                "failures": rng.poisson(np.broadcast_to(rate, shape)).ravel(),
            })
            for rate, exposure, side in pairs
        ])  # fmt: skip
        told = running_evidence(rows, batches=500, looks=LOOKS, tolerance=tolerance)
        peaks.append(told.log_evidence[::2].max(axis=1))
    peak = np.concatenate(peaks)
    assert (peak >= np.log(20)).mean() <= 0.05
    assert (peak >= np.log(100)).mean() <= 0.01
