"""How many modules, watched for how long, show that one batch fails more often than others of the same age.

The batch and the others are held against each other at equal age (log-rank); the planned number is the one for large counts
(Schoenfeld 1981, Biometrika 68:316–319, with the variance under either hypothesis as in Freedman 1982, Statistics in Medicine
1:121–129, and watching by age as in Lachin & Foulkes 1986, Biometrics 42:507–519; all from memory), raised by what the exact
conditional test of few failures (mid-p) needs beyond it (Przyborowski & Wilenski 1940, Biometrika 31:313–323, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import NamedTuple

import numpy as np

from pipelines.errors import InputError

#: Steps of age within a study, finer where it begins: enough for four digits.
STEPS = 64
#: Ratios outside cannot be planned for: nearer to 1 it takes thousands of failures, farther two or three tell.
LEAST_RATIO, LARGEST_RATIO = 1.1, 20.0
#: Past this cumulative hazard nothing is left to fail.
MOST_HAZARD = 300.0
#: Shares of the new batch outside are no comparison.
LEAST_SHARE = 0.01


@dataclass(frozen=True)
class Study:
    """What a study is to show, and how it is run.

    ratio: how many times as often as the others the batch fails, if it is worse; power: the chance that the study shows it;
    false_alarm: the chance that it calls a batch worse which is like the others (one-sided). new_share: of all modules, those
    of the batch. enrol_days: modules are fitted evenly over so many days from the start. lost_per_year: share of the modules
    lost from view in a year. pace: units of the law's clock in a day. design_effect: how many times as many modules it takes
    because those of one controller are alike.
    """

    ratio: float
    power: float = 0.8
    false_alarm: float = 0.05
    new_share: float = 0.5
    enrol_days: float = 0.0
    lost_per_year: float = 0.0
    pace: float = 1.0
    design_effect: float = 1.0

    def __post_init__(self) -> None:
        _require("a ratio", self.ratio, LEAST_RATIO, LARGEST_RATIO)
        _require("a share of the new batch", self.new_share, LEAST_SHARE, 1 - LEAST_SHARE)
        _require("a chance of a false alarm", self.false_alarm, 0.0001, 0.25)
        _require("a power", self.power, 0.5, 0.999)
        _require("a share lost in a year", self.lost_per_year, 0.0, 0.99)
        _require("a design effect", self.design_effect, 1.0, 100.0)


def needed_if_known(ratio: float, *, power: float = 0.8, false_alarm: float = 0.05) -> int:
    """Return how many failures the batch must be expected to have, were it like the others, where their law is known.

    The smallest whole number with which the exact one-sided Poisson test shows the ratio with the power. Raises InputError.
    """
    from scipy.special import pdtr, pdtrik

    Study(ratio, power)
    _require("a chance of a false alarm", false_alarm, 1e-15, 0.25)
    most = 1
    while True:
        expected = np.arange(most, 2 * most, dtype=float)
        accepted = np.ceil(pdtrik(1 - false_alarm, expected) - 1e-9)
        found = np.flatnonzero(pdtr(accepted, ratio * expected) <= 1 - power)
        if len(found):
            return int(expected[found[0]])
        most *= 2


def modules_needed(study: Study, days: np.ndarray, log_shape: np.ndarray, log_scale: np.ndarray) -> np.ndarray:
    """Return how many modules in all a study of so many days needs to show the ratio: (laws, days), not rounded.

    days: from the first module fitted to the end, at least enrol_days. log_shape, log_scale: of Weibull lives in the law's clock.
    """
    z_alarm, z_power = (NormalDist().inv_cdf(one) for one in (1 - study.false_alarm, study.power))
    one = _per_module(study, days, log_shape, log_scale)
    large = ((z_alarm * np.sqrt(one.null) + z_power * np.sqrt(one.other)) / one.mean) ** 2
    return large * _raise_for_few(study) * study.design_effect


def days_needed(study: Study, modules: float, log_shape: float, log_scale: float, *, longest: float) -> float | None:
    """Return the shortest study, in days, for which so many modules are enough; None where even the longest is too short."""
    from scipy.optimize import brentq

    def short(days: float) -> float:
        found = modules_needed(study, np.array([days]), np.array([log_shape]), np.array([log_scale]))
        return float(np.log(found[0, 0] / modules))

    least = max(study.enrol_days, longest * 1e-4)
    if short(longest) > 0:
        return None
    return least if short(least) <= 0 else float(brentq(short, least, longest, xtol=0.01))


def chance_shown(study: Study, modules: float, days: float, log_shape: np.ndarray, log_scale: np.ndarray) -> np.ndarray:
    """Return the chance that a study of so many modules and days shows the ratio, for each law: (laws,)."""
    from scipy.special import ndtr

    mean, null, other = (one[:, 0] for one in _per_module(study, np.array([days]), log_shape, log_scale)[:3])
    effective = modules / (_raise_for_few(study) * study.design_effect)
    z_alarm = NormalDist().inv_cdf(1 - study.false_alarm)
    return ndtr((mean * np.sqrt(effective) - z_alarm * np.sqrt(null)) / np.sqrt(other))


def failing_shares(study: Study, days: np.ndarray, log_shape: float, log_scale: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the failures to expect for each module of the study by its days: of the batch if it is worse, and of the others."""
    one = _per_module(study, days, np.array([log_shape]), np.array([log_scale]))
    return one.batch_failing[0], one.others_failing[0]


class _PerModule(NamedTuple):
    """For each module of a study, (laws, days): mean of the log-rank statistic, its variance without and with the ratio, and
    the failures that are seen."""

    mean: np.ndarray
    null: np.ndarray
    other: np.ndarray
    batch_failing: np.ndarray
    others_failing: np.ndarray


def _per_module(study: Study, days: np.ndarray, log_shape: np.ndarray, log_scale: np.ndarray) -> _PerModule:
    days = np.asarray(days, dtype=float)
    if (days < study.enrol_days).any() or not (days > 0).all():
        raise InputError("A study ends before its last module is fitted.", "Give more days, or a shorter time to fit them.")
    shape, scale = (np.exp(np.asarray(one, dtype=float))[:, None, None] for one in (log_shape, log_scale))
    edge = days[:, None] * np.linspace(0, 1, STEPS + 1) ** 2
    middle = (edge[:, 1:] + edge[:, :-1]) / 2
    hazard = np.minimum((study.pace * edge / scale) ** shape, MOST_HAZARD)
    step, so_far = np.diff(hazard), (hazard[..., 1:] + hazard[..., :-1]) / 2
    watched = (1 - study.lost_per_year) ** (middle / 365.25)
    if study.enrol_days:
        watched = watched * np.clip((days[:, None] - middle) / study.enrol_days, 0, 1)
    ours = study.new_share * np.exp(-study.ratio * so_far) * watched
    others = (1 - study.new_share) * np.exp(-so_far) * watched
    left = study.new_share / (1 - study.new_share) * np.exp((1 - study.ratio) * so_far)
    batch_failing, others_failing = study.ratio * ours * step, others * step
    failing = batch_failing + others_failing
    share, failing_share = left / (1 + left), study.ratio * left / (1 + study.ratio * left)
    parts = (
        (failing_share - share) * failing, share * (1 - share) * failing, failing_share * (1 - failing_share) * failing,
        batch_failing, others_failing,
    )  # fmt: skip
    return _PerModule(*(one.sum(axis=-1) for one in parts))


def _raise_for_few(study: Study) -> float:
    """Return how many times the number for large counts the exact test of few failures needs."""
    z_alarm, z_power = (NormalDist().inv_cdf(one) for one in (1 - study.false_alarm, study.power))
    share, shifted, total = _split(study)
    null, other = share * (1 - share) * total, shifted * (1 - shifted) * total
    large = ((z_alarm * null**0.5 + z_power * other**0.5) / ((shifted - share) * total)) ** 2
    return max(_exact_if_alike(study) / large, 1.0)


def _exact_if_alike(study: Study) -> float:
    """Return the expected failures of the batch, were it like the others, with which the exact test has the power."""
    low, high = 0.0, 1.0
    while _exact_power(study, high) < study.power:
        low, high = high, 2 * high
    while high - low > 1e-4 * high:
        middle = (low + high) / 2
        low, high = (low, middle) if _exact_power(study, middle) >= study.power else (middle, high)
    return high


def _exact_power(study: Study, if_alike: float) -> float:
    """Return the power of the one-sided mid-p test of the batch's part in all failures, over how many there may be."""
    from scipy.special import bdtr, bdtrik, gammaln

    share, shifted, per_alike = _split(study)
    mean = if_alike * per_alike
    spread = 8 * np.sqrt(mean) + 10
    total = np.arange(max(int(mean - spread), 1), int(mean + spread) + 1)
    chance = np.exp(total * np.log(mean) - mean - gammaln(total + 1))
    accepted = np.ceil(bdtrik(1 - study.false_alarm, total, share) - 1e-9)
    below = np.maximum(accepted - 1, 0)
    middle = 1 - (bdtr(accepted, total, share) + bdtr(below, total, share)) / 2
    accepted = np.where((accepted > 0) & (middle <= study.false_alarm), below, accepted)
    return float(chance @ (1 - bdtr(accepted, total, shifted)))


def _split(study: Study) -> tuple[float, float, float]:
    """Return the batch's part in all failures were it like the others, its part if it is not, and all failures, if it is not, for
    each one expected of the batch were it like them."""
    share = study.new_share
    total = study.ratio + (1 - share) / share
    return share, study.ratio / total, total


def _require(what: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        raise InputError(f"{value:g} is not {what} that can be planned for.", f"Give a number from {low:g} to {high:g}.")
