"""Codes → words, day numbers → dates, unit numbers → tags: how simulated numbers look in the tables."""

from __future__ import annotations

import numpy as np

from example_data.scenario import FAMILIES, LAST_DAY, LOG_START

SITE_LETTER = np.array(["N", "S", "B"], object)


def words(choices, codes) -> np.ndarray:
    """Return the word of each code; a code below zero gives a blank."""
    lookup = np.array([*choices, None], dtype=object)
    return lookup[np.where(np.asarray(codes) < 0, len(choices), codes)]


def dates(day) -> np.ndarray:
    """Return calendar dates (datetime64[s]) of days counted from LOG_START; days outside the log become blank."""
    day = np.asarray(day)
    inside = (day > -2000) & (day <= LAST_DAY)
    whole = np.where(inside, day, 0).astype(int).astype("timedelta64[D]")
    return np.where(inside, LOG_START + whole, np.datetime64("NaT", "D")).astype("datetime64[s]")


def unit_ids(arcades, bench) -> np.ndarray:
    """Return the asset tag or serial of each unit, arcade units first. The three sites number theirs differently."""
    site = arcades.register.site
    number = np.arange(len(site))
    north, south = np.char.mod("NA-%05d", number), np.char.mod("%07d", 1200 + number)
    tags = np.where(site == 0, north, south).astype(object)
    if bench is None:
        return tags
    serials = np.array([f"7{i * 7919 % 10**8:08d}{i:09d}" for i in range(len(bench.units.lot))], object)
    return np.concatenate([tags, serials])


def stick_words(family, slot) -> np.ndarray:
    """Return L, R or S (the unit has a single stick)."""
    single = np.array([f.sticks == "S" for f in FAMILIES])[family]
    return np.where(single, "S", np.array(["L", "R"], object)[slot])
