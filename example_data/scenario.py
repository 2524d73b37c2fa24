"""The invented scenario: families, sites, batches and every number the simulation takes as true.

Nothing here is measured. Family, supplier, seller and technician names are made up for this example, and the lives,
pass chances and prices were chosen to give a fleet in which each answer has something to find.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

LOG_START = np.datetime64("2023-07-01", "D")
#: The last day of the log, counted in days from LOG_START (2026-06-30).
LAST_DAY = 1095
NOTICE_DAYS = 14
DEPTHS = ("clean_air", "clean_flush", "clean_open")
SITES = ("north", "south", "bench")
USAGE_CLASSES = ("light", "normal", "heavy")
HOURS_PER_WEEK = np.array([8.0, 18.0, 34.0])
USAGE_SHARES = np.array([0.3, 0.45, 0.25])


@dataclass(frozen=True)
class Family:
    """One controller family, a row of families.csv. Lives are Weibull in play hours: (shape, scale [h]).

    wear, contamination: the two modes of the hard world. first_life, recurrence, is_wear_only: the easy world.
    pass_chance: of one clean by air, flush, open. weights: how common it is in north, south, bench.
    """

    name: str
    sensor_type: str
    sticks: str
    wear: tuple[float, float]
    contamination: tuple[float, float]
    pass_chance: tuple[float, float, float]
    first_life: tuple[float, float]
    recurrence: tuple[float, float]
    is_wear_only: bool
    module_cost: float
    resale: float
    weights: tuple[float, float, float]


def _families() -> tuple[Family, ...]:
    text = (Path(__file__).parent / "families.csv").read_text(encoding="utf-8")
    return tuple(_family(row) for row in csv.DictReader(text.splitlines()))


def _family(row: dict[str, str]) -> Family:
    def numbers(*names: str) -> tuple[float, ...]:
        return tuple(float(row[name]) for name in names)

    return Family(
        row["name"], row["sensor_type"], row["sticks"],
        wear=numbers("wear_shape", "wear_scale_h"),
        contamination=numbers("dirt_shape", "dirt_scale_h"),
        pass_chance=numbers("pass_air", "pass_flush", "pass_open"),
        first_life=numbers("first_life_shape", "first_life_scale_h"),
        recurrence=numbers("recurrence_shape", "recurrence_scale_h"),
        is_wear_only=row["is_wear_only"] == "1",
        module_cost=float(row["module_cost"]), resale=float(row["resale"]),
        weights=numbers("weight_north", "weight_south", "weight_bench"),
    )  # fmt: skip


@dataclass(frozen=True)
class Batch:
    """Modules delivered by one supplier; `hazard_ratio` multiplies both failure modes of each module in it."""

    batch_id: str
    supplier: str
    sensor_type: str
    received_day: int
    hazard_ratio: float


def _batches() -> tuple[Batch, ...]:
    suppliers = {
        "carbon_pot": ("Ochre Parts", "Teal Parts", "Umber Parts"),
        "conductive_plastic": ("Teal Parts",),
        "hall": ("Sable Parts",),
        "tmr": ("Sable Parts",),
    }
    kind_word = {"carbon_pot": "C", "conductive_plastic": "P", "hall": "H", "tmr": "T"}
    found = []
    for kind, names in suppliers.items():
        for turn, day in enumerate(range(-60, LAST_DAY - 30, 50 if kind == "carbon_pot" else 130)):
            supplier = names[turn % len(names)]
            batch_id = f"{supplier[0]}{kind_word[kind]}-{turn + 1:02d}"
            found.append(Batch(batch_id, supplier, kind, day, 1.0))
    return tuple(
        Batch(one.batch_id, one.supplier, one.sensor_type, one.received_day, BAD_BATCH_RATIO)
        if one.batch_id == BAD_BATCH
        else one
        for one in found
    )


BAD_BATCH = "UC-09"
BAD_BATCH_RATIO = 3.0
FAMILIES = _families()
BATCHES = _batches()


@dataclass(frozen=True)
class World:
    """How kind the simulated world is. The defaults are the hard, messy one; `EASY` is the plain one."""

    is_easy: bool = False
    frailty_variance: float = 0.2
    #: Contamination comes this much faster at each site (north, south).
    site_dust: tuple[float, float] = (1.0, 1.3)
    #: One seat in fifty, beside the snack counter, has this much more contamination.
    snack_seat_share: float = 0.02
    snack_seat_dust: float = 2.5
    unseen_share: float = 0.12
    look_at_other_share: float = 0.4
    missed_fault_share: float = 0.03
    intermittent_share: float = 0.10
    not_tested_share: float = 0.03
    false_reports_per_year: float = 0.12
    other_faults_per_year: float = 0.10
    retirements_per_year: float = 0.10
    check_every_days: tuple[int, int] = (210, 150)
    used_share: float = 0.12
    refurbished_share: float = 0.05
    unknown_age_share: float = 0.03
    scrap_share: float = 0.04
    false_pass_share: float = 0.03
    hours_missing_share: float = 0.03
    season_swing: float = 0.15
    bench_days: int = 8
    #: How much of the contamination age each depth takes away: air, flush, open.
    restoration: tuple[float, float, float] = (0.35, 0.65, 0.92)
    bench_share: float = 0.14
    batches: tuple[Batch, ...] = field(default=BATCHES, repr=False)


EASY = World(
    is_easy=True, frailty_variance=0.0, site_dust=(1.0, 1.0), snack_seat_share=0.0, unseen_share=0.0,
    missed_fault_share=0.0, intermittent_share=0.0, not_tested_share=0.0, false_reports_per_year=0.0,
    other_faults_per_year=0.0, used_share=0.0, refurbished_share=0.0, unknown_age_share=0.0, scrap_share=0.0,
    false_pass_share=0.0, hours_missing_share=0.0, season_swing=0.0, bench_days=0, bench_share=0.0,
    restoration=(1.0, 1.0, 1.0),
    batches=tuple(Batch(b.batch_id, b.supplier, b.sensor_type, b.received_day, 1.0) for b in BATCHES),
)  # fmt: skip
