"""The early alarm replayed over 200 batches and a million modules, reading included; CPU seconds of the better of two runs.

    .venv/bin/python -m tests.benchmarks.batch_alarm_speed
"""

from __future__ import annotations

import duckdb
import numpy as np
import pandas as pd

from pipelines.answers.batch_alarm import batch_alarm
from pipelines.answers.question import asked
from pipelines.facts.build import VIEWS, build, sql_text
from pipelines.settings import Settings
from tests.benchmarks.heavier_speed import cpu
from tests.facts.warehouse_in_memory import filled

MODULES, BATCHES, FAMILIES, KINDS, SITES, DAYS = 1_000_000, 200, 10, 5, 10, 1825
#: What a warehouse holds as numbered words.
WORDS = ("family", "usage_class", "site", "batch", "batch_fitted")
#: Days since 1970-01-01 on which the log begins.
START = 18_000


def main() -> None:
    connection = made_histories(np.random.default_rng(1))
    words = asked("batch-alarm", by=(), where={}, clock=None, level=None, settings=Settings())
    print(f"{BATCHES} batches, {MODULES:,} modules: {cpu(lambda: batch_alarm(connection, words)):.2f} s  (aim 3.0 s)")


def made_histories(rng: np.random.Generator) -> duckdb.DuckDBPyConnection:
    """Return histories of so many fitted modules in 300 strata; a batch goes to the families of its kind for half a year."""
    connection = filled({})
    build(connection, Settings())
    number = np.arange(MODULES)
    family, fitted = rng.integers(0, FAMILIES, MODULES), np.sort(rng.integers(0, DAYS - 60, MODULES))
    per_kind = BATCHES // KINDS
    back = rng.integers(0, 3, MODULES)
    batch = family % KINDS * per_kind + np.maximum(fitted * per_kind // DAYS - back, 0)
    end = np.minimum(np.ceil(440 * rng.weibull(2, MODULES)), DAYS - fitted)
    failed = (end < DAYS - fitted) & (rng.random(MODULES) < 0.6)
    rows = pd.DataFrame({
        "slot_no": number, "unit_no": number // 2, "unit_id": number // 2, "stick": "L", "is_registered": True, "module_no": 1,
        "family": family, "usage_class": np.array(["light", "normal", "heavy"])[rng.integers(0, 3, MODULES)],
        "site": rng.integers(0, SITES, MODULES), "is_fitted_here": True, "batch": batch, "batch_fitted": batch,
        "fitted_day": START + fitted, "spell_no": number, "life": 0, "generation": 2, "kind": "first_life",
        "began_on": pd.Timestamp("1970-01-01") + pd.to_timedelta(START + fitted, "D"), "is_age_known_days": True,
        "is_age_known_h": False, "entry_days": 0.0, "lower_days": end - np.where(failed, 7, 0),
        "upper_days": np.where(failed, end, np.nan), "at_days": end - np.where(failed, 3.5, 0), "has_usable_hours": False,
        "is_failure": failed, "is_assumed": False, "ended_by": np.where(failed, "failure", "open"),
    })  # fmt: skip
    connection.register("made", rows)
    for name in WORDS:
        connection.execute(f"ALTER TABLE spell ALTER {name} TYPE VARCHAR")
    for table in ("slot", "module", "spell"):
        names = [one for one, *_ in connection.execute(f"DESCRIBE {table}").fetchall() if one in rows]
        connection.execute(f"INSERT INTO {table} BY NAME SELECT {', '.join(names)} FROM made")
    for name in WORDS:
        connection.execute(f"CREATE TYPE {name}_numbered AS ENUM (SELECT DISTINCT {name} FROM spell ORDER BY {name})")
        connection.execute(f"ALTER TABLE spell ALTER {name} TYPE {name}_numbered")
    for view in VIEWS:
        connection.execute(sql_text("views", view))
    connection.execute(
        "UPDATE history_setting SET log_start_day = $start, log_end_day = $end, cut_day = $end, "
        "log_start = DATE '1970-01-01' + $start, log_end = DATE '1970-01-01' + $end",
        {"start": START, "end": START + DAYS},
    )
    return connection


if __name__ == "__main__":
    main()
