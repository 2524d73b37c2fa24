"""How much of the spread of readings is the tester: sticks, persons and repeats, crossed, in a two-way random model.

A reading is its stick + its person + what that person makes of that stick + the repeat: four independent normal parts. Their
variances come out of the analysis of variance; limits from drawing what the mean squares may have been (`drawn_variances`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate

#: Where persons × sticks is no larger than chance makes it at this level, it is counted with the repeats. A convention.
POOLED_FROM = 0.25
#: Draws for limits: enough that a 95 % limit moves by about a hundredth of itself from seed to seed.
DRAWS, SEED = 20_000, 2859
#: σ·√2 apart, two sticks of one class are told apart.
_CLASS = 2**0.5


@dataclass(frozen=True)
class Source:
    """One row of the analysis of variance. name: `stick`, `person`, `interaction` or `repeat`; f, p_value: of the others."""

    name: str
    degrees_of_freedom: int
    sum_of_squares: float
    f: float | None = None
    p_value: float | None = None

    @property
    def mean_square(self) -> float:
        return self.sum_of_squares / self.degrees_of_freedom


@dataclass(frozen=True)
class Variances:
    """Variances (floats, or arrays of draws) in the square of the reading's unit, none negative.

    repeat: of one person on one stick; person, interaction: of a person alike on all sticks, and on one more than on others;
    between_persons: both; stick: between sticks.
    """

    repeat: float | np.ndarray
    person: float | np.ndarray
    interaction: float | np.ndarray
    between_persons: float | np.ndarray
    stick: float | np.ndarray

    @property
    def tester(self) -> float | np.ndarray:
        return self.repeat + self.between_persons

    @property
    def total(self) -> float | np.ndarray:
        return self.tester + self.stick

    @property
    def tester_share(self) -> float | np.ndarray:
        """Standard deviation of the tester over that of all readings, 0 to 1."""
        return np.sqrt(self.tester / self.total)

    @property
    def classes(self) -> float | np.ndarray:
        """How many classes of sticks the tester tells apart: √2 · σ_stick / σ_tester."""
        return _CLASS * np.sqrt(self.stick / self.tester)


@dataclass(frozen=True)
class CrossedStudy:
    """A study of `sticks` × `persons` × `repeats` readings. is_pooled: persons × sticks was counted with the repeats."""

    sticks: int
    persons: int
    repeats: int
    mean: float
    sources: tuple[Source, ...]
    is_pooled: bool
    variances: Variances

    def source(self, name: str) -> Source:
        return next(one for one in self.sources if one.name == name)


def crossed_study(readings: np.ndarray) -> CrossedStudy:
    """Return the analysis of readings of shape (sticks, persons, repeats), each at least 2.

    A variance whose estimate would be negative is 0. Raises InputError on another shape, numbers that are none, and where
    all readings are the same.
    Source: two-way random analysis of variance as in the measurement studies of AIAG (2010), Measurement Systems Analysis,
    4th edition (from memory); its worked example is a published case of the tests.
    """
    readings = np.asarray(readings, dtype=float)
    if readings.ndim != 3 or min(readings.shape) < 2:
        raise InputError("A study needs two sticks, two persons and two readings each.", "Read more, then ask again.")
    if not np.isfinite(readings).all():
        raise InputError("A reading of the study is no number.", "Leave its stick out.")
    sticks, persons, repeats = readings.shape
    mean = readings.mean()
    cell, by_stick, by_person = readings.mean(axis=2), readings.mean(axis=(1, 2)), readings.mean(axis=(0, 2))
    stick = Source("stick", sticks - 1, persons * repeats * float(((by_stick - mean) ** 2).sum()))
    person = Source("person", persons - 1, sticks * repeats * float(((by_person - mean) ** 2).sum()))
    rest = cell - by_stick[:, None] - by_person + mean
    interaction = Source("interaction", (sticks - 1) * (persons - 1), repeats * float((rest**2).sum()))
    repeat = Source("repeat", sticks * persons * (repeats - 1), float(((readings - cell[:, :, None]) ** 2).sum()))
    if not stick.sum_of_squares + person.sum_of_squares + interaction.sum_of_squares + repeat.sum_of_squares > 0:
        raise InputError("All readings of the study are the same.", "Write them with more digits, or check the tester.")
    tested = _tested(interaction, repeat)
    is_pooled = tested.p_value is not None and tested.p_value > POOLED_FROM
    sources = (_tested(stick, tested), _tested(person, tested), tested, repeat)
    parts = (stick, person, tested, repeat)
    squares = [one.mean_square for one in parts]
    if is_pooled:
        pooled = tested.degrees_of_freedom + repeat.degrees_of_freedom
        squares[2:] = [(tested.sum_of_squares + repeat.sum_of_squares) / pooled] * 2
    told = _variances(*squares, sticks=sticks, persons=persons, repeats=repeats)
    told = replace(told, between_persons=told.person + told.interaction)  # as published: each part 0 at least
    return CrossedStudy(sticks, persons, repeats, float(mean), sources, is_pooled, told)


def drawn_variances(study: CrossedStudy, *, draws: int = DRAWS, seed: int = SEED) -> Variances:
    """Return draws of what the variances may be, arrays of length `draws`; the same seed gives the same draws.

    Each mean square is drawn as its sum of squares over a χ² of its degrees of freedom; persons × sticks is never pooled here,
    so no limit rests on that choice. Quantiles of the draws are generalised confidence limits.
    Source: Hamada & Weerahandi (2000), Journal of Quality Technology 32:241–253 (from memory).
    """
    rng = np.random.default_rng(seed)
    squares = [one.sum_of_squares / rng.chisquare(one.degrees_of_freedom, draws) for one in study.sources]
    return _variances(*squares, sticks=study.sticks, persons=study.persons, repeats=study.repeats)


def drawn_mean(study: CrossedStudy, drawn: Variances, *, seed: int = SEED + 1) -> np.ndarray:
    """Return draws of the mean reading, one for each of `drawn`."""
    persons, sticks = study.persons, study.sticks
    spread = drawn.stick / sticks + drawn.person / persons + drawn.interaction / (sticks * persons)
    spread = spread + drawn.repeat / (sticks * persons * study.repeats)
    return study.mean + np.sqrt(spread) * np.random.default_rng(seed).standard_normal(len(spread))


def limits_of_draws(estimate: float, drawn: np.ndarray, *, level: float) -> Estimate:
    """Return the estimate between the middle `level` of its draws, widened to hold the estimate itself."""
    low, high = np.quantile(drawn, [(1 - level) / 2, (1 + level) / 2])
    return Estimate(float(estimate), float(min(low, estimate)), float(max(high, estimate)))


def _tested(source: Source, against: Source) -> Source:
    """Return the row with its F test; none where the row below has no spread at all."""
    from scipy.special import fdtrc

    if not against.mean_square > 0:
        return source
    f = source.mean_square / against.mean_square
    p_value = float(fdtrc(source.degrees_of_freedom, against.degrees_of_freedom, f))
    return Source(source.name, source.degrees_of_freedom, source.sum_of_squares, f, p_value)


def _variances(stick, person, interaction, repeat, *, sticks: int, persons: int, repeats: int) -> Variances:
    """Return the variances of the mean squares, numbers or arrays alike.

    What lies between persons is cut at 0 as one sum, not part by part: cutting each draw of both parts would raise it.
    """
    of_interaction = (interaction - repeat) / repeats
    of_person = (person - interaction) / (sticks * repeats)
    of_stick = np.maximum((stick - interaction) / (persons * repeats), 0)
    between = np.maximum(of_person + of_interaction, 0)
    return Variances(repeat, np.maximum(of_person, 0), np.maximum(of_interaction, 0), between, of_stick)
