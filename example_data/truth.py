"""The known truth behind a made fleet, per family and overall.

Easy world: first life is exactly Weibull(shape, scale) in play hours whatever the use, a clean passes with the stated
chance by family and depth, and after a passed clean the next failure is exactly Weibull(recurrence shape, scale).
Days depend on who uses the stick how much, so how many cleans hold 90 days is counted from the simulation.
Hard world: first life mixes two modes, a shared liking for trouble per controller, two sites and a few dusty seats;
B10 and median are of that mix, for modules of ordinary batches. How long cleans hold is counted from the simulation.
"""

from __future__ import annotations

import math

import pandas as pd

from example_data.scenario import (
    BAD_BATCH,
    BAD_BATCH_RATIO,
    DEPTHS,
    FAMILIES,
    Family,
    World,
)
from example_data.work import TRACK

HORIZON_DAYS = 90
HORIZON_H = 200.0


def stated(world: World, *, cleans: pd.DataFrame, tries: pd.DataFrame) -> dict:
    """Return the truth as plain numbers: `families` by name, `bad_batch`, and what the world adds to them."""
    families = {f.name: _easy(f) if world.is_easy else _hard(world, f) for f in FAMILIES}
    for name, one in families.items():
        one |= _held(cleans[cleans["family"] == name])
        one["same_day_pass_share"] = _passed(tries[tries["family"] == name])
    ratio = 1.0 if world.is_easy else BAD_BATCH_RATIO
    return {
        "is_easy": world.is_easy,
        "families": families,
        "bad_batch": {"batch_id": BAD_BATCH, "hazard_ratio": ratio},
        "frailty_variance": world.frailty_variance,
        "site_dust": {"north": world.site_dust[0], "south": world.site_dust[1]},
        "snack_seats": {"share": world.snack_seat_share, "contamination_ratio": world.snack_seat_dust},
        "usage_effect_per_hour": 1.0,
        "restoration_of_contamination": dict(zip(DEPTHS, world.restoration, strict=True)),
    }


def _easy(family: Family) -> dict:
    shape, scale = family.first_life
    again_shape, again_scale = family.recurrence
    hold = math.exp(-((HORIZON_H / again_scale) ** again_shape))
    return {
        "mechanism": "track_wear" if family.is_wear_only else "contamination",
        "first_life": {
            "shape": shape, "scale_h": scale, "b10_h": scale * (-math.log(0.9)) ** (1 / shape),
            "median_h": scale * math.log(2) ** (1 / shape),
        },
        "recurrence": {
            "shape": again_shape, "scale_h": again_scale, "median_h": again_scale * math.log(2) ** (1 / again_shape),
        },
        "pass_chance": dict(zip(DEPTHS, family.pass_chance, strict=True)),
        "hold_at_200_h": hold,
        "durable_at_200_h": {d: p * hold for d, p in zip(DEPTHS, family.pass_chance, strict=True)},
    }  # fmt: skip


def _hard(world: World, family: Family) -> dict:
    return {
        "first_life": {"b10_h": _life_quantile(world, family, 0.10), "median_h": _life_quantile(world, family, 0.50)},
        "wear": {"shape": family.wear[0], "scale_h": family.wear[1]},
        "contamination": {"shape": family.contamination[0], "scale_h": family.contamination[1]},
        "pass_chance_if_contamination": dict(zip(DEPTHS, family.pass_chance, strict=True)),
    }


def _life_quantile(world: World, family: Family, failed_share: float) -> float:
    low, high = 0.0, 50_000.0
    for _ in range(60):
        middle = (low + high) / 2
        if _mixed_survival(world, family, middle) > 1 - failed_share:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _mixed_survival(world: World, family: Family, hours: float) -> float:
    """Return the share of modules still good at `hours`, over sites, seats and the gamma frailty (Laplace transform)."""
    wear = (hours / family.wear[1]) ** family.wear[0]
    dirt = (hours / family.contamination[1]) ** family.contamination[0]
    north, south = family.weights[:2]
    snack, total = world.snack_seat_share, 0.0
    for site_share, dust in zip((north / (north + south), south / (north + south)), world.site_dust, strict=True):
        for seat_share, ratio in ((1 - snack, 1.0), (snack, world.snack_seat_dust)):
            hazard = wear + dirt * dust * ratio
            total += site_share * seat_share * (1 + world.frailty_variance * hazard) ** (-1 / world.frailty_variance)
    return total


def _held(cleans: pd.DataFrame) -> dict:
    held = cleans["hold_days"] > HORIZON_DAYS
    return {
        "hold_at_90_days": float(held.mean()) if len(cleans) else None,
        "hold_at_90_days_by_depth": {
            word: float(held[cleans["depth"] == depth].mean()) if (cleans["depth"] == depth).any() else None
            for depth, word in enumerate(DEPTHS, start=1)
        },
        "passed_cleans": len(cleans),
    }


def _passed(tries: pd.DataFrame) -> dict:
    """Return the share of arcade cleans that passed, by depth: all, and by whether the mechanism was wear."""
    worn = tries["mechanism"] >= TRACK
    groups = {"all": tries, "worn": tries[worn], "other": tries[~worn]}
    return {word: {d: _share(part[part["depth"] == k]) for k, d in enumerate(DEPTHS, start=1)} for word, part in groups.items()}


def _share(tries: pd.DataFrame) -> float | None:
    return float(tries["is_passed"].mean()) if len(tries) else None
