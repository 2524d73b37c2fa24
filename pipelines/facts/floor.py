"""Read what happens on the floor: how much controllers are played, and how long seats stand still because of a stick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from pipelines.facts.build import sql_text
from pipelines.facts.read import Connection


@dataclass(frozen=True)
class Downtime:
    """Times out of use because of a stick: how many, mean hours of one, how many say what an hour takes, and its mean."""

    stop_count: int
    hours_mean: float | None
    revenue_count: int
    revenue_mean: float | None


def unit_use(connection: Connection, by: Sequence[str]) -> pd.DataFrame:
    """Return one row per group of controllers: family, usage_class (null where not in `by`), unit_count, metered_count,
    low_h, median_h, high_h: play hours a week that 10 %, half and 90 % of the metered ones stay under (null without any).
    """
    return connection.execute(sql_text("questions", "unit_use"), {"by": list(by)}).df()


def stick_downtime(connection: Connection) -> Downtime:
    """Return how long seats stood still because of a stick, and what an hour takes."""
    return Downtime(*connection.execute(sql_text("questions", "stick_downtime")).fetchall()[0])
