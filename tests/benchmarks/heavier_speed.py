"""The heavier estimates of 30 families × 3 usage classes from counts, CPU seconds side by side with one plain fit of each.

    .venv/bin/python -m tests.benchmarks.heavier_speed [spells]

Counts are what SQL hands over from a million spells: whole hours, rounded to a two-thousandth of the longest life. The
ratio is to the Kaplan–Meier curves of the same groups. The aim for all of them together is 2 s, and
2 s for what a clean gives back, estimated from 10,000 gaps.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import lifelines  # noqa: F401  imports apart
import numpy as np
import pandas as pd
import scipy.optimize
import scipy.stats  # noqa: F401

from pipelines.estimates.comparison import comparison
from pipelines.estimates.competing import cumulative_incidence
from pipelines.estimates.dating import dating
from pipelines.estimates.fixed_shape import fixed_shape
from pipelines.estimates.gray import gray_test
from pipelines.estimates.lognormal import lognormal
from pipelines.estimates.mean_cumulative import difference, mean_cumulative
from pipelines.estimates.pooled_life import pooled_life
from pipelines.estimates.pooled_share import pooled_share
from pipelines.estimates.ranks import ranks
from pipelines.estimates.restoration import restoration
from pipelines.estimates.survival import survival
from pipelines.estimates.trend import trend
from pipelines.estimates.turnbull import turnbull
from pipelines.estimates.weibull import weibull
from tests.estimates.gaps import random_fleet

BY = ["family", "usage_class"]
MECHANISMS = ["wear", "dust", "spring", "housing", "not_recorded"]
STEP = 5.0


def main() -> None:
    """Make the counts and time each estimate."""
    spells = counts(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000, seed=11)
    units, failures = watched(9_000, seed=12)
    exact = summed(spells.assign(lower=spells["at"], upper=spells["at"].where(spells["is_failure"], np.inf)))
    visits = summed(spells[["lower", "upper", *BY, "entry", "at", "is_failure", "mechanism", "spell_count"]])
    named = spells.assign(mechanism=spells["mechanism"].where(spells["is_failure"], None))
    cells = cleans(seed=13)
    small = visited(90 * 200, seed=14)
    laws: dict[str, list] = {}
    parts: list[tuple[str, Callable[[], object]]] = [
        ("Kaplan-Meier", lambda: survival(exact, by=BY)),
        ("Weibull with ratio limits", lambda: laws.update(weibull=weibull(visits, by=BY))),
        ("lognormal with ratio limits", lambda: laws.update(lognormal=lognormal(visits, by=BY))),
        ("laws compared", lambda: [comparison(*pair) for pair in zip(laws["weibull"], laws["lognormal"], strict=True)]),
        ("assumed shape", lambda: fixed_shape(visits, by=BY, shape=2.0)),
        ("dating at the visit", lambda: dating(visits, by=BY, between=laws["weibull"])),
        ("Turnbull, 200 spells a group", lambda: turnbull(small, by=BY)),
        ("cumulative incidence of 5 mechanisms", lambda: cumulative_incidence(named, by=BY)),
        ("Gray's test, 30 families", lambda: gray_test(named.assign(entry=0.0), group="family", mechanism="wear")),
        ("mean cumulative number, 9,000 units", lambda: mean_cumulative(failures, units, by=BY)),
        ("difference of two groups", lambda: difference(failures, units, by=["family"], first=("F00",), second=("F01",))),
        ("trend", lambda: trend(failures, units, by=BY)),
        ("pooled lives and ranks", lambda: ranked(pooled_life(visits, by=BY))),
        ("pooled shares", lambda: pooled_share(cells).draws()),
    ]
    gaps = {words: random_fleet(1, controllers=1000, kept=(0.3, 0.6, 0.8), **more).gaps.head(10_000)
            for words, more in (("known dates", {}), ("visits", {"every": 100.0}))}  # fmt: skip
    found = [(what, cpu(run)) for what, run in parts]
    for what, seconds in found:
        print(f"{what:38s} {seconds:6.3f} s  {seconds / found[0][1]:5.1f} of the curves")
    print(f"{'all of them':38s} {sum(seconds for _, seconds in found):6.3f} s")
    for words, rows in gaps.items():
        print(f"restoration, {len(rows):,} gaps, {words:11s} {cpu(lambda rows=rows: restoration(rows, by=[])):11.3f} s")


def cpu(run: Callable[[], object]) -> float:
    """Return the CPU seconds of the better of two runs."""
    spent = []
    for _ in range(2):
        began = time.process_time()
        run()
        spent.append(time.process_time() - began)
    return min(spent)


def ranked(lives) -> object:
    scales = lives.draws()[1][:, :-1]
    return ranks(scales, estimates=[one.median for one in lives.families], sizes=[one.spells for one in lives.families])


def counts(size: int, *, seed: int) -> pd.DataFrame:
    """Return counts of `family`, `usage_class`, `entry`, `lower`, `upper`, `at`, `is_failure`, `mechanism`."""
    rng = np.random.default_rng(seed)
    rows = groups(size, rng)
    life = (900 + 8 * rows["group"]) * rng.weibull(1.8, size)
    entry = np.where(rng.random(size) < 0.2, rng.uniform(0, 400, size), 0.0)
    last = entry + rng.uniform(20, 1500, size)
    rows["entry"] = np.floor(entry / STEP) * STEP
    rows["at"] = np.maximum(np.round(np.minimum(life, last) / STEP), rows["entry"] / STEP + 1) * STEP
    rows["is_failure"] = life <= last
    notice = STEP * rng.integers(1, 12, size)
    rows["lower"] = np.where(rows["is_failure"], np.maximum(rows["at"] - notice, rows["entry"]), rows["at"])
    rows["upper"] = np.where(rows["is_failure"], rows["at"], np.inf)
    rows["mechanism"] = np.array(MECHANISMS, dtype=object)[rng.choice(5, size, p=[0.4, 0.3, 0.1, 0.1, 0.1])]
    rows.loc[~rows["is_failure"], "mechanism"] = "not_recorded"
    rows = rows[life > entry]
    names = [*BY, "entry", "lower", "upper", "at", "is_failure", "mechanism"]
    return rows.groupby(names, observed=True).size().rename("spell_count").reset_index()


def summed(spells: pd.DataFrame) -> pd.DataFrame:
    """Return the counts without their mechanism."""
    names = [*BY, "entry", "lower", "upper", "at", "is_failure"]
    return spells.groupby(names, observed=True)["spell_count"].sum().reset_index()


def visited(size: int, *, seed: int) -> pd.DataFrame:
    """Return counts of few spells whose failures lie between visits."""
    rng = np.random.default_rng(seed)
    rows = groups(size, rng)
    life, last = 900 * rng.weibull(1.8, size), rng.uniform(100, 1500, size)
    width = rng.choice([30.0, 60.0, 90.0], size)
    before = np.floor(np.minimum(life, last) / width) * width
    is_failure = life <= last
    rows = rows.assign(entry=0.0, lower=np.where(is_failure, before, np.maximum(before, width)))
    rows["upper"] = np.where(is_failure, before + width, np.inf)
    return rows.groupby([*BY, "entry", "lower", "upper"], observed=True).size().rename("spell_count").reset_index()


def watched(size: int, *, seed: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return units (`by`, `unit`, `entry`, `exit`) and their failures (`unit`, `at`)."""
    rng = np.random.default_rng(seed)
    units = groups(size, rng).assign(unit=np.arange(size), entry=0.0, exit=np.round(rng.uniform(50, 900, size)))
    often = rng.poisson(units["exit"] / 300)
    failures = pd.DataFrame({"unit": np.repeat(units["unit"], often)})
    failures["at"] = np.ceil(rng.random(len(failures)) * np.repeat(units["exit"].to_numpy(), often))
    return units.drop(columns="group"), failures


def cleans(*, seed: int) -> pd.DataFrame:
    """Return `method`, `family`, `k`, `n` of 3 depths × 30 families."""
    rng = np.random.default_rng(seed)
    cells = pd.DataFrame([(depth, f"F{number:02d}") for depth in ("air", "flush", "open") for number in range(30)])
    cells.columns = ["method", "family"]
    cells["n"] = rng.integers(3, 200, len(cells))
    return cells.assign(k=rng.binomial(cells["n"], 0.7))


def groups(size: int, rng: np.random.Generator) -> pd.DataFrame:
    group = rng.integers(0, 90, size)
    family = np.array([f"F{number:02d}" for number in range(30)])[group // 3]
    return pd.DataFrame({"group": group, "family": family, "usage_class": np.array(["light", "normal", "heavy"])[group % 3]})


if __name__ == "__main__":
    main()
