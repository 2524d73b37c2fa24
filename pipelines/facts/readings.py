"""Read the cleaning attempts with what was found on each stick before, as counts."""

from __future__ import annotations

import pandas as pd

from pipelines.facts.build import sql_text
from pipelines.facts.read import Connection

#: At most about so many attempts are handed over.
LARGEST = 50_000


def attempt_readings(connection: Connection, *, largest: int = LARGEST) -> pd.DataFrame:
    """Return the counts that `triage` and `out_of_sample` take, of all cleaning attempts of the log.

    Columns: fold, family, sensor_type, mode, mechanism, depth, attempt_number, failed_tries, af_rest_offset_pct,
    af_jitter_pct, af_return_spread_pct, af_reach_pct, af_linearity_pct (blank where not read), attempt_count, passed_count.
    With more than `largest` attempts whole controllers stand for all, an equal number of attempts of each family.
    """
    return connection.execute(sql_text("questions", "attempt_reading"), {"largest": largest}).df()
