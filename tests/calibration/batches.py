"""Supplier batches of known truth: false discovery, whether limits hold, and how often a bad batch is seen.

    python -m tests.calibration.batches [fleets]

Batches came one after another, so they differ in age; each went to some of the sites, sites and families fail unequally often,
and sticks of a controller share its luck. Fleets go through the readings of `facts.batches`, as an answer does.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from statistics import NormalDist

import duckdb
import numpy as np
import pandas as pd

from pipelines.answers.batch_reading import STEPS
from pipelines.estimates.batch_cells import Cells
from pipelines.estimates.batch_law import alikeness, shared_law
from pipelines.estimates.batch_suppliers import Suppliers, supplier_ratios
from pipelines.estimates.batch_verdict import Compared, compare_batches
from pipelines.estimates.equal_age import batch_ratios, matched
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.study_plan import needed_if_known
from pipelines.facts.batches import Batches
from tests.calibration.score import Rule, Sample

#: Days: when the log ends, within which batches come, and over which modules are fitted.
END, COMING, FITTING = 1100.0, 900.0, 1000.0
#: A module is of one of the so many batches that came last.
LATEST = 5
FALSE_DISCOVERY, LEVEL = 0.1, 0.95
#: What a spell holds as words.
WORDS = ("batch_fitted", "batch", "family", "usage_class", "site", "stick", "sensor_type", "depth", "mechanism", "failed_by")


@dataclass(frozen=True)
class Shape:
    """variance: of the luck of controllers (gamma, mean 1); spread: SD of the log ratios of ordinary batches."""

    batches: int
    modules: int
    variance: float = 0.0
    spread: float = 0.0
    sites: int = 8
    few_sites: bool = True


def fleet(rng: np.random.Generator, shape: Shape, ratios: np.ndarray) -> pd.DataFrame:
    """Return the modules as the rows of `described_spell`."""
    units = max(shape.modules // 3, 2)
    family, use, site = rng.integers(0, 4, units), rng.integers(0, 3, units), rng.integers(0, shape.sites, units)
    luck = rng.gamma(1 / shape.variance, shape.variance, units) if shape.variance else np.ones(units)
    of_site, of_family = np.exp(rng.normal(0, 0.4, shape.sites)), np.exp(rng.normal(0, 0.3, 4))
    came = np.sort(rng.uniform(0, COMING, shape.batches))
    home = rng.random((shape.batches, shape.sites)) < (rng.uniform(0.2, 1, shape.batches)[:, None] if shape.few_sites else 1.1)
    unit, fitted = rng.integers(0, units, shape.modules), rng.uniform(0, FITTING, shape.modules)
    latest = np.maximum(np.searchsorted(came, fitted)[:, None] - 1 - np.arange(LATEST), 0)
    weight = rng.random(latest.shape) + home[latest, site[unit][:, None]]
    batch = latest[np.arange(shape.modules), weight.argmax(axis=1)]
    hazard = luck[unit] * of_site[site[unit]] * of_family[family[unit]] * np.array([0.7, 1, 1.5])[use[unit]] * ratios[batch]
    life = 900.0 * (rng.exponential(size=shape.modules) / hazard) ** (1 / 1.6)
    watched = np.maximum(END - fitted, 1) * np.where(rng.random(shape.modules) < 0.1, rng.random(shape.modules), 1)
    at, is_failure = np.minimum(life, watched), life <= watched
    upper = np.where(is_failure, at, np.nan)
    day = 16_000 + fitted.astype(int)
    name = np.char.add("B", np.char.zfill(batch.astype(str), 4))
    return pd.DataFrame({
        "spell_no": np.arange(shape.modules), "slot_no": unit, "unit_no": unit, "life": 0, "module_no": 1, "kind": "first_life",
        "is_fitted_here": True, "batch_fitted": name, "batch": name, "fitted_day": day, "began_on": pd.to_datetime(day, unit="D"),
        "family": np.char.add("F", family[unit].astype(str)), "usage_class": np.array(["light", "normal", "heavy"])[use[unit]],
        "site": np.char.add("S", site[unit].astype(str)), "stick": "L", "sensor_type": "hall", "is_registered": True,
        "is_failure": is_failure, "is_assumed": False, "has_usable_hours": True, "is_age_known_days": True,
        "is_age_known_h": True,
        "depth": "", "mechanism": "", "attempt_number": 0, "failed_by": "",
        **{f"{end}_{unit}": value for unit in ("days", "h")
           for end, value in (("entry", 0.0), ("lower", at), ("upper", upper), ("at", at))},
    })  # fmt: skip


def opened(modules: pd.DataFrame) -> duckdb.DuckDBPyConnection:
    """Return a database in memory with what the readings of batches need; words are numbered, as a warehouse has them."""
    connection = duckdb.connect()
    connection.execute("SET threads = 1")
    connection.register("modules", modules.astype(dict.fromkeys(WORDS, "category")))
    connection.execute("CREATE TABLE described_spell AS SELECT * REPLACE (CAST(began_on AS DATE) AS began_on) FROM modules")
    connection.unregister("modules")
    connection.execute("CREATE TABLE part_batch (batch_id VARCHAR, supplier VARCHAR, part_type VARCHAR, mixed_flag BOOLEAN)")
    connection.execute("CREATE TABLE history_setting AS SELECT 15900.0 AS log_start_day, 17100.0 AS cut_day")
    return connection


@dataclass(frozen=True)
class Seen:
    """numbers: of the batches of `compared`, in its order; whole: how alike the modules of a controller are over all."""

    numbers: np.ndarray
    cells: Cells
    compared: Compared
    whole: float

    @property
    def is_named(self) -> np.ndarray:
        """Tell which batches are called worse or better."""
        return np.array([
            p is not None and p <= FALSE_DISCOVERY and one.p_value <= 1 - LEVEL
            for p, one in zip(self.compared.p_adjusted, self.compared.ratios, strict=True)
        ])  # fmt: skip


def seen(modules: pd.DataFrame, *, noticed: float = 2.0) -> Seen:
    """Read and compare a fleet."""
    connection = opened(modules)
    batches = Batches(connection, is_hours=True, where={})
    steps = batches.steps(STEPS)
    read = batches.cells(steps)
    cells = Cells.of(read.counts, steps, len(read.batches))
    law = shared_law(cells, read.strata, steps)
    squares = batches.alike(law.table(), law.factor)
    connection.close()
    alike = alikeness(squares["by_unit"].to_numpy(), squares["by_module"].to_numpy())
    compared = compare_batches(
        cells,
        alike,
        is_candidate=np.ones(len(read.batches), dtype=bool),
        false_discovery_share=FALSE_DISCOVERY,
        level=LEVEL,
        noticed=noticed,
    )
    whole = max(squares["by_unit"].sum() / squares["by_module"].sum(), 1.0)
    return Seen(np.array([int(name[1:]) for name in read.batches]), cells, compared, float(whole))


def suppliers_of(found: Seen, count: int) -> Suppliers:
    """Compare suppliers who deliver in turn."""
    return supplier_ratios(found.cells, [f"P{number % count}" for number in found.numbers], found.whole)


def batches(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Return the ratios of batches like the others where controllers differ, and of bad ones where they do not."""
    size = {30: 4, 300: 12, 3000: 40}[failures]
    plain, bad = [], []
    for number in range(fleets):
        like = seen(fleet(rng, Shape(size, 2 * failures, variance=0.5), np.ones(size)))
        plain += [(one.ratio, 1.0, number) for one in like.compared.ratios]
        ratios = np.ones(size)
        ratios[size // 2] = 2.0
        found = seen(fleet(rng, Shape(size, 2 * failures), ratios))
        for which, one in zip(found.numbers, found.compared.ratios, strict=True):
            if which == size // 2:
                bad.append((one.ratio, 2.0, number))
    return {
        "ratio of a batch like the others, controllers differ": _sample(plain, Rule.AT_LEAST),
        "ratio of a batch that fails twice as often": _sample(bad, Rule.AT_LEAST),
    }


def _sample(rows: list[tuple[Estimate, float, int]], rule: Rule) -> Sample:
    told = [row for row in rows if row[0].estimate]
    return Sample.of([row[0] for row in told], [row[1] for row in told], rule=rule, fleet=[row[2] for row in told])


def discovery(fleets: int, shape: Shape, *, bad_share: float, bad: float = 2.5, seed: int = 1) -> dict[str, float]:
    """Return over fleets: the mean share of luck among the batches named (luck), the share of fleets that name any by luck (any),
    the coverage of limits of ordinary batches (held), and the share of bad batches named (found)."""
    shares, by_luck, held, found = [], 0, [], []
    for number in range(fleets):
        rng = np.random.default_rng([seed, number])
        is_bad = np.zeros(shape.batches, dtype=bool)
        is_bad[rng.choice(shape.batches, round(bad_share * shape.batches), replace=False)] = True
        ratios = np.where(is_bad, bad, np.exp(rng.normal(0, shape.spread, shape.batches)))
        whole = seen(fleet(rng, shape, ratios))
        is_bad, truth = is_bad[whole.numbers], ratios[whole.numbers]
        shares.append((whole.is_named & ~is_bad).sum() / max(whole.is_named.sum(), 1))
        by_luck += bool((whole.is_named & ~is_bad).any())
        held += [
            one.ratio.low <= true <= one.ratio.high
            for one, true, out in zip(whole.compared.ratios, truth, is_bad, strict=True)
            if not out and one.ratio.estimate and one.ratio.high is not None and one.ratio.low is not None
        ]
        found += whole.is_named[is_bad].tolist()
    return {"luck": float(np.mean(shares)), "any": by_luck / fleets, "held": float(np.mean(held)),
            "found": float(np.mean(found)) if found else float("nan")}  # fmt: skip


def promised(fleets: int, ratio: float, *, variance: float = 0.0, seed: int = 2) -> tuple[float, float, int]:
    """Return the chance that a batch of this ratio, alone among others that are alike, is seen one-sided at 5 %: as its
    information promises and as it came about, on average; and of how many batches."""
    told, hits = [], []
    each = 2 * ratio * np.log(ratio) - 2 * ratio + 2
    for number in range(fleets):
        rng = np.random.default_rng([seed, number])
        ratios = np.ones(30)
        ratios[[7, 12, 17]] = ratio
        whole = seen(fleet(rng, Shape(30, 130 * needed_if_known(ratio), variance), ratios), noticed=ratio)
        ordinary = np.isin(whole.numbers, [7, 12, 17], invert=True)
        alone = batch_ratios(matched(whole.cells, ordinary), np.full(len(ordinary), whole.whole), noticed=ratio)
        for one, out in zip(alone, ~ordinary, strict=True):
            if out and one.p_value is not None:
                told.append(NormalDist().cdf((one.information * each) ** 0.5 - NormalDist().inv_cdf(0.95)))
                hits.append(one.p_value / 2 <= 0.05 and one.observed > one.expected)
    return float(np.mean(told)), float(np.mean(hits)), len(hits)


def main() -> None:
    fleets = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    for batches_, modules in ((20, 2000), (60, 6000), (200, 20_000)):
        for variance in (0.0, 0.5):
            for bad_share in (0.0, 0.1):
                told = discovery(fleets, Shape(batches_, modules, variance), bad_share=bad_share)
                print(f"{batches_} batches, {modules} modules, variance {variance}, bad {bad_share:.0%}: luck among those named "
                      f"{told['luck']:.1%}, any by luck {told['any']:.1%}, limits hold {told['held']:.1%}, "
                      f"bad ones named {told['found']:.0%}", flush=True)  # fmt: skip
    for ratio in (1.5, 2.0, 3.0):
        share, count = promised(10 * fleets, ratio)
        print(
            f"ratio {ratio}: seen alone in {share:.0%} of {count} batches with just enough on record (promised 80 %)", flush=True
        )


if __name__ == "__main__":
    main()
