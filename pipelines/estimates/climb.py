"""Newton's climb to the top of a log-likelihood of a few parameters."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from pipelines.estimates.cox_robust import Partial

STEPS_AT_MOST = 60
SMALL_STEP = 1e-8
#: No parameter moves further than this in one step: they are logarithms.
LARGEST_STEP = 2.0
#: Beyond this there is no top.
FURTHEST = 60.0


def climb(likelihood: Callable[[np.ndarray], Partial], start: np.ndarray) -> tuple[np.ndarray, Partial] | None:
    """Return the parameters at the top and the likelihood there; None where no top was found.

    Steps are halved while the likelihood falls; where the surface does not arch, its curvature is stiffened first.
    """
    here, at = likelihood(start), start
    for _ in range(STEPS_AT_MOST):
        step = _step(here)
        if step is None or abs(at - start).max() > FURTHEST:
            return None
        if abs(step).max() < SMALL_STEP:
            return _settled(at, here)
        scale = min(1.0, LARGEST_STEP / abs(step).max())
        for _ in range(30):
            there = likelihood(at + scale * step)
            if there.value >= here.value - 1e-11 * max(abs(here.value), 1.0):
                break
            scale /= 2
        else:
            return None
        here, at = there, at + scale * step
    return None


def _step(at: Partial) -> np.ndarray | None:
    if not (np.isfinite(at.score).all() and np.isfinite(at.information).all()):
        return None
    sizes, directions = np.linalg.eigh(at.information)
    # A hair under 0 or above is no arch: such a direction is walked by its slope alone.
    least = 1e-10 * max(abs(sizes).max(), 1e-300)
    return directions @ ((directions.T @ at.score) / np.maximum(abs(sizes), least))


def _settled(at: np.ndarray, here: Partial) -> tuple[np.ndarray, Partial] | None:
    sizes = np.linalg.eigvalsh(here.information)
    return (at, here) if sizes[0] > 1e-12 * sizes[-1] else None
