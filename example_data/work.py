"""What the bench does to a bad stick: which steps, in which order, and whether they pass."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from example_data.scenario import FAMILIES, World

MECHANISMS = ("contamination", "liquid_residue", "out_of_adjustment", "track_wear", "wiper_wear", "spring_fatigue")
CONTAMINATION, LIQUID, ADJUSTMENT, TRACK, WIPER, SPRING = range(6)
MODES = (
    "centre_offset", "jitter", "poor_return", "reduced_reach", "dead_spot", "axis_dead", "click_fault", "mechanical",
)  # fmt: skip
#: Chance of each failure mode given the mechanism (rows as MECHANISMS, columns as the first six MODES).
MODE_CHANCE = np.array([
    [0.48, 0.24, 0.14, 0.04, 0.08, 0.02],
    [0.22, 0.10, 0.55, 0.05, 0.05, 0.03],
    [0.86, 0.02, 0.02, 0.10, 0.00, 0.00],
    [0.30, 0.42, 0.02, 0.04, 0.18, 0.04],
    [0.18, 0.40, 0.05, 0.07, 0.20, 0.10],
    [0.35, 0.02, 0.60, 0.03, 0.00, 0.00],
])  # fmt: skip
#: A clean passes less often on some mechanisms: its chance is multiplied by this (columns air, flush, open).
MECHANISM_FACTOR = np.array([
    [1.00, 1.00, 1.00], [0.30, 0.90, 1.00], [0.10, 0.12, 0.15], [0.05, 0.08, 0.12], [0.06, 0.10, 0.20], [0.02, 0.03, 0.04],
])  # fmt: skip
PASS_CHANCE = np.array([f.pass_chance for f in FAMILIES])

FINALS = ("", "replace_module", "scrap", "recalibrate", "adjust", "resolder", "test_only", "replace_sensor")
NO_FINAL, REPLACE, SCRAP, RECALIBRATE, ADJUST, RESOLDER, TEST_ONLY, REPLACE_SENSOR = range(8)
OUTCOMES = ("pass", "pass_with_note", "fail", "scrapped", "returned_unrepaired", "open", "unknown")
PASS, PASS_NOTE, FAIL, SCRAPPED, RETURNED, OPEN, UNKNOWN = range(7)


@dataclass(frozen=True)
class Policy:
    """How a bench decides. Chances by step; `first_depth` is the chance to begin with air, flush, open."""

    first_depth: tuple[float, float, float]
    straight_swap_worn: float
    straight_swap_other: float
    deeper_same_visit: float
    swap_same_visit: float


NORTH = Policy((0.35, 0.40, 0.25), 0.35, 0.05, 0.55, 0.55)
SOUTH = Policy((0.55, 0.35, 0.10), 0.20, 0.08, 0.40, 0.45)
BENCH = Policy((0.10, 0.30, 0.60), 0.50, 0.05, 0.75, 0.80)
PLAIN = Policy((0.40, 0.35, 0.25), 0.0, 0.0, 0.50, 0.60)


@dataclass(frozen=True)
class Repair:
    """One row per bad stick. steps: depth 1–3 of each clean in order, 0 = none. final: index into FINALS.

    passed_depth: depth of the clean that passed, 0 = none. is_mended: good when it left (any way but a swap).
    deepest: deepest clean of the episode so far. outcome: index into OUTCOMES.
    """

    steps: np.ndarray
    final: np.ndarray
    passed_depth: np.ndarray
    is_mended: np.ndarray
    deepest: np.ndarray
    outcome: np.ndarray


def draw_mechanism(rng, world: World, *, is_worn, is_magnetic) -> np.ndarray:
    """Draw the mechanism behind each failure (index into MECHANISMS), given whether its mode was wear."""
    if world.is_easy:
        return np.where(is_worn, TRACK, CONTAMINATION)
    draw = rng.random(len(is_worn))
    dirt = np.where(draw < 0.22, LIQUID, np.where(draw > np.where(is_magnetic, 0.75, 0.96), ADJUSTMENT, CONTAMINATION))
    worn = np.where(draw < 0.60, TRACK, np.where(draw < 0.85, WIPER, SPRING))
    worn = np.where(is_magnetic, SPRING, worn)
    return np.where(is_worn, worn, dirt)


def draw_mode(rng, mechanism) -> np.ndarray:
    """Draw what was seen (index into MODES) for each mechanism."""
    reached = MODE_CHANCE.cumsum(axis=1)[mechanism]
    return np.minimum((rng.random(len(mechanism))[:, None] > reached).sum(axis=1), 5)


def clean_pass_chance(world: World, family, mechanism, depth, severity) -> np.ndarray:
    """Return the chance that one clean of `depth` (1–3) passes. severity: 0 slight to 1 gross, neutral at 0.5."""
    chance = PASS_CHANCE[family, depth - 1]
    if world.is_easy:
        return chance
    chance = chance * MECHANISM_FACTOR[mechanism, depth - 1]
    odds = chance / (1 - chance) * np.exp(-1.6 * (severity - 0.5))
    return odds / (1 + odds)


def repair(rng, world: World, policy: Policy, *, family, mechanism, severity, deepest, must_finish) -> Repair:
    """Work on bad sticks. deepest: deepest clean already tried in this episode. must_finish: no later visit follows."""
    n = len(family)
    steps, passed = np.zeros((n, 3), int), np.zeros(n, int)
    final, deepest = np.zeros(n, int), deepest.copy()
    swap = rng.random(n) < np.where(mechanism >= TRACK, policy.straight_swap_worn, policy.straight_swap_other)
    tuned = (mechanism == ADJUSTMENT) & (rng.random(n) < 0.7)
    final[tuned] = RECALIBRATE
    is_mended = tuned & (rng.random(n) < 0.88)
    working = ~tuned & ~swap & (deepest < 3)
    wants_swap = (~tuned) & ~working
    first = 1 + np.searchsorted(np.cumsum(policy.first_depth)[:2], rng.random(n))
    for turn in range(3):
        depth = np.where(turn == 0, np.maximum(first, deepest + 1), deepest + 1)
        depth = np.minimum(depth, 3)
        is_pass = working & (rng.random(n) < clean_pass_chance(world, family, mechanism, depth, severity))
        steps[working, turn] = depth[working]
        deepest = np.where(working, depth, deepest)
        passed = np.where(is_pass, depth, passed)
        failed = working & ~is_pass
        goes_on = failed & (deepest < 3) & (rng.random(n) < policy.deeper_same_visit)
        gives_up = failed & ~goes_on
        wants_swap |= gives_up & ((rng.random(n) < policy.swap_same_visit) | must_finish)
        working = goes_on
    wants_swap |= tuned & ~is_mended & must_finish
    is_scrap = wants_swap & (rng.random(n) < world.scrap_share)
    is_half = wants_swap & ~is_scrap & (not world.is_easy) & (rng.random(n) < 0.04)
    final = np.where(is_scrap, SCRAP, np.where(is_half, REPLACE_SENSOR, np.where(wants_swap, REPLACE, final)))
    is_mended |= passed > 0
    outcome = np.where(is_scrap, SCRAPPED, np.where(is_mended | wants_swap, PASS, FAIL))
    if not world.is_easy:
        outcome = np.where((outcome == PASS) & (rng.random(n) < 0.05), PASS_NOTE, outcome)
    return Repair(steps, final, passed, is_mended & ~wants_swap, deepest, outcome)


def action_words(steps: np.ndarray, final: np.ndarray) -> tuple[np.ndarray, list[str]]:
    """Return (code per row, words): the ordered action list `clean_flush+clean_open+replace_module` per code."""
    code = steps @ np.array([1, 4, 16]) + 64 * final
    used, back = np.unique(code, return_inverse=True)
    words = []
    for one in used:
        depths = [(one >> shift) & 3 for shift in (0, 2, 4)]
        done = [("clean_air", "clean_flush", "clean_open")[d - 1] for d in depths if d] + [FINALS[one // 64]]
        words.append("+".join(word for word in done if word) or "test_only")
    return back, words
