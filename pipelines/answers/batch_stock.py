"""Batches named only on modules that failed: what the stated stock lets be said of them at least."""

from __future__ import annotations

import datetime as dt

import pandas as pd

from pipelines.answers.batch_reading import BatchReading
from pipelines.answers.case import by_known_name, counts_by_name
from pipelines.answers.question import Asked
from pipelines.errors import SettingError
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.failed_only import least_ratio
from pipelines.facts.batches import Batches
from pipelines.facts.read import Connection


def stated_stock(connection: Connection, reading: BatchReading, asked: Asked) -> dict[str, Estimate]:
    """Return {batch: the least ratio} of the batches whose stock `--case stock=BATCH:n` states.

    Raises SettingError on a batch that was never received, of which more are in stock than were, or that is compared anyhow.
    """
    if "stock" not in asked.case:
        return {}
    numbers = reading.numbers.set_index("batch")
    given = by_known_name("batch", counts_by_name("stock", asked.case["stock"], what="batch"), numbers.index, {})
    days = Batches(connection, is_hours=False, where=asked.where).counts(grid=1.0)
    return {batch: _least(batch, left, numbers.loc[batch], days, reading, asked.level) for batch, left in given.items()}


def _least(batch: str, left: int, numbers: pd.Series, days: pd.DataFrame, reading: BatchReading, level: float) -> Estimate:
    if pd.isna(numbers["received_count"]) or pd.isna(numbers["received_on"]) or reading.log_end is None:
        raise SettingError(f"Batch {batch} was never received by the record.", "Add its delivery to the table part_batches.")
    if numbers["spell_count"]:
        raise SettingError(
            f"Batch {batch} is compared by its {int(numbers['fitted_count']):,} modules with a fitting on record; "
            "its stock tells nothing more.",
            f"Leave {batch} out of stock: it is for batches that are written down only when modules come in.",
        )
    fielded = int(numbers["received_count"]) - left
    failed = int(numbers["found_only_count"] + numbers["failure_count"])
    if fielded < max(failed, 1):
        raise SettingError(
            f"{left:,} of the {int(numbers['received_count']):,} modules of {batch} cannot be in stock: {failed:,} came back.",
            f"Count the stock of {batch} again.",
        )
    age = (dt.date.fromisoformat(reading.log_end) - pd.Timestamp(numbers["received_on"]).date()).days
    others = days[days["batch"] != batch]
    return least_ratio(failed, fielded, float(age), others, level=level)
