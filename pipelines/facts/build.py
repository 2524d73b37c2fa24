"""Build the histories from the canonical tables, one SQL file a table, in the order of TABLES."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files

import duckdb

from pipelines.settings import Settings

#: Each may read the ones before it.
TABLES = (
    "history_setting", "action_kind", "slot", "visit", "sale_follow", "walk", "reading", "module", "word",
    "span", "spell_day", "module_life_day", "hour_point", "spell", "module_life", "attempt", "left_out",
)  # fmt: skip
#: What questions read: the same rows with what is known of their unit and module.
VIEWS = ("described_spell", "described_module_life", "described_attempt")


def build(connection: duckdb.DuckDBPyConnection, settings: Settings) -> None:
    """(Re)build every history table under `settings`; the canonical tables must be there, empty or not."""
    connection.execute(sql_text("macros"))
    for name in TABLES:
        parameters = settings.history_part() if name == "history_setting" else None
        connection.execute(sql_text("tables", name), parameters)
    for name in VIEWS:
        connection.execute(sql_text("views", name))
    connection.execute("CREATE OR REPLACE TABLE history_built_with AS SELECT $words AS settings", {"words": words(settings)})
    connection.execute(sql_text("comments"))


def words(settings: Settings) -> str:
    """Return the settings on which the histories depend as one text, to tell whether they stand."""
    return json.dumps(settings.history_part(), sort_keys=True)


@cache
def sql_text(*parts: str) -> str:
    """Return the text of one SQL file below `facts/sql`."""
    return files("pipelines.facts").joinpath("sql", *parts[:-1], f"{parts[-1]}.sql").read_text(encoding="utf-8")
