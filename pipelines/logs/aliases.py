"""The user's aliases: one thing in five spellings gets one name, whichever file came first."""

from __future__ import annotations

import hashlib
import json

import duckdb
import pyarrow as pa

from pipelines.logs.spelling import fold
from pipelines.logs.tables import sql
from pipelines.vocabulary import AliasKind

#: kind → the contract columns (table, column) whose words it maps.
TARGETS: dict[str, tuple[tuple[str, str], ...]] = {
    AliasKind.FAMILY: (("jobs", "family"), ("units", "family"), ("lots", "family"), ("limits", "family")),
    AliasKind.SITE: (("jobs", "site_id"), ("units", "site_id")),
    AliasKind.BATCH: (
        ("jobs", "part_batch_found"), ("jobs", "part_batch_fitted"), ("part_batches", "batch_id"),
        ("batch_inspections", "batch_id"),
    ),
}  # fmt: skip
_STORED = {"jobs": "job", "units": "unit", "lots": "lot", "limits": "limit_row", "part_batches": "part_batch",
           "batch_inspections": "batch_inspection"}  # fmt: skip


class Aliases:
    """The aliases of a warehouse as they stand: kind → folded word → our word."""

    def __init__(self, words: dict[str, dict[str, str]]) -> None:
        self.words = words

    def for_column(self, table: str, column: str) -> dict[str, str]:
        """Return folded word → our word for a name column, empty where no alias applies."""
        for kind, targets in TARGETS.items():
            if (table, column) in targets:
                return self.words.get(kind, {})
        return {}

    def for_codes(self, name: str) -> dict[str, str]:
        """Return folded word → code for the outcome or action column."""
        return self.words.get(name, {}) if name in (AliasKind.OUTCOME, AliasKind.ACTION) else {}

    def digest(self) -> str:
        """Return a text that changes when a coded word is read differently."""
        coded = [sorted(self.words.get(kind, {}).items()) for kind in (AliasKind.OUTCOME, AliasKind.ACTION)]
        return hashlib.sha256(json.dumps(coded).encode()).hexdigest()


def stored(connection: duckdb.DuckDBPyConnection) -> Aliases:
    """Return the aliases in the warehouse."""
    words: dict[str, dict[str, str]] = {}
    for kind, raw, clean in connection.execute("SELECT kind, raw, clean FROM alias ORDER BY kind, raw").fetchall():
        words.setdefault(kind, {})[fold(raw)] = clean
    return Aliases(words)


def apply_again(connection: duckdb.DuckDBPyConnection, aliases: Aliases) -> None:
    """Give every aliased cell the word of its file back, then apply the aliases as they stand now."""
    for targets in TARGETS.values():
        for table, column in targets:
            names = {"table_name": _STORED[table], "column_name": column}
            connection.execute(sql("alias_restore", table=_STORED[table], column=column), names)
    connection.execute("DELETE FROM alias_word")
    for targets in TARGETS.values():
        for table, column in targets:
            _apply(connection, table, column, aliases.for_column(table, column))


def _apply(connection: duckdb.DuckDBPyConnection, table: str, column: str, words: dict[str, str]) -> None:
    place = {"table": _STORED[table], "column": column}
    there = [row[0] for row in connection.execute(sql("alias_words", **place)).fetchall()]
    changed = {word: words[fold(word)] for word in there if words.get(fold(word), word) != word}
    if not changed:
        return
    connection.register("arriving", pa.table({"before": list(changed), "after": list(changed.values())}))
    connection.execute(sql("alias_remember", **place), {"table_name": _STORED[table], "column_name": column})
    connection.execute(sql("alias_apply", **place))
    connection.unregister("arriving")
