"""What the error of a measurement does to pass and fail at a limit: sticks and errors normal, independent of each other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

Numbers = float | np.ndarray


@dataclass(frozen=True)
class Misjudged:
    """Chances (0–1), floats or arrays. good_fails: of a stick within the limit to read beyond it; bad_passes: of one beyond it to
    read within; false_fail_share: of all sticks, those within that read beyond; read_bad_share: of all, those that read beyond.
    """

    good_fails: Numbers
    bad_passes: Numbers
    false_fail_share: Numbers
    read_bad_share: Numbers


def misjudged(*, room: Numbers, stick_sd: Numbers, tester_sd: Numbers) -> Misjudged:
    """Return how often sticks are misjudged.

    room: the limit less the mean of the sticks, in the reading's unit (of a lower limit the mean less the limit); stick_sd,
    tester_sd: standard deviations > 0 of the true values and of the error of one reading.
    The chance that both the stick and its reading are within is Φ of two variables of correlation σ_stick/σ_total, which for one
    limit comes down to Owen's T: [Φ(h) + Φ(k)]/2 − T(k, σ_tester/σ_stick), h = room/σ_stick, k = room/σ_total.
    Source: Owen (1956), Annals of Mathematical Statistics 27:1075–1090; Burdick, Borror & Montgomery (2005) (from memory).
    """
    from scipy.special import ndtr, owens_t

    total_sd = np.hypot(stick_sd, tester_sd)
    good, reads_good = ndtr(room / stick_sd), ndtr(room / total_sd)
    apart = owens_t(room / total_sd, tester_sd / stick_sd)
    # where hardly any stick is good, or bad, rounding must not make a chance of it
    false_fail = np.clip((good - reads_good) / 2 + apart, 0, good)
    false_pass = np.clip((reads_good - good) / 2 + apart, 0, ndtr(-room / stick_sd))
    with np.errstate(divide="ignore", invalid="ignore"):
        fails = np.where(good > 0, false_fail / good, 1.0)
        passes = np.where(good < 1, false_pass / ndtr(-room / stick_sd), 1.0)
    return Misjudged(fails, passes, false_fail, ndtr(-room / total_sd))


def reads_within(beyond: Numbers, tester_sd: Numbers) -> Numbers:
    """Return the chance that a stick passes on one reading: `beyond` the limit by so much (negative: within it)."""
    from scipy.special import ndtr

    return ndtr(-np.asarray(beyond) / tester_sd)


def misread_share(read_bad_share: float, tester_share: float) -> float:
    """Return how many of those that read beyond a limit lie within it in truth, 0 to 1.

    read_bad_share: of all sticks, those that read beyond (0–1, not the ends); tester_share: standard deviation of the tester over
    that of the readings (0–1, not 1). Where the limit lies among the sticks follows from how many read beyond it.
    """
    from scipy.special import ndtri

    if not tester_share > 0:
        return 0.0
    stick_sd = (1 - tester_share**2) ** 0.5
    room = -float(ndtri(read_bad_share))  # in standard deviations of the readings
    return float(misjudged(room=room, stick_sd=stick_sd, tester_sd=tester_share).false_fail_share) / read_bad_share
