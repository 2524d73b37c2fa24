"""Read which spells began with a buyer: their drift is seen only if the buyer sends the controller back."""

from __future__ import annotations

from pipelines.facts.build import sql_text
from pipelines.facts.read import Connection

#: A level of which so many spells began with a buyer is called sold.
SOLD_SHARE = 0.9


def sold_levels(connection: Connection, kind: str) -> frozenset[tuple[str, str | None]]:
    """Return each (grouping column, value; null for blank) whose spells of a kind nearly all began with a buyer."""
    rows = connection.execute(sql_text("questions", "sold_level"), {"kind": kind}).fetchall()
    return frozenset((column, value) for column, value, spells, sold in rows if sold >= SOLD_SHARE * spells)
