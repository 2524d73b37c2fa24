"""The invented scenario: families, sites, batches and every number the simulation takes as true.

Nothing here is measured. Family, supplier, seller and technician names are made up for this example, and the lives,
pass chances and prices were chosen to give a fleet in which each answer has something to find.
"""

from __future__ import annotations

from dataclasses import dataclass, field

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
    """One controller family. Wear and contamination are Weibull in play hours: shape, scale [h]."""

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
    # name, sensor, sticks, wear, contamination, pass by depth, easy: first life, recurrence, by wear?; cost, resale,
    # weight in north, south, bench
    rows = (
        ("Ambrel", "carbon_pot", "L+R", (2.6, 1900), (1.4, 1100), (0.45, 0.68, 0.86), (1.4, 800), (1.0, 420), False, 2.4, 34, (9, 8, 12)),
        ("Brindlow", "carbon_pot", "L+R", (2.2, 1500), (1.3, 1400), (0.35, 0.60, 0.80), (1.6, 950), (1.0, 520), False, 2.1, 29, (8, 8, 10)),
        ("Corvath", "carbon_pot", "L+R", (3.0, 1300), (1.2, 1600), (0.30, 0.50, 0.72), (2.6, 900), (1.3, 240), True, 2.2, 31, (7, 6, 9)),
        ("Dunmarl", "conductive_plastic", "L+R", (2.4, 2600), (1.5, 1000), (0.50, 0.72, 0.90), (1.5, 1000), (1.0, 640), False, 3.9, 46, (8, 9, 8)),
        ("Elspret", "hall", "L+R", (2.0, 6000), (1.2, 1800), (0.40, 0.55, 0.78), (1.2, 1300), (1.0, 800), False, 5.6, 58, (6, 6, 5)),
        ("Fossrel", "carbon_pot", "L+R", (2.8, 1700), (1.6, 900), (0.42, 0.66, 0.84), (1.8, 700), (1.2, 450), False, 2.3, 33, (9, 10, 10)),
        ("Grimmock", "carbon_pot", "L+R", (2.5, 1100), (1.3, 1000), (0.28, 0.52, 0.75), (2.2, 750), (1.2, 210), True, 1.9, 22, (9, 8, 14)),
        ("Hobbrel", "tmr", "L+R", (2.0, 8000), (1.1, 2500), (0.38, 0.50, 0.74), (1.1, 1600), (1.0, 900), False, 6.8, 64, (4, 4, 3)),
        ("Ivelmot", "carbon_pot", "S", (2.4, 1600), (1.4, 1200), (0.48, 0.70, 0.88), (1.4, 850), (1.0, 480), False, 2.0, 19, (5, 6, 6)),
        ("Jostrel", "conductive_plastic", "L+R", (2.3, 2200), (1.3, 1300), (0.44, 0.65, 0.82), (2.3, 1100), (1.1, 330), True, 3.7, 44, (7, 7, 7)),
        ("Kelverin", "carbon_pot", "S", (2.7, 1400), (1.5, 800), (0.50, 0.74, 0.90), (1.5, 650), (1.0, 380), False, 2.1, 18, (5, 6, 6)),
        ("Lorquay", "hall", "L+R", (2.2, 5000), (1.3, 1500), (0.36, 0.58, 0.80), (1.3, 1200), (1.0, 700), False, 5.2, 55, (5, 5, 4)),
    )  # fmt: skip
    return tuple(Family(*row) for row in rows)


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
