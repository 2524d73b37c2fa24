"""Read worked histories written as small text tables: `d12` is the twelfth day of the log, `-` is blank."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

import pandas as pd

from pipelines.contract import WAREHOUSE_TABLE, columns_of
from pipelines.settings import Settings

DAY_ZERO = dt.date(2024, 1, 1)
#: Short column words in the tables below.
SHORT = {
    "unit": "unit_id", "received": "received_on", "reason": "visit_reason", "hours": "usage_hours", "mode": "failure_mode",
    "mechanism": "failure_mechanism", "closed": "closed_on", "back": "returned_to_service_on", "batch": "part_batch_fitted",
    "since": "in_service_since", "known": "life_known_from", "lot": "lot_id", "in_service": "in_service_on",
    "out": "out_of_service_on", "condition": "new_or_used", "read": "read_on", "reset": "meter_reset", "sold": "sold_on",
    "warranty": "warranty_days", "returned": "returned_on", "al_offset": "al_rest_offset_pct", "basis": "usage_basis",
}  # fmt: skip
#: Words that would crowd the tables.
WORDS = {
    "report": "fault_report", "return": "warranty_return", "intake": "lot_intake", "incoming": "incoming_inspection",
    "bad": "fault_confirmed", "nff": "no_fault_found", "untested": "not_tested", "air": "clean_air", "flush": "clean_flush",
    "open_clean": "clean_open", "test": "test_only", "swap": "replace_module", "cal": "recalibrate",
}  # fmt: skip
KIND = {"first": "first_life", "clean": "after_clean", "other": "after_other_repair", "preventive": "after_preventive"}


@dataclass(frozen=True)
class Worked:
    """A worked history. `expected`: attempts, spells, module_lives (the columns shown, in order) and left_out."""

    name: str
    tables: dict[str, pd.DataFrame]
    settings: Settings
    expected: dict[str, object]

    def __iter__(self) -> Iterator:
        return iter((self.name, self.tables, self.settings, self.expected))


def day(word: str) -> dt.date:
    """Return the date of `d12`."""
    return DAY_ZERO + dt.timedelta(days=int(word[1:]))


def worked(name: str, *, expected: dict[str, object], settings: dict | None = None, **tables: str) -> Worked:
    """Return one worked history from text. The quiet lag is 0 and the log ends on d400 unless `settings` says otherwise."""
    given = {"quiet_lag_days": 0, "log_end": "d400"} | (settings or {})
    read = {key: day(value) if str(value).startswith("d") else value for key, value in given.items()}
    frames = {table: _log_table(table, text) for table, text in tables.items()}
    told = {what: _expected(text) if isinstance(text, str) else text for what, text in expected.items()}
    return Worked(name, frames, Settings(**read), told)


def _cells(text: str) -> tuple[list[str], list[list[str]]]:
    lines = [line.split() for line in text.strip().splitlines() if line.strip()]
    if any(len(line) != len(lines[0]) for line in lines):
        raise ValueError(f"a line of this table is too long or too short:\n{text}")
    return lines[0], lines[1:]


def _log_table(table: str, text: str) -> pd.DataFrame:
    contract = next(name for name, warehouse in WAREHOUSE_TABLE.items() if warehouse == table)
    types = {column.name: column.type for column in columns_of(contract)}
    head, lines = _cells(text)
    names = [word if word in types else SHORT[word] for word in head]
    rows = [{name: _cell(word, types[name]) for name, word in zip(names, line, strict=True)} for line in lines]
    frame = pd.DataFrame([dict.fromkeys(types) | row for row in rows], columns=list(types), dtype=object)
    if table == "job":
        frame["family"] = frame["family"].fillna("Testfam")
        frame["job_id"] = [job or f"J{number:03d}" for number, job in enumerate(frame["job_id"], start=1)]
        frame["job_key"] = frame["job_id"]
    if table == "unit":
        frame["family"] = frame["family"].fillna("Testfam")
    return frame


def _cell(word: str, kind: str) -> object:
    if word == "-":
        return None
    if kind == "date":
        return day(word)
    if kind == "datetime":
        return dt.datetime.combine(day(word), dt.time(10))
    if kind in ("number", "money"):
        return float(word)
    if kind == "integer":
        return int(word)
    if kind == "boolean":
        return word == "yes"
    return "+".join(WORDS.get(part, part) for part in word.split("+"))


def _expected(text: str) -> pd.DataFrame:
    head, lines = _cells(text)
    names = [SHORT.get(word, word) if word in ("unit", "received") else word for word in head]
    names = ["opened_on" if name == "opened" else name for name in names]
    return pd.DataFrame([[_told(word) for word in line] for line in lines], columns=names, dtype=object)


def _told(word: str) -> object:
    if word == "-":
        return None
    if word in ("yes", "no"):
        return word == "yes"
    if word[0] == "d" and word[1:].isdigit():
        return day(word)
    try:
        return float(word)
    except ValueError:
        return KIND.get(word, word)
