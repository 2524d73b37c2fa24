"""The measurement study: coverage where the truth is known, what shifts and scales do, edges, and bad input in words."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.errors import InputError
from pipelines.estimates.crossed_study import crossed_study, drawn_mean, drawn_variances, limits_of_draws


def study_of(rng, *, sticks=10, persons=3, repeats=2, stick=1.0, person=0.2, interaction=0.1, repeat=0.2):
    """Return readings whose four standard deviations are known."""
    return (
        stick * rng.standard_normal((sticks, 1, 1)) + person * rng.standard_normal((1, persons, 1))
        + interaction * rng.standard_normal((sticks, persons, 1)) + repeat * rng.standard_normal((sticks, persons, repeats))
    )  # fmt: skip


@pytest.mark.parametrize(
    ("shape", "spread"),
    [
        ((10, 3, 3), (1.0, 0.2, 0.1, 0.2)),
        ((10, 3, 2), (1.0, 0.0, 0.0, 0.3)),
        ((10, 2, 2), (1.0, 0.1, 0.05, 0.1)),
        ((5, 3, 3), (0.3, 0.1, 0.1, 0.3)),
    ],
)
def test_limits_hold_the_truth_about_as_often_as_they_say(shape, spread):
    """300 made studies: of nominal 95 %, 90 or more are asked for, which a true 94 % misses once in 1,000."""
    rng = np.random.default_rng(7)
    stick, person, interaction, repeat = spread
    between = person**2 + interaction**2
    truth = {"repeat": repeat**2, "between_persons": between, "tester": between + repeat**2, "stick": stick**2}
    truth["tester_share"] = np.sqrt(truth["tester"] / (truth["tester"] + stick**2))
    held = dict.fromkeys(truth, 0)
    for turn in range(300):
        sizes = dict(zip(("sticks", "persons", "repeats"), shape, strict=True))
        study = crossed_study(study_of(rng, **sizes, stick=stick, person=person, interaction=interaction, repeat=repeat))
        drawn = drawn_variances(study, draws=2000, seed=turn)
        for name, value in truth.items():
            limits = limits_of_draws(getattr(study.variances, name), getattr(drawn, name), level=0.95)
            held[name] += limits.low - 1e-12 <= value <= limits.high
    # a tester whose persons do not differ at all lies at the edge of what can be: its limits are a little high
    least = {name: 0.9 for name in truth} | ({"tester": 0.88} if between == 0 else {})
    assert {name: count / 300 for name, count in held.items() if count / 300 < least[name]} == {}


def test_variances_are_right_on_average():
    rng = np.random.default_rng(3)
    found = [crossed_study(study_of(rng)).variances for _ in range(400)]
    for name, truth in (("repeat", 0.04), ("person", 0.04), ("stick", 1.0)):
        assert np.mean([getattr(one, name) for one in found]) == pytest.approx(truth, rel=0.12), name


def test_a_shift_changes_the_mean_alone_and_a_scale_all_spreads():
    readings = study_of(np.random.default_rng(1))
    plain, other = crossed_study(readings), crossed_study(5 + 3 * readings)
    assert other.mean == pytest.approx(5 + 3 * plain.mean)
    assert other.variances.tester == pytest.approx(9 * plain.variances.tester)
    assert other.variances.tester_share == pytest.approx(plain.variances.tester_share)
    assert other.variances.classes == pytest.approx(plain.variances.classes)


def test_the_order_of_sticks_persons_and_repeats_does_not_matter():
    readings = study_of(np.random.default_rng(2))
    mixed = readings[::-1, [2, 0, 1]][:, :, ::-1]
    assert crossed_study(mixed).variances.stick == pytest.approx(crossed_study(readings).variances.stick)
    assert crossed_study(mixed).source("interaction").f == pytest.approx(crossed_study(readings).source("interaction").f)


def test_the_mean_is_no_surer_than_the_sticks_and_persons_it_rests_on():
    rng, inside = np.random.default_rng(11), 0
    for turn in range(200):
        study = crossed_study(2 + study_of(rng, person=0.4))
        low, high = np.quantile(drawn_mean(study, drawn_variances(study, draws=1500, seed=turn)), [0.025, 0.975])
        inside += low <= 2 <= high
    assert inside / 200 > 0.9


def test_repeats_that_are_all_the_same_leave_no_test():
    readings = np.repeat(np.arange(6.0).reshape(3, 2, 1) ** 2, 2, axis=2)
    study = crossed_study(readings)
    assert study.source("interaction").p_value is None
    assert study.variances.repeat == 0


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        (np.ones((1, 2, 2)), "two sticks"), (np.ones((2, 1, 2)), "two persons"), (np.ones((3, 2, 1)), "two readings"),
        (np.ones((3, 2, 2)), "all|All readings"), (np.full((3, 2, 2), np.nan), "no number"), (np.ones((3, 2)), "two sticks"),
    ],
)  # fmt: skip
def test_a_study_that_is_none_is_refused(readings, said):
    with pytest.raises(InputError, match=said):
        crossed_study(readings)
