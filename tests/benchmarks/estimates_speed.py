"""Estimates from counts against lifelines on rows, side by side in one run; CPU seconds, reading included.

    python tests/benchmarks/estimates_speed.py [spells]

Both sides start from the same DuckDB table of spells (whole hours, one in five entered late) and end with the same
numbers. Import times are left out on both sides; the best of several runs counts, since the machine may be shared.
The keys (family, usage class) are once text and once codes (ENUM): text is dear to read by the row, and dear to
group by. One lifelines fit of a curve costs 5 ms however small its table is, so 30 curves cannot take under 0.15 s.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from contextlib import closing

import duckdb
import lifelines
import numpy as np
import pandas as pd

from pipelines.estimates.survival import survival
from pipelines.estimates.weibull import weibull

SPELLS = 1_000_000
FAMILIES = [f"family {number:02d}" for number in range(30)]
CLASSES = ["light", "normal", "heavy"]

EXITS = """
    select family, usage_class, end_h as at, is_failure, count(*) as spell_count from spell group by all
"""
FAMILY_EXITS = "select family, end_h as at, is_failure, count(*) as spell_count from spell group by all"
ENTRIES = """
    select family, usage_class, entry_h as entry, count(*) as spell_count from spell where entry_h > 0 group by all
"""
FAMILY_ENTRIES = """
    select family, entry_h as entry, count(*) as spell_count from spell where entry_h > 0 group by all
"""
ROWS = "select family, usage_class, entry_h, end_h, is_failure from spell"


def main() -> None:
    spell_count = int(sys.argv[1]) if len(sys.argv) > 1 else SPELLS
    for keys in ("text", "codes"):
        with closing(duckdb.connect()) as con:
            con.execute("set threads = 1")
            write_spells(con, spell_count, keys=keys, seed=20)
            compare(
                f"Kaplan-Meier, 30 families, keys as {keys}",
                lambda con=con: curves_from_counts(con),
                lambda con=con: curves_from_rows(con),
                runs=3,
                digits=1e-9,
            )
            compare(
                f"Weibull with ratio limits, 90 groups, keys as {keys}",
                lambda con=con: fits_from_counts(con),
                lambda con=con: fits_from_rows(con),
                runs=1,
                digits=1e-5,
            )


def write_spells(con: duckdb.DuckDBPyConnection, spell_count: int, *, keys: str, seed: int) -> None:
    """Make a table of spells with a Weibull life for each of 90 groups, some entered late, censored at random."""
    rng = np.random.default_rng(seed)
    group = rng.integers(0, 90, spell_count)
    failure_h = np.ceil((600 + 5 * group) * rng.weibull(1.3 + 0.02 * group))
    censor_h = np.ceil(rng.uniform(0, 1500, spell_count))
    end_h = np.minimum(failure_h, censor_h)
    is_late = rng.random(spell_count) < 0.2
    spells = pd.DataFrame(
        {
            "family": pd.Categorical.from_codes(group // 3, FAMILIES),
            "usage_class": pd.Categorical.from_codes(group % 3, CLASSES),
            "entry_h": np.where(is_late, np.floor(end_h * rng.random(spell_count)), 0.0),
            "end_h": end_h,
            "is_failure": failure_h <= censor_h,
        }
    )
    if keys == "text":
        spells = spells.astype({"family": object, "usage_class": object})
    con.register("made", spells)
    con.execute("create table spell as select * from made")


def curves_from_counts(con: duckdb.DuckDBPyConnection) -> np.ndarray:
    curves = survival(con.execute(FAMILY_EXITS).df(), by=["family"], entries=con.execute(FAMILY_ENTRIES).df())
    return curves.loc[curves["at"] > 0, ["surviving_share", "low", "high"]].to_numpy()


def curves_from_rows(con: duckdb.DuckDBPyConnection) -> np.ndarray:
    found = []
    for _, rows in con.execute(ROWS).df().groupby("family", observed=True):
        fitter = lifelines.KaplanMeierFitter().fit(rows["end_h"], rows["is_failure"], entry=rows["entry_h"])
        at = np.sort(rows["end_h"].unique())
        found.append(np.column_stack([fitter.survival_function_.loc[at], fitter.confidence_interval_.loc[at]]))
    return np.concatenate(found)


def fits_from_counts(con: duckdb.DuckDBPyConnection) -> np.ndarray:
    exits = con.execute(EXITS).df().rename(columns={"at": "lower"})
    exits["upper"] = np.where(exits["is_failure"], exits["lower"], np.inf)
    fits = weibull(exits, by=["family", "usage_class"], entries=con.execute(ENTRIES).df())
    return np.array([[fit.shape.estimate, fit.scale.estimate] for fit in fits])


def fits_from_rows(con: duckdb.DuckDBPyConnection) -> np.ndarray:
    found = []
    for _, rows in con.execute(ROWS).df().groupby(["family", "usage_class"], observed=True):
        fitter = lifelines.WeibullFitter().fit(rows["end_h"], rows["is_failure"], entry=rows["entry_h"])
        found.append([fitter.rho_, fitter.lambda_])
    return np.array(found)


def compare(what: str, counts: Callable[[], np.ndarray], rows: Callable[[], np.ndarray], *, runs: int, digits: float) -> None:
    """Print both CPU times and their ratio; stop if the numbers differ."""
    ours, ours_cpu = timed(counts, runs=5)
    theirs, theirs_cpu = timed(rows, runs=runs)
    apart = float(np.nanmax(abs(ours - theirs) / np.maximum(abs(theirs), 1e-300)))
    print(
        f"{what}: from counts {ours_cpu:.3f} s, lifelines on rows {theirs_cpu:.3f} s, "
        f"{theirs_cpu / ours_cpu:.1f} times faster; numbers differ by {apart:.1e}"
    )
    if not apart <= digits:
        raise SystemExit(f"{what}: the numbers differ by more than {digits:.0e}")


def timed(run: Callable[[], np.ndarray], *, runs: int) -> tuple[np.ndarray, float]:
    run_cpu = []
    for _ in range(runs):
        start = time.process_time()
        found = run()
        run_cpu.append(time.process_time() - start)
    return found, min(run_cpu)


if __name__ == "__main__":
    main()
