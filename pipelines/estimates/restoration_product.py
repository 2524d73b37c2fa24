"""The smooth factor of failures between two looks: Π sinhc(zh) over those of a controller, at nodes of its factor z."""

from __future__ import annotations

import numpy as np

#: log(sinh u / u) = Σ COEFFICIENT[k]·u^(2k + 2), right to 2e-9 up to u = 0.5.
COEFFICIENT, LARGEST = (1 / 6, -1 / 180, 1 / 2835, -1 / 37800), 0.5
SMALLEST = 1e-300


class Products:
    """log: by node and controller, the sum of log sinhc(zh) over the controller's failures.

    z: (nodes, controllers); half: by failure, half its hazard between the looks, those of a controller together from
    `stretch` on; stretch_of: the controller of each. While zh stays small a series serves all failures of a controller
    at once, by the sums of the powers of h; else every failure is worked out at every node.
    """

    def __init__(self, z: np.ndarray, half: np.ndarray, stretch: np.ndarray, stretch_of: np.ndarray) -> None:
        top = np.maximum(z.max(axis=0), SMALLEST)
        is_wide = top * np.maximum.reduceat(half, stretch) > LARGEST
        self._of, self._wide, self._top = stretch_of, np.flatnonzero(is_wide[stretch_of]), top[stretch_of]
        # (z over its largest and h times it, whose powers cannot overflow)
        self._half, self._square = np.where(is_wide[stretch_of], 0.0, half) * self._top, np.where(is_wide, 0.0, z / top) ** 2
        self.log = np.zeros_like(z)
        for place in reversed(range(len(COEFFICIENT))):
            sums = np.add.reduceat((self._half**2) ** (place + 1), stretch)
            self.log = (self.log + COEFFICIENT[place] * sums) * self._square
        if len(self._wide):
            own = stretch_of[self._wide]
            z_row = z[:, own]
            value, slope = log_sinhc(z_row * half[self._wide])
            self.log[:, is_wide] = np.add.reduceat(value, np.flatnonzero(np.diff(own, prepend=-1)), axis=1)
            self._wide_slope = z_row * slope

    def slopes(self, mass: np.ndarray) -> np.ndarray:
        """Return by failure the slope of `log` in h, averaged over the nodes by their mass."""
        moments, weight = [], mass
        for _ in COEFFICIENT:
            weight = weight * self._square
            moments.append(weight.sum(axis=0))
        found, square = np.zeros(len(self._half)), self._half**2
        for place in reversed(range(len(COEFFICIENT))):
            found = found * square + (2 * (place + 1) * COEFFICIENT[place] * moments[place])[self._of]
        found *= self._half * self._top
        if len(self._wide):
            found[self._wide] = (mass[:, self._of[self._wide]] * self._wide_slope).sum(axis=0)
        return found


def log_sinhc(u: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return log(sinh u / u), which is about u²/6, and its slope coth u − 1/u; right to 5e-9 also for the smallest u."""
    u = np.maximum(u, 1e-4)
    gone, inverse = 1 - np.exp(-2 * u), 1 / u
    return u + np.log(gone * inverse / 2), 2 / gone - 1 - inverse
