"""Rows into the warehouse: keys for jobs, what is there already, what replaces an earlier version."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field

import duckdb
import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipelines.contract import WAREHOUSE_TABLE
from pipelines.errors import FleetError
from pipelines.logs.refusal import Refusal
from pipelines.logs.rows import CheckedRows, Finding
from pipelines.logs.tables import insert, sql, sql_for
from pipelines.vocabulary import Stick

#: A row for both sticks becomes two; what was spent on both is halved, so that sums stay true.
_SHARED = ("bench_minutes", "parts_cost", "consumables_cost")


@dataclass
class Settled:
    """What became of the lines of one file whose rows were put into the warehouse."""

    loaded: int
    repeated: int = 0
    replaced: int = 0
    findings: list[Finding] = field(default_factory=list)


class Keeper:
    """Puts the rows of one file and sheet into their table, then settles which of them stay."""

    def __init__(self, connection: duckdb.DuckDBPyConnection, table: str, *, load_id: int, file_id: int) -> None:
        self._connection = connection
        self._table = table
        self._load_id = load_id
        self._file_id = file_id
        self._line_count = 0
        self._unkeyed: list[pa.Table] = []
        self._words: list[pa.Table] = []
        if table == "jobs":
            connection.execute(sql("unkeyed_job"))

    def take(self, checked: Iterator[CheckedRows]) -> None:
        """Append all rows that may be loaded, as they are read: one statement, whose rows never stand in memory together.

        Raises whatever the reading raises.
        """
        batches = (rows for one in checked if (rows := self._prepared(one)).num_rows)
        first = next(batches, None)
        if first is not None:
            stored = WAREHOUSE_TABLE[self._table]
            _append(self._connection, stored, itertools.chain([first], batches), first.schema)
        for rows in self._unkeyed:
            insert(self._connection, "unkeyed_job", rows)
        for words in self._words:
            insert(self._connection, "alias_word", words)

    def _prepared(self, checked: CheckedRows) -> pa.Table:
        """Return the rows of a batch that can go into their table; jobs without an id wait until all are there."""
        rows = checked.table
        self._line_count += rows.num_rows
        rows = rows.append_column("file_id", pa.array(np.full(rows.num_rows, self._file_id, np.int32)))
        self._words += _words_before(self._table, checked, rows)
        if self._table != "jobs":
            return rows
        rows = _keyed(rows)
        has_key = pc.or_(pc.is_valid(rows["made_key"]), _has_id(rows))
        if pc.all(has_key).as_py():
            return rows
        self._unkeyed.append(rows.filter(pc.invert(has_key)).drop_columns("made_key"))
        return rows.filter(has_key)

    def settle(self) -> Settled:
        """Give keys to jobs without an id, then drop what came again and what an earlier file gave in other words."""
        file = {"file_id": self._file_id}
        if self._unkeyed:
            self._run("key_jobs")
        self._run("given_twice", file)
        settled = Settled(self._line_count)
        if self._count("given_twice"):
            self._run("drop_given_twice")
            settled.findings = [self._given_again(*row) for row in self._run("given_twice_lines", file).fetchall()]
        has_others = self._connection.execute(sql("has_other_files", table=WAREHOUSE_TABLE[self._table]), file).fetchone()
        if has_others:
            self._settle_with_earlier(settled, file)
        settled.loaded = self._run("lines_left", file).fetchall()[0][0]
        settled.repeated = self._line_count - settled.loaded - len(settled.findings)
        return settled

    def _settle_with_earlier(self, settled: Settled, file: dict[str, int]) -> None:
        self._run("known_before", file)
        if self._table == "jobs":
            self._run("known_visit", file)
        if not self._count("known_before"):
            return
        if self._table == "jobs":
            self._run("keep_replaced_job", file | {"load_id": self._load_id})
        settled.replaced = self._connection.execute(sql("replaced_lines")).fetchall()[0][0]
        self._run("drop_known_before")

    def _given_again(self, line: int, kept_line: int, is_other_thing: bool) -> Finding:
        if is_other_thing and self._table == "part_batches":
            refusal = Refusal(
                f"its batch code comes again on line {kept_line} from another supplier; the later line counts",
                "Put the supplier before the codes of one of them, here and in the jobs.",
            )
        elif is_other_thing:
            refusal = Refusal(
                f"its job id comes again on line {kept_line} for another unit or stick",
                'If the number names a visit and not a job, map its heading: [columns] "your heading" = "visit_id".',
            )
        else:
            refusal = Refusal(
                f"given again on line {kept_line} with other content; the later line counts",
                "Nothing to do if the later line is right, else correct the export.",
            )
        return Finding(line, "", "", refusal, is_row=True)

    def _run(self, name: str, parameters: dict[str, int] | None = None) -> duckdb.DuckDBPyConnection:
        return self._connection.execute(sql_for(name, self._table), parameters)

    def _count(self, temporary: str) -> int:
        return self._connection.table(temporary).shape[0]


def _append(connection, stored: str, batches: Iterator[pa.Table], schema: pa.Schema) -> None:
    """Append batches to a table. What stops the reading comes out of DuckDB as an error of its own: raise the first one."""
    stopped: list[FleetError | KeyboardInterrupt] = []

    def given() -> Iterator[pa.RecordBatch]:
        try:
            for rows in batches:
                yield from rows.cast(schema).to_batches()
        except (FleetError, KeyboardInterrupt) as error:
            stopped.append(error)
            raise

    try:
        insert(connection, stored, pa.RecordBatchReader.from_batches(schema, given()))
    except duckdb.Error:
        if stopped:
            raise stopped[0] from None
        raise


def _words_before(table: str, checked: CheckedRows, rows: pa.Table) -> list[pa.Table]:
    """Return the words that aliases replaced, with their places."""
    found = []
    for name, before in checked.before_alias.items():
        words = pa.table({
            "table_name": pa.array([WAREHOUSE_TABLE[table]] * len(before)),
            "column_name": pa.array([name] * len(before)),
            "file_id": rows["file_id"], "line": rows["line"], "before": before,
        })  # fmt: skip
        found.append(words.filter(pc.is_valid(words["before"])))
    return found


def _keyed(rows: pa.Table) -> pa.Table:
    """Add made_key (null where the job's own id serves) and make two rows of one for both sticks."""
    rows = rows.append_column("made_key", pa.nulls(rows.num_rows, pa.string()))
    is_both = pc.equal(rows["stick"].cast(pa.string()), str(Stick.BOTH))
    if not pc.any(is_both).as_py():
        return rows
    both = rows.filter(is_both)
    halves = [_half(both, side) for side in (str(Stick.LEFT), str(Stick.RIGHT))]
    return pa.concat_tables([rows.filter(pc.invert(is_both)), *(half.cast(rows.schema) for half in halves)])


def _has_id(rows: pa.Table) -> pa.ChunkedArray | pa.Array:
    return pc.is_valid(rows["job_id"]) if "job_id" in rows.column_names else pa.array(np.zeros(rows.num_rows, bool))


def _half(both: pa.Table, side: str) -> pa.Table:
    if "job_id" in both.column_names:
        key = pc.binary_join_element_wise(both["job_id"].cast(pa.string()), pa.scalar(f"#{side}"), "")
        both = both.set_column(both.column_names.index("made_key"), "made_key", key)
    both = both.set_column(both.column_names.index("stick"), "stick", pa.array([side] * both.num_rows))
    for name in _SHARED:
        if name in both.column_names:
            both = both.set_column(both.column_names.index(name), name, pc.divide(both[name], 2.0))
    return both
