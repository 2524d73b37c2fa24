"""Read one supplier batch beside the rest, spell by spell, from the view that `facts.batches.Batches` opens."""

from __future__ import annotations

import pandas as pd

from pipelines.facts.build import sql_text
from pipelines.facts.read import Connection, worded

#: A side of more spells is told by whole controllers drawn from it: the limits then are hardly wider.
MOST = 20_000


def batch_beside(connection: Connection, batch: str, *, reference: str | None) -> pd.DataFrame:
    """Return one row per spell: is_batch, cell (number), cluster (controller), family, usage_class, site, entry, lower, upper,
    at, is_failure, failed_by, spell_count (1), rest_count (spells of the rest before MOST were drawn).

    reference: the batch that is the rest; None: all batches but this one and those of mixed bins. Of the rest only the cells
    (family, usage class, site) are read in which the batch is.
    """
    parameters = {"batch": batch, "reference": reference, "most": MOST}
    return worded(connection.execute(sql_text("questions", "batch_beside"), parameters).df())
