"""The short name of a group, for legends, table rows and lists."""

from __future__ import annotations

from collections.abc import Mapping

from pipelines.wording.verdict import column_words, value_words

#: Values that say by themselves what they are; the others carry the column's name in front.
_PLAIN = ("family", "site", "depth", "mechanism", "sensor_type")


def label(by: Mapping[str, str | int | None]) -> str:
    """Return 'Corvath, opened and wiped' for the grouping values of a group; 'all together' without any."""
    return ", ".join(_one(column, value) for column, value in by.items()) or "all together"


def _one(column: str, value: str | int | None) -> str:
    if value is None:
        return f"{column_words(column)} not recorded"
    said = value_words(column, value)
    return said if column in _PLAIN else f"{column_words(column)} {said}"
