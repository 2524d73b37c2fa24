"""Which seat each arcade controller serves, and the few pairs that changed places."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from example_data.canonical_words import SITE_LETTER, dates


@dataclass(frozen=True)
class Seats:
    """home: seat of each arcade unit. partner: the unit it changed places with (itself: never), on `swap_day`."""

    home: np.ndarray
    partner: np.ndarray
    swap_day: np.ndarray

    def at(self, unit, day) -> np.ndarray:
        """Return the seat each `unit` serves on `day`."""
        return self.home[np.where(np.asarray(day) < self.swap_day[unit], unit, self.partner[unit])]

    def periods(self, register) -> dict[str, np.ndarray]:
        """Return unit, station, from, to (missing: still there) of every stay, as arrays."""
        n = len(self.home)
        unit, moved = np.arange(n), np.flatnonzero(self.partner != np.arange(n))
        ends = register.out_day
        first_end = np.minimum(ends, self.swap_day)
        return {
            "unit": np.concatenate([unit, moved]),
            "station_id": np.concatenate([self.home, self.home[self.partner[moved]]]),
            "from_at": dates(np.concatenate([register.start_day, self.swap_day[moved]])),
            "to_at": dates(np.concatenate([first_end, ends[moved]])),
        }


def draw_seats(rng, arcades) -> Seats:
    """Give every unit its own seat; about one unit in ten changes places once with another ordinary one."""
    register, n = arcades.register, arcades.register.count
    usual = np.array(arcades.world.site_dust)[register.site]
    is_snack = register.dust > usual * 1.01
    row = np.where(is_snack, "snack", "seat").astype(object)
    home = SITE_LETTER[register.site] + "-" + row + "-" + np.char.mod("%05d", np.arange(n)).astype(object)
    partner, swap_day = np.arange(n), np.full(n, 10**6)
    if not arcades.world.is_easy:
        for site in (0, 1):
            able = rng.permutation(np.flatnonzero((register.site == site) & ~is_snack))
            half = len(able) // 20
            one, other = able[:half], able[half : 2 * half]
            earliest = np.maximum(register.start_day[one], register.start_day[other])
            latest = np.minimum(np.minimum(register.out_day[one], register.out_day[other]), 1095)
            fits = latest - earliest > 120
            one, other, earliest, latest = one[fits], other[fits], earliest[fits], latest[fits]
            partner[one], partner[other] = other, one
            swap_day[one] = swap_day[other] = rng.integers(earliest + 30, latest - 30)
    return Seats(home, partner, swap_day)
