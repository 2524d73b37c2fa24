"""Read prices, and the currencies in which money was written."""

from __future__ import annotations

import datetime as dt

import pandas as pd

from pipelines.errors import InputError
from pipelines.facts.build import sql_text
from pipelines.facts.read import Connection
from pipelines.vocabulary import Action, Grade

#: What a sign may mean; a code means itself.
SIGNS = {
    "€": ("EUR",), "£": ("GBP",), "₹": ("INR",), "¥": ("JPY", "CNY"),
    "$": ("USD", "CAD", "AUD"),
}  # fmt: skip


def prices(connection: Connection, on: dt.date) -> pd.DataFrame:
    """Return one row per kind and key valid on a day: kind, key, amount, valid_from, is_known.

    is_known false: the key, or a part of it between slashes, is no family, grade, site, action or part type of the log.
    """
    words = [str(word) for word in (*Grade, *Action)]
    return connection.execute(sql_text("questions", "price_valid"), {"on": on, "words": words}).df()


def currencies(connection: Connection) -> dict[str, dict[str, int]]:
    """Return the currency signs and codes written in each money column, with the line of the first of each, such as
    {'lots.csv, column price': {'€': 2, 'EUR': 9}}.

    Files stand in the order in which they were loaded; a column in which none was written is left out.
    """
    found: dict[str, dict[str, int]] = {}
    for place, written, line in connection.execute(sql_text("questions", "money_written")).fetchall():
        found.setdefault(place, {})[written] = line
    return found


def one_currency(written: dict[str, dict[str, int]]) -> str | None:
    """Return the one currency (its code, else the sign) that all of `currencies` can mean; None where none was written.

    Raises InputError where columns differ: amounts are never converted, so nothing may be added up.
    """
    said = sorted({word for words in written.values() for word in words})
    if not said:
        return None
    meant = set.intersection(*(set(SIGNS.get(word, (word,))) for word in said))
    if meant:
        return meant.pop() if len(meant) == 1 else said[0]
    places: dict[str, dict[str, int]] = {}
    for place, lines in written.items():
        for word, line in sorted(lines.items(), key=lambda one: one[1]):
            meant = SIGNS.get(word, (word,))
            places.setdefault(meant[0] if len(meant) == 1 else word, {}).setdefault(place, line)
    named = "; ".join(
        f"{currency} in {place}, line {line}" + (f", and {len(of) - 1:,} more" if len(of) > 1 else "")
        for currency, of in sorted(places.items())
        for place, line in [next(iter(of.items()))]
    )
    raise InputError(
        f"The money of the log is not in one currency: {named}.",
        "Amounts are not converted: export them in one currency and load again.",
    )
