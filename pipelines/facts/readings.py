"""Read cleaning attempts with what was found on each stick before, what bench work takes, and how often sticks were cleaned."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from pipelines.facts.build import sql_text
from pipelines.facts.read import Connection, worded

#: At most about so many attempts are handed over.
LARGEST = 50_000


def attempt_readings(connection: Connection, *, largest: int = LARGEST) -> pd.DataFrame:
    """Return the counts that `triage` and `out_of_sample` take, of all cleaning attempts of the log.

    Columns: fold, family, sensor_type, mode, mechanism, depth, attempt_number, failed_tries, af_rest_offset_pct,
    af_jitter_pct, af_return_spread_pct, af_reach_pct, af_linearity_pct (blank where not read), attempt_count, passed_count.
    With more than `largest` attempts whole controllers stand for all, an equal number of attempts of each family.
    """
    return worded(connection.execute(sql_text("questions", "attempt_reading"), {"largest": largest}).df())


def bench_work(connection: Connection) -> pd.DataFrame:
    """Return one row per family and kind of work (air, flush, open: one clean and no part; new_part: a part and no clean):
    family, work, job_count, timed_count, minutes_mean, parts_costed_count, parts_mean, consumables_costed_count,
    consumables_mean. Means of nothing are null.
    """
    connection.execute(sql_text("tables", "action_kind"))
    return connection.execute(sql_text("questions", "bench_work")).df()


def part_holds(connection: Connection, *, grid: float) -> pd.DataFrame:
    """Return how long modules fitted by jobs of this log were good: family, at (days watched), is_failure, part_count.

    grid: steps of days that `at` is rounded to, 0 for none.
    """
    return connection.execute(sql_text("questions", "part_hold"), {"grid": grid}).df().rename(columns={"at_time": "at"})


def cleans_so_far(connection: Connection, units: Sequence[str]) -> pd.DataFrame:
    """Return one row per stick of these units that the log knows: unit_id, stick, family, sensor_type, clean_count,
    failed_tries: the cleans of the module that is in it now, and those of them since one passed.
    """
    return connection.execute(sql_text("questions", "cleans_so_far"), {"units": list(units)}).df()
