"""Read what incoming inspection found in batches, the readings of a study of the tester, and the pass limits."""

from __future__ import annotations

import pandas as pd

from pipelines.facts.build import sql_text
from pipelines.facts.read import Connection


def inspections(connection: Connection) -> pd.DataFrame:
    """Return one row per inspection, by day: batch, supplier, part_type, received_count (null: not on record), inspected_on
    (ISO), characteristic, level_letter, tested_count, bad_count, aql_pct, acceptance_number, decision.
    """
    return connection.execute(sql_text("questions", "inspection_row")).df()


def study_readings(connection: Connection) -> pd.DataFrame:
    """Return one row per repeat reading: stick (unit and side), person, measure, value; repeats in the order of their trial."""
    return connection.execute(sql_text("questions", "study_reading")).df()


def pass_limits(connection: Connection) -> pd.DataFrame:
    """Return the latest limits, one row per set, measure and family: limit_set, measure, family, pass_max, pass_min."""
    return connection.execute(sql_text("questions", "pass_limit")).df()
