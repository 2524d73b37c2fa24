"""How often a seat is named on floors of known truth: where none is bad, and one that has three times the faults.

    python -m tests.calibration.floors [floors]

prints both shares by the number of seats, the faults expected of each, and how much controllers differ.
"""

from __future__ import annotations

import sys

import numpy as np

from pipelines.estimates.place_rates import place_rates
from tests.estimates.floors import floor

#: Seats, faults expected of one, and the variance between controllers.
CASES = [(seats, expected, variance) for seats in (20, 60, 300) for expected in (4, 12) for variance in (0.0, 0.2)]


def shares(floors: int, *, seats: int, expected: float, variance: float, seed: int = 1) -> tuple[float, float]:
    """Return the share of floors without a bad seat on which any is named, and how often a bad one is."""
    rng, words = np.random.default_rng(seed), {"seats": seats, "expected": expected, "variance": variance}
    named = found = 0
    for _ in range(floors):
        named += bool(_worse(floor(rng, **words)))
        found += "0" in _worse(floor(rng, **words, bad=3.0))
    return named / floors, found / floors


def _worse(counts) -> list[str]:
    found = place_rates(counts, place="station", adjust=["family", "site"])
    return [one.name for one in found.places if one.is_worse]


def main() -> None:
    floors = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    for seats, expected, variance in CASES:
        named, found = shares(floors, seats=seats, expected=expected, variance=variance)
        print(
            f"{seats} seats, {expected} faults each, variance {variance}: any named {named:.1%}, the bad one {found:.1%}",
            flush=True,
        )


if __name__ == "__main__":
    main()
