"""The histories by SQL against the plain loop on nasty logs, and against histories worked out by hand."""

from __future__ import annotations

from collections import Counter

import pandas as pd
import pytest

from pipelines.facts.build import build, sql_text
from pipelines.settings import Settings
from tests.facts.nasty import nasty_log, nasty_settings
from tests.facts.oracle import Histories, histories
from tests.facts.test_oracle_itself import disagreements
from tests.facts.warehouse_in_memory import filled, histories_by_sql
from tests.facts.worked_cases import worked_cases

CHECKS = ("spell_runs_forward", "spell_never_overlaps", "attempt_is_numbered", "passed_attempt_ends_the_episode")


def counted(frame: pd.DataFrame, columns: list[str]) -> Counter:
    """Return the rows as a bag of plain values, so that order and index do not matter."""
    frame = frame.copy()
    if "is_age_known_hours" in frame and "kind" in frame:
        # elsewhere it says no more than that the hours are known
        frame.loc[frame["entry_h"].isna() | (frame["kind"] != "first_life"), "is_age_known_hours"] = None
    return Counter(tuple(_plain(value) for value in row) for row in frame[columns].itertuples(index=False))


def _plain(value: object) -> object:
    if value is None or value is pd.NA or (isinstance(value, float) and pd.isna(value)):
        return None
    if isinstance(value, bool):
        return value
    return round(float(value), 6) if isinstance(value, (int, float)) else str(value)


@pytest.mark.parametrize("case", worked_cases(), ids=lambda case: case.name)
def test_sql_tells_a_history_as_worked_by_hand(case):
    assert disagreements(case, histories_by_sql(case.tables, case.settings)) == {}


@pytest.mark.parametrize("seed", range(24))
def test_sql_and_the_plain_loop_agree_on_a_nasty_log(seed):
    tables, settings = nasty_log(seed), nasty_settings(seed)
    by_loop, by_sql = histories(tables, settings), histories_by_sql(tables, settings)
    for name in ("attempts", "spells", "module_lives"):
        columns = list(getattr(by_sql, name).columns)
        assert counted(getattr(by_sql, name), columns) == counted(getattr(by_loop, name), columns), name
        assert len(getattr(by_sql, name)) > 20
    assert by_sql.left_out == by_loop.left_out
    assert (by_sql.log_start, by_sql.log_end) == (by_loop.log_start, by_loop.log_end)


@pytest.mark.parametrize("seed", range(6))
def test_the_order_of_rows_does_not_matter(seed):
    tables = nasty_log(seed)
    shuffled = {name: rows.sample(frac=1, random_state=seed) for name, rows in tables.items()}
    first, second = (histories_by_sql(one, Settings()) for one in (tables, shuffled))
    for name in ("attempts", "spells", "module_lives"):
        columns = list(getattr(first, name).columns)
        assert counted(getattr(first, name), columns) == counted(getattr(second, name), columns)


@pytest.mark.parametrize("check", CHECKS)
@pytest.mark.parametrize("seed", range(6))
def test_a_check_returns_no_row(check, seed):
    connection = filled(nasty_log(seed))
    build(connection, nasty_settings(seed))
    assert connection.execute(sql_text("checks", check)).fetchall() == []


WORDS_OF_SPELLS = """
SELECT count(*), count(*) FILTER (WHERE
    row(spell.unit_no, spell.family, spell.usage_class, spell.site, spell.stick, spell.is_registered)
        IS NOT DISTINCT FROM row(slot.unit_no, slot.family, slot.usage_class, slot.site, slot.stick, slot.is_registered)
    AND row(spell.sensor_type, spell.batch, spell.batch_fitted, spell.is_fitted_here, spell.fitted_day) IS NOT DISTINCT FROM
        row(module.sensor_type, module.batch, module.batch_fitted, module.is_fitted_here, module.fitted_day)
)
FROM spell
JOIN slot ON slot.slot_no = spell.slot_no
JOIN module ON module.slot_no = spell.slot_no AND module.module_no = spell.module_no
"""


@pytest.mark.parametrize("seed", range(6))
def test_a_spell_says_what_its_slot_and_module_say_as_numbered_words(seed):
    connection = filled(nasty_log(seed))
    build(connection, nasty_settings(seed))
    # another build, with a family that was not there before
    connection.execute("UPDATE job SET family = 'Aam ' || family")
    connection.execute("UPDATE unit SET family = 'Aam ' || family")
    build(connection, nasty_settings(seed))
    count, alike = connection.execute(WORDS_OF_SPELLS).fetchall()[0]
    assert count == alike > 20
    kinds = dict(connection.execute("SELECT column_name, data_type FROM duckdb_columns() WHERE table_name = 'spell'").fetchall())
    for name in ("family", "usage_class", "site", "stick", "sensor_type", "batch", "depth", "mechanism", "failed_by"):
        assert kinds[name].startswith("ENUM("), name
    families = [row[0] for row in connection.execute("SELECT DISTINCT family FROM spell ORDER BY family").fetchall()]
    assert families == sorted(families)
    assert all(family.startswith("Aam ") for family in families)


def test_every_column_that_stays_has_a_comment():
    connection = filled({})
    build(connection, Settings())
    silent = connection.execute(
        "SELECT table_name, column_name FROM duckdb_columns() WHERE comment IS NULL AND database_name = 'memory' "
        "AND table_name IN ('history_setting', 'slot', 'reading', 'module', 'spell', 'module_life', 'attempt', 'left_out')"
    ).fetchall()
    assert silent == []


def test_an_empty_warehouse_has_empty_histories():
    found: Histories = histories_by_sql({}, Settings())
    assert len(found.spells) == len(found.attempts) == len(found.module_lives) == 0
