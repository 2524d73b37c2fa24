"""Read the supplier batches as they were watched, look by look, with what was known at each."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import pandas as pd

from pipelines.facts.build import sql_text
from pipelines.facts.read import Connection, worded

#: Days of age that are held to be one age.
AGE_DAYS = 28
#: Days from one look at the log to the next: every week, or, of more than MOST_WEEKLY modules, every four.
LOOK_DAYS, LONG_LOOK_DAYS, MOST_WEEKLY = 7, 28, 50_000
_WATCHED = "SELECT log_start, DATE '1970-01-01' + CAST(cut_day AS INTEGER) FROM history_setting"


@dataclass(frozen=True)
class BatchWatch:
    """counts: rows of stratum, fitting_period, age_step, look and batch (its place in `batches`): at_risk, failures, which add
    up over rows alike. A controller counts once for a batch, up to its first failure.

    progress: one row per batch (name) and look: supplier, part_type, is_mixed, fitted_count, found_count (all failures),
    first_fitted_on (null where none was fitted in it). only_found: batches that are on record only on modules that came to the
    bench, so nobody knows of how many. starts_on: the first day of look 0; ends_on: the last day of which failures are known.
    """

    counts: pd.DataFrame
    progress: pd.DataFrame
    only_found: list[str]
    look_days: int
    looks: int
    starts_on: dt.date
    ends_on: dt.date

    @property
    def batches(self) -> list[str]:
        """The batches watched, by name."""
        return list(self.progress["batch"].unique())

    def last_day(self, look: int) -> dt.date:
        """Return the day on which a look was taken."""
        return min(self.starts_on + dt.timedelta(days=(look + 1) * self.look_days - 1), self.ends_on)


def batch_watch(connection: Connection) -> BatchWatch:
    """Read the view `batch_spell`, opened in days (`pipelines.facts.batches`), of a log that holds a day."""
    starts_on, ends_on = connection.execute(_WATCHED).fetchall()[0]
    modules = connection.execute("SELECT count(*) FROM module WHERE batch_fitted IS NOT NULL").fetchall()[0][0]
    look_days = LOOK_DAYS if modules <= MOST_WEEKLY else LONG_LOOK_DAYS
    connection.execute(sql_text("questions", "batch_dated"))
    counts = connection.execute(
        sql_text("questions", "batch_watch"), {"look_days": look_days, "age_looks": AGE_DAYS // look_days}
    ).df()
    progress = worded(connection.execute(sql_text("questions", "batch_progress"), {"look_days": look_days}).df())
    only_found = list(connection.execute(sql_text("questions", "batch_only_found")).df()["batch"])
    looks = max((ends_on - starts_on).days // look_days + 1, 1)
    return BatchWatch(counts, progress, only_found, look_days, looks, starts_on, ends_on)
