"""Planned studies: the numbers of the literature, an exact sum, a search, and studies played through with a known truth."""

from __future__ import annotations

from math import ceil, log

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom, poisson

from pipelines.errors import InputError
from pipelines.estimates import study_plan as plans
from pipelines.estimates.batch_cells import Cells
from pipelines.estimates.equal_age import batch_ratios, matched
from pipelines.estimates.study_plan import Study, chance_shown, days_needed, failing_shares, modules_needed, needed_if_known

SHAPE, SCALE = log(2.0), log(800.0)


def needed(study: Study, days: float, shape: float = SHAPE, scale: float = SCALE) -> float:
    return float(modules_needed(study, np.array([days]), np.array([shape]), np.array([scale]))[0, 0])


def test_failures_against_a_known_law_are_those_of_an_exact_search():
    def power(expected: int, ratio: float) -> float:
        rejected = next(count for count in range(10_000) if poisson.sf(count - 1, expected) <= 0.05)
        return poisson.sf(rejected - 1, ratio * expected)

    for ratio, known in ((1.5, 31), (2.0, 10), (3.0, 4)):
        assert needed_if_known(ratio) == known == next(one for one in range(1, 100) if power(one, ratio) >= 0.8)


def test_many_failures_are_those_of_schoenfelds_formula():
    """(z_0.95 + z_0.8)² / (π (1 − π) log² ratio), 6.18 of it for 5 % one-sided and 80 %, for a ratio near 1 and few of many."""
    study = Study(1.1)
    batch, others = (one[0] for one in failing_shares(study, np.array([20.0]), SHAPE, SCALE))
    failures = needed(study, 20.0) * (batch + others)
    assert failures == pytest.approx(6.1826 / (0.25 * log(1.1) ** 2), rel=0.03)


@pytest.mark.parametrize(("ratio", "share"), [(1.5, 0.3), (2.0, 0.5), (3.0, 0.2)])
def test_few_failures_have_the_power_of_the_exact_conditional_test(ratio, share):
    """While few of the modules fail, all failures are Poisson and the batch's part of them binomial."""
    study = Study(ratio, new_share=share)
    batch, others = (one[0] for one in failing_shares(study, np.array([2.0]), SHAPE, SCALE))
    mean = needed(study, 2.0) * (batch + others)
    power = 0.0
    for total in range(1, 300):
        at_least = binom.sf(np.arange(-1, total + 1), total, share)
        least = int(np.argmax(np.append(at_least[:-1] + at_least[1:], 0) / 2 <= 0.05))
        power += poisson.pmf(total, mean) * binom.sf(least - 1, total, batch / (batch + others))
    assert power == pytest.approx(0.8, abs=0.002)


def test_failures_are_those_of_the_law():
    batch, others = failing_shares(Study(2.0, new_share=0.25), np.array([300.0, 900.0]), SHAPE, SCALE)
    hazard = (np.array([300.0, 900.0]) / 800) ** 2
    assert batch == pytest.approx(0.25 * (1 - np.exp(-2 * hazard)), rel=1e-3)
    assert others == pytest.approx(0.75 * (1 - np.exp(-hazard)), rel=1e-3)


def test_more_is_needed_for_less_time_loss_and_late_fitting_and_likeness():
    plain = needed(Study(2.0), 400)
    assert needed(Study(2.0), 300) > plain
    assert needed(Study(2.0, enrol_days=200), 400) > plain
    assert needed(Study(2.0, lost_per_year=0.3), 400) > plain
    assert needed(Study(2.0, new_share=0.2), 400) > plain
    assert needed(Study(2.0, design_effect=1.4), 400) == pytest.approx(1.4 * plain)
    assert needed(Study(2.0, pace=2.0), 200) == pytest.approx(plain)


def test_time_and_chance_undo_the_number_of_modules():
    study = Study(2.0, enrol_days=60, lost_per_year=0.1, design_effect=1.2)
    modules = needed(study, 500)
    assert days_needed(study, modules, SHAPE, SCALE, longest=1500) == pytest.approx(500, abs=0.1)
    assert chance_shown(study, modules, 500, np.array([SHAPE]), np.array([SCALE]))[0] == pytest.approx(0.8, abs=1e-3)
    assert days_needed(study, 20, SHAPE, SCALE, longest=1500) is None


def played(study: Study, modules: int, days: float, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Play one study; return of each module whether it is of the batch, the age it was watched to, whether it failed then."""
    new = np.arange(modules) < round(modules * study.new_share)
    fitted = rng.uniform(0, study.enrol_days, modules)
    fails = np.exp(SCALE) * (rng.exponential(size=modules) / np.where(new, study.ratio, 1)) ** (1 / np.exp(SHAPE))
    lost = rng.exponential(size=modules) * 365.25 / -np.log1p(-study.lost_per_year) if study.lost_per_year else np.inf
    left = np.minimum(days - fitted, lost)
    return new, np.minimum(fails, left), fails <= left


def shown_exactly(studies: list[tuple], false_alarm: float) -> float:
    """Test as the literature has it: at each failure the batch's part of those at risk, their exact sum, mid-p, one-sided."""
    return np.mean([_exact_p(*one) <= false_alarm for one in studies])


def _exact_p(new: np.ndarray, at: np.ndarray, failed: np.ndarray) -> float:
    order = np.argsort(at)
    shares = (new[order][::-1].cumsum()[::-1] / np.arange(len(at), 0, -1))[failed[order]]
    chance = np.ones(1)
    for share in shares:
        chance = np.convolve(chance, [1 - share, share])
    seen = int((new & failed).sum())
    return chance[seen:].sum() - chance[seen] / 2


def shown_by_the_verdict(studies: list[tuple], false_alarm: float) -> float:
    """Test as batch-verdict does, each study a stratum of two batches: the batch's ratio, two-sided at twice the false alarms."""
    new, at, failed = (np.concatenate(part) for part in zip(*studies, strict=True))
    study = np.repeat(np.arange(len(studies)), [len(one[0]) for one in studies])
    steps = np.unique([0.0, *np.quantile(at[failed], np.linspace(0, 1, 65)[1:-1]), at.max()])
    rows = pd.DataFrame({
        "stratum_no": study, "batch_no": 2 * study + ~new, "step": np.searchsorted(steps, at) - 1, "is_entry": False,
        "spell_count": 1, "age_sum": np.where(failed, 0.0, at), "failure_count": failed.astype(int),
    })  # fmt: skip
    counts = rows.groupby(["stratum_no", "batch_no", "step", "is_entry"], as_index=False).sum()
    size = 2 * len(studies)
    found = batch_ratios(matched(Cells.of(counts, steps, size), np.ones(size, dtype=bool)), np.ones(size))[::2]
    return np.mean([
        one.p_value <= 2 * false_alarm and (one.ratio.estimate is None or one.ratio.estimate > 1) for one in found
    ])  # fmt: skip


@pytest.mark.parametrize("shown", [shown_exactly, shown_by_the_verdict])
@pytest.mark.parametrize(
    ("study", "days"),
    [
        (Study(2.0), 400),
        (Study(1.5, new_share=0.3, enrol_days=120, lost_per_year=0.2), 500),
        (Study(3.0, new_share=0.3, power=0.9), 300),
        (Study(2.0), 1200),
    ],
)  # fmt: skip
def test_studies_keep_the_promise_within_five_points(study, days, shown):
    """600 studies of a known truth: their share is right to ±3.3 points, so one off by over 5 would mostly be outside these."""
    rng = np.random.default_rng(1)
    modules = ceil(needed(study, days))
    found = shown([played(study, modules, days, rng) for _ in range(600)], study.false_alarm)
    assert study.power - 0.05 <= found <= study.power + 0.05


@pytest.mark.parametrize(
    "words",
    [{"ratio": 1.0}, {"ratio": 50.0}, {"ratio": 2.0, "new_share": 0.0}, {"ratio": 2.0, "power": 1.0},
     {"ratio": 2.0, "false_alarm": 0.0}, {"ratio": 2.0, "lost_per_year": 1.0}, {"ratio": 2.0, "design_effect": 0.5}],
)  # fmt: skip
def test_what_cannot_be_planned_is_refused_in_words(words):
    with pytest.raises(InputError, match="can be planned for"):
        Study(**words)


def test_a_study_that_ends_before_the_last_module_is_fitted_is_refused():
    with pytest.raises(InputError, match="ends before"):
        needed(Study(2.0, enrol_days=100), 50)


def test_the_steps_of_age_are_enough(monkeypatch):
    study = Study(2.0, enrol_days=90, lost_per_year=0.2)
    coarse = needed(study, 700)
    monkeypatch.setattr(plans, "STEPS", 2000)
    assert coarse == pytest.approx(needed(study, 700), rel=1e-3)
