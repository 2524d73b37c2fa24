"""Draws of lives in play hours, and the seasonal clock that turns play hours into days."""

from __future__ import annotations

import numpy as np

from example_data.scenario import FAMILIES, LAST_DAY, World

WEAR_SHAPE, WEAR_SCALE = (np.array(column, float) for column in zip(*(f.wear for f in FAMILIES), strict=True))
DIRT_SHAPE, DIRT_SCALE = (np.array(column, float) for column in zip(*(f.contamination for f in FAMILIES), strict=True))
FIRST_SHAPE, FIRST_SCALE = (np.array(column, float) for column in zip(*(f.first_life for f in FAMILIES), strict=True))
AGAIN_SHAPE, AGAIN_SCALE = (np.array(column, float) for column in zip(*(f.recurrence for f in FAMILIES), strict=True))
IS_WEAR_ONLY = np.array([f.is_wear_only for f in FAMILIES])
#: After a clean that passed on a worn track the fault is back after a mean of this share of the wear scale.
WORN_COMEBACK_SHARE = 0.08


def remaining_h(rng, shape, scale_h, *, age_h=0.0, hazard_ratio=1.0) -> np.ndarray:
    """Draw the play hours [h] still to go for Weibull lives that have reached `age_h` [h]."""
    shape, scale_h, age_h, hazard_ratio = np.broadcast_arrays(shape, scale_h, age_h, hazard_ratio)
    spent = (age_h / scale_h) ** shape
    reached = (spent + rng.standard_exponential(shape.shape) / hazard_ratio) ** (1 / shape)
    return np.maximum(reached * scale_h - age_h, 0.01)


def new_module_h(rng, world: World, family, *, hazard_ratio, dust, age_h=0.0) -> tuple[np.ndarray, np.ndarray]:
    """Draw (wear, contamination) play hours to failure [h] of modules at `age_h`; inf for a mode that is absent.

    family: index into FAMILIES. hazard_ratio: frailty × batch, on both modes. dust: site × seat, on contamination.
    """
    if world.is_easy:
        life = remaining_h(rng, FIRST_SHAPE[family], FIRST_SCALE[family], age_h=age_h, hazard_ratio=hazard_ratio)
        worn = IS_WEAR_ONLY[family]
        return np.where(worn, life, np.inf), np.where(worn, np.inf, life)
    wear = remaining_h(rng, WEAR_SHAPE[family], WEAR_SCALE[family], age_h=age_h, hazard_ratio=hazard_ratio)
    dirt = remaining_h(rng, DIRT_SHAPE[family], DIRT_SCALE[family], age_h=age_h, hazard_ratio=hazard_ratio * dust)
    return wear, dirt


def after_clean_h(rng, world: World, family, *, is_worn, dirt_age_h, hazard_ratio, dust) -> np.ndarray:
    """Draw play hours [h] to the next failure of the mode that was cleaned away.

    dirt_age_h: contamination age [h] left after the clean. is_worn: the fault was wear, which no clean resets.
    """
    if world.is_easy:
        return remaining_h(rng, AGAIN_SHAPE[family], AGAIN_SCALE[family], hazard_ratio=hazard_ratio)
    dirt = remaining_h(
        rng, DIRT_SHAPE[family], DIRT_SCALE[family], age_h=dirt_age_h, hazard_ratio=hazard_ratio * dust
    )
    worn = remaining_h(rng, 1.0, WEAR_SCALE[family] * WORN_COMEBACK_SHARE)
    return np.where(is_worn, worn, dirt)


class Season:
    """Play through the year: winter is busier. `play_days` is the day count with that swing in it."""

    def __init__(self, swing: float) -> None:
        self.days = np.arange(-800.0, LAST_DAY + 4000.0)
        rate = 1 + swing * np.cos(2 * np.pi * (self.days - 184) / 365.25)
        self.played = np.concatenate([[0.0], np.cumsum((rate[1:] + rate[:-1]) / 2)])

    def play_days(self, day) -> np.ndarray:
        """Return the swing-weighted day count at calendar `day` (days from LOG_START)."""
        return np.interp(day, self.days, self.played)

    def day_of(self, play_days) -> np.ndarray:
        """Return the calendar day at which the swing-weighted count is reached; inf beyond the horizon."""
        found = np.interp(np.minimum(play_days, self.played[-1]), self.played, self.days)
        return np.where(np.asarray(play_days) >= self.played[-1], np.inf, found)
