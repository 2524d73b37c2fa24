"""The only access of the dashboard to the warehouse: opened read-only, cached by its stamp, one cursor per query.

A load moves the pointer to a new file and never touches the open one, so nothing here waits for a load.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import duckdb
import pandas as pd
import streamlit as st

from pipelines import settings as settings_file
from pipelines import warehouse
from pipelines.answers import ask
from pipelines.answers.asked_record import AskedRecord
from pipelines.answers.batch_alarm_record import BatchAlarm
from pipelines.answers.batch_containment import ContainmentRecord, containment_of, containment_record
from pipelines.answers.batch_containment_record import BatchContainment
from pipelines.answers.batch_inspection import InspectionFacts, inspection_facts, inspection_of
from pipelines.answers.batch_inspection_record import BatchInspection
from pipelines.answers.batch_pattern_record import BatchPattern
from pipelines.answers.batch_verdict_record import BatchVerdictAnswer
from pipelines.answers.before_after import before_after
from pipelines.answers.before_after_record import BeforeAfter
from pipelines.answers.bench_case import bench_case
from pipelines.answers.bench_file import AdvisedFile, advise_file
from pipelines.answers.bench_money import known_costs
from pipelines.answers.bench_record import BenchRecord, bench_record
from pipelines.answers.clean_or_replace import advise, calibration
from pipelines.answers.clean_or_replace_record import Calibration, CleanOrReplace
from pipelines.answers.cleaning_interval import interval_of
from pipelines.answers.cleaning_interval_record import CleaningInterval
from pipelines.answers.cleaning_plan import PlanFacts, plan_facts, plan_of
from pipelines.answers.cleaning_plan_record import CleaningPlan
from pipelines.answers.cleaning_record import CleaningRecord, cleaning_record
from pipelines.answers.family_ranking import ranking_of
from pipelines.answers.fault_rates import fault_rates_of
from pipelines.answers.fault_rates_record import FaultRates
from pipelines.answers.fleet_record import FleetRecord, fleet_record, held_out
from pipelines.answers.lot_bid import bid_of
from pipelines.answers.lot_bid_record import LotBid
from pipelines.answers.lot_money import Missing, Money, Source, lot_money
from pipelines.answers.lot_record import LotRecord, lot_record
from pipelines.answers.lot_replay import replay
from pipelines.answers.monthly import month_of
from pipelines.answers.monthly_facts import MonthFacts, month_facts
from pipelines.answers.monthly_record import Monthly
from pipelines.answers.next_failures import next_failures_of
from pipelines.answers.next_failures_record import NextFailures
from pipelines.answers.past_lots import of_replay
from pipelines.answers.past_lots_record import PastLots
from pipelines.answers.question import Asked, asked
from pipelines.answers.ranking_record import Ranking
from pipelines.answers.record import Answer
from pipelines.answers.seat_record import SeatRecord, seat_record
from pipelines.answers.shelf import shelf_of
from pipelines.answers.shelf_record import Shelf
from pipelines.answers.study_plan_record import StudyPlan
from pipelines.answers.tester_study import StudyFacts, study_facts, study_of
from pipelines.answers.tester_study_record import TesterStudy
from pipelines.answers.warranty import warranty_of
from pipelines.answers.warranty_record import Warranty
from pipelines.cli import SETTINGS_FILE
from pipelines.facts import read
from pipelines.pack.made import pack_bytes
from pipelines.settings import Settings
from pipelines.vocabulary import Question

#: Words of `--case`, and filters, in a form that a cache can look up.
_Case = tuple[tuple[str, str], ...]
_Filters = tuple[tuple[str, tuple[str, ...]], ...]
_LEDGER = """
    SELECT loaded_at, file, sheet, table_name, lines_read, loaded, set_aside, repeated, replaced, blank, not_data,
        cells_blanked, encoding, delimiter, decimal_mark, date_order, not_understood
    FROM ledger ORDER BY load_id, file_id
"""
_SET_ASIDE = """
    SELECT file, sheet, line, column_name, value, reason, remedy, is_row FROM set_aside ORDER BY load_id, file_id, line
"""
_LOADED_COLUMN = "SELECT file_id, header, table_name, column_name FROM loaded_column ORDER BY file_id, table_name, column_name"


def folder() -> Path:
    """Return the warehouse folder that is shown."""
    return warehouse.default_path()


def stamp() -> str | None:
    """Return what changes with every load and every change of the settings file; None without a warehouse.

    Raises WarehouseError when there is one that cannot be used.
    """
    path = folder()
    if not warehouse.exists(path):
        return None
    parts = [path / warehouse.stamp(path), path / SETTINGS_FILE]
    return "|".join(f"{part}:{part.stat().st_mtime_ns}" for part in parts if part.is_file())


def settings() -> Settings:
    """Return the settings in force: the file in the warehouse folder over the defaults. Raises SettingError."""
    path = folder() / SETTINGS_FILE
    return settings_file.from_file(path if path.is_file() else None)


def answer(
    question: str, *, by: Sequence[str] = (), clock: str | None = None,
    where: Mapping[str, Sequence[str]] | None = None, horizon: float | None = None, age: float | None = None,
    is_brief: bool = True,
) -> Answer:  # fmt: skip
    """Return the answer to one question on the current warehouse, without its heavier estimates. Raises FleetError.

    horizon, age: in the place of the settings of the same name.
    """
    return _answer(stamp(), question, tuple(by), clock, _filters(where or {}), horizon, age, is_brief)


def lots() -> LotRecord:
    """Return what the log says of lots, read once for each load. Raises InputError where money is in several currencies."""
    return _lots(stamp())


def lot_costs(families: Sequence[str], *, units: int | None = None) -> Money:
    """Return what is found of costs and prices under the settings in force, and what is not; units: of a lot, for its fees."""
    return _lot_costs(stamp(), tuple(families), units)


def lot_bid(case: Mapping[str, str], chosen: Settings, *, is_brief: bool = True) -> LotBid:
    """Return the bid for a lot under these settings; the words of the case as `--case` takes them. Raises SettingError."""
    return _lot_bid(stamp(), tuple(case.items()), chosen, is_brief)


def ranking(case: Mapping[str, str], chosen: Settings) -> Ranking:
    """Return which families to buy under these settings; the words of the case as `--case` takes them. Raises SettingError."""
    return _ranking(stamp(), tuple(case.items()), chosen)


def warranty(by: Sequence[str], chosen: Settings) -> Warranty:
    """Return how many sold units come back by when, and the warranty that allows, under these settings."""
    return _warranty(stamp(), tuple(by), chosen)


def past_lots(chosen: Settings) -> PastLots:
    """Return past lots held against their forecasts under these settings. Raises InputError as `lots`."""
    return _past_lots(stamp(), chosen)


def fault_rates(chosen: Settings) -> FaultRates:
    """Return which seats, sites, sides and technicians have more faults than luck explains, and which controller to retire."""
    words = _words(Question.FAULT_RATES, chosen)
    return fault_rates_of(_seats(stamp()), words)


def bench(chosen: Settings | None = None) -> BenchRecord:
    """Return what the log says of cleaning single sticks, read once for each load, under the warranty of these settings."""
    return _bench(stamp()).under(chosen or settings())


def bench_costs(family: str | None) -> tuple[list[Source], list[Missing]]:
    """Return what is found of the costs of a stick of this family (None: of all) under the settings in force, and what is not."""
    return _bench_costs(stamp(), family)


def bench_advice(case: Mapping[str, str], chosen: Settings) -> CleanOrReplace:
    """Return the advice on a stick, without its calibration; the case in the words of `--case`. Raises SettingError."""
    return _bench_advice(stamp(), tuple(case.items()), chosen)


def bench_calibration() -> Calibration:
    """Return whether the chances that a clean passes come true."""
    return calibration(bench())


def advised_file(name: str, content: bytes, chosen: Settings) -> AdvisedFile:
    """Return a file of sticks with the advice beside each row. Raises InputError."""
    return _advised_file(stamp(), name, content, chosen)


def planned_cleaning(by: Sequence[str], depth: str | None, chosen: Settings) -> CleaningInterval:
    """Return whether to clean on a calendar under these settings, and how often; depth: of the clean, None: the most usual."""
    return _planned_cleaning(stamp(), tuple(by), depth, chosen)


def plan(case: Mapping[str, str], advice: CleaningInterval, chosen: Settings) -> CleaningPlan:
    """Return who is cleaned on which day; advice: for the interval, where the case has none. Raises SettingError."""
    words = _words(Question.CLEANING_PLAN, chosen, case)
    return plan_of(_plan_facts(stamp()), advice, words)


def next_failures() -> NextFailures:
    """Return which sticks will fail next and what the coming 13 weeks bring, tried on the last 13 weeks."""
    return _next_failures(stamp())


def shelf(chosen: Settings) -> Shelf:
    """Return how many modules and spare controllers to keep under these settings."""
    return _shelf(stamp(), chosen)


def program(case: Mapping[str, str]) -> BeforeAfter:
    """Return what came of a programme; the words of the case as `--case` takes them. Raises SettingError."""
    return _program(stamp(), tuple(case.items()))


def month(case: Mapping[str, str], chosen: Settings) -> Monthly:
    """Return a month of the floor under these settings; the words of the case as `--case` takes them. Raises SettingError."""
    return _month(stamp(), tuple(case.items()), chosen)


def containment(case: Mapping[str, str], chosen: Settings) -> BatchContainment:
    """Return where a batch is and what it cost under these settings; the words of the case as `--case` takes them."""
    return _containment(stamp(), tuple(case.items()), chosen)


def study_plan(by: Sequence[str], where: Mapping[str, Sequence[str]], case: Mapping[str, str]) -> StudyPlan:
    """Return how many modules and how long a study takes; the words of the case as `--case` takes them. Raises SettingError."""
    return _ask(stamp(), Question.STUDY_PLAN, tuple(by), _filters(where), tuple(case.items()), settings())


def tester_study(case: Mapping[str, str]) -> TesterStudy:
    """Return how much of the spread of readings is the tester; the words of the case as `--case` takes them."""
    return _tester_study(stamp(), tuple(case.items()))


def batch_verdict(where: Mapping[str, Sequence[str]], case: Mapping[str, str]) -> BatchVerdictAnswer:
    """Return which supplier batches fail more often than others of their age; the words of the case as `--case` takes them."""
    return _ask(stamp(), Question.BATCH_VERDICT, (), _filters(where), tuple(case.items()), settings())


def batch_pattern(case: Mapping[str, str]) -> BatchPattern:
    """Return what kind of worse a supplier batch is; the words of the case as `--case` takes them. Raises SettingError."""
    return _ask(stamp(), Question.BATCH_PATTERN, (), (), tuple(case.items()), settings())


def batch_alarm(case: Mapping[str, str], chosen: Settings) -> BatchAlarm:
    """Return which supplier batches would have raised an alarm, and one of them replayed, under these settings."""
    return _ask(stamp(), Question.BATCH_ALARM, (), (), tuple(case.items()), chosen)


def batch_inspection(case: Mapping[str, str]) -> BatchInspection:
    """Return what incoming inspection found, and plans; the words of the case as `--case` takes them. Raises SettingError."""
    return _batch_inspection(stamp(), tuple(case.items()))


def evidence_pack(batch: str, *, has_notes: bool) -> bytes:
    """Return the evidence on a supplier batch as a zip. has_notes: with the free text of its jobs."""
    return _evidence_pack(stamp(), batch, has_notes)


def choices(question: str) -> dict[str, list[str]]:
    """Return the values that occur in each grouping column of a question."""
    return _choices(stamp(), "cleaning-success" if question == "cleaning-success" else "life")


def overview() -> dict[str, object]:
    """Return the size of the record and its first and last day."""
    return _overview(stamp())


def has_early_units() -> bool:
    """Tell whether units were registered long before the first job."""
    return bool(_window(stamp()).early_registered_count)


def ledger() -> pd.DataFrame:
    """Return what each load took in, one row a file or sheet."""
    return _intake(stamp(), _LEDGER)


def set_aside() -> pd.DataFrame:
    """Return every line and cell that was set aside, with the reason."""
    return _set_aside(stamp())


def loaded_columns() -> pd.DataFrame:
    """Return which headings of the exports became which columns."""
    return _intake(stamp(), _LOADED_COLUMN)


# Answers are frozen and shared between readers; unpickling a copy for each would cost more than the drawing.
@st.cache_resource(max_entries=40, show_spinner="Reading the log …")
def _answer(
    stamp: str, question: str, by: tuple[str, ...], clock: str | None,
    filters: _Filters, horizon: float | None, age: float | None, is_brief: bool,
) -> Answer:  # fmt: skip
    given = {"horizon": horizon, "age": age}
    chosen = replace(settings(), **{name: value for name, value in given.items() if value is not None})
    with _cursor(stamp) as cursor:
        return ask(question, cursor, by=list(by), clock=clock, where=dict(filters), settings=chosen, is_brief=is_brief)


@st.cache_resource(max_entries=40, show_spinner="Reading the log …")
def _ask(stamp: str, question: Question, by: tuple[str, ...], filters: _Filters, case: _Case, chosen: Settings) -> AskedRecord:
    with _cursor(stamp) as cursor:
        return ask(question, cursor, by=list(by), where=dict(filters), settings=chosen, case=dict(case))


def _words(
    question: Question, chosen: Settings | None = None, case: _Case | Mapping[str, str] = (), *, by: Sequence[str] = (),
    is_brief: bool = False,
) -> Asked:  # fmt: skip
    return asked(
        question, by=by, where={}, clock=None, level=None, settings=chosen or settings(), is_brief=is_brief, case=dict(case)
    )  # fmt: skip


def _filters(where: Mapping[str, Sequence[str]]) -> _Filters:
    return tuple(sorted((column, tuple(values)) for column, values in where.items()))


@st.cache_resource(max_entries=2, show_spinner="Reading the lots …")
def _lots(stamp: str) -> LotRecord:
    with _cursor(stamp) as cursor:
        return lot_record(cursor)


@st.cache_resource(max_entries=8, show_spinner=False)
def _lot_costs(stamp: str, families: tuple[str, ...], units: int | None) -> Money:
    return lot_money(_lots(stamp), list(families), settings(), units=units)


@st.cache_resource(max_entries=40, show_spinner=False)
def _lot_bid(stamp: str, case: _Case, chosen: Settings, is_brief: bool) -> LotBid:
    return bid_of(_lots(stamp), _words(Question.LOT_BID, chosen, case, is_brief=is_brief))


@st.cache_resource(max_entries=20, show_spinner=False)
def _ranking(stamp: str, case: _Case, chosen: Settings) -> Ranking:
    words = _words(Question.FAMILY_RANKING, chosen, case)
    return ranking_of(_lots(stamp), words)


@st.cache_resource(max_entries=20, show_spinner=False)
def _warranty(stamp: str, by: tuple[str, ...], chosen: Settings) -> Warranty:
    return warranty_of(_lots(stamp), _words(Question.WARRANTY, chosen, by=by))


@st.cache_resource(max_entries=8, show_spinner="Holding past lots against their forecasts …")
def _past_lots(stamp: str, chosen: Settings) -> PastLots:
    words = _words(Question.PAST_LOTS, chosen)
    record = _lots(stamp)
    with _cursor(stamp) as cursor:
        return of_replay(replay(cursor, chosen, record=record), words)


@st.cache_resource(max_entries=2, show_spinner="Comparing the seats …")
def _seats(stamp: str) -> SeatRecord:
    with _cursor(stamp) as cursor:
        return seat_record(cursor)


@st.cache_resource(max_entries=2, show_spinner="Reading the cleans …")
def _bench(stamp: str) -> BenchRecord:
    with _cursor(stamp) as cursor:
        return bench_record(cursor, settings(), lots=_lots(stamp))


@st.cache_resource(max_entries=40, show_spinner=False)
def _bench_costs(stamp: str, family: str | None) -> tuple[list[Source], list[Missing]]:
    record = bench()
    return known_costs(record, record.families if family is None else [family], settings())


@st.cache_resource(max_entries=40, show_spinner=False)
def _bench_advice(stamp: str, case: _Case, chosen: Settings) -> CleanOrReplace:
    record = bench(chosen)
    words = _words(Question.CLEAN_OR_REPLACE, chosen, case)
    return advise(record, [bench_case(words.case, record.families, record.lots.family_aliases)], chosen)[0]


@st.cache_resource(max_entries=4, show_spinner="Judging the sticks …")
def _advised_file(stamp: str, name: str, content: bytes, chosen: Settings) -> AdvisedFile:
    with tempfile.TemporaryDirectory(prefix="stickfleet-", ignore_cleanup_errors=True) as place, _cursor(stamp) as cursor:
        path = Path(place) / (Path(name).name or "sticks")
        path.write_bytes(content)
        return advise_file(cursor, bench(chosen), path, chosen)


@st.cache_resource(max_entries=6, show_spinner="Reading how sticks drift …")
def _cleaning(stamp: str, by: tuple[str, ...]) -> CleaningRecord:
    words = _words(Question.CLEANING_INTERVAL, by=by)
    with _cursor(stamp) as cursor:
        return cleaning_record(cursor, words, lots=_lots(stamp))


@st.cache_resource(max_entries=40, show_spinner=False)
def _planned_cleaning(stamp: str, by: tuple[str, ...], depth: str | None, chosen: Settings) -> CleaningInterval:
    case = {} if depth is None else {"depth": depth}
    words = _words(Question.CLEANING_INTERVAL, chosen, case, by=by)
    return interval_of(_cleaning(stamp, by), words)


@st.cache_resource(max_entries=2, show_spinner="Reading what is in service …")
def _plan_facts(stamp: str) -> PlanFacts:
    words = _words(Question.CLEANING_PLAN)
    with _cursor(stamp) as cursor:
        return plan_facts(cursor, words)


@st.cache_resource(max_entries=2, show_spinner="Reading the own fleet …")
def _fleet(stamp: str) -> FleetRecord:
    with _cursor(stamp) as cursor:
        return fleet_record(cursor, settings())


@st.cache_resource(max_entries=2, show_spinner="Playing the coming weeks through …")
def _next_failures(stamp: str) -> NextFailures:
    words = _words(Question.NEXT_FAILURES)
    with _cursor(stamp) as cursor:
        return next_failures_of(_fleet(stamp), held_out(cursor, words.settings), words)


@st.cache_resource(max_entries=20, show_spinner=False)
def _shelf(stamp: str, chosen: Settings) -> Shelf:
    return shelf_of(_fleet(stamp), _words(Question.SHELF, chosen))


@st.cache_resource(max_entries=20, show_spinner="Counting faults …")
def _program(stamp: str, case: _Case) -> BeforeAfter:
    words = _words(Question.BEFORE_AFTER, settings(), case)
    with _cursor(stamp) as cursor:
        return before_after(cursor, words)


@st.cache_resource(max_entries=8, show_spinner="Reading the month …")
def _month_facts(stamp: str, case: _Case) -> MonthFacts:
    words = _words(Question.MONTHLY, settings(), case)
    with _cursor(stamp) as cursor:
        return month_facts(cursor, words)


@st.cache_resource(max_entries=20, show_spinner=False)
def _month(stamp: str, case: _Case, chosen: Settings) -> Monthly:
    words = _words(Question.MONTHLY, chosen, case)
    return month_of(_month_facts(stamp, case), words)


@st.cache_resource(max_entries=2, show_spinner="Comparing the batches …")
def _containment_record(stamp: str) -> ContainmentRecord:
    words = _words(Question.BATCH_CONTAINMENT)
    with _cursor(stamp) as cursor:
        return containment_record(cursor, words, lots=_lots(stamp))


@st.cache_resource(max_entries=20, show_spinner=False)
def _containment(stamp: str, case: _Case, chosen: Settings) -> BatchContainment:
    words = _words(Question.BATCH_CONTAINMENT, chosen, case)
    with _cursor(stamp) as cursor:
        return containment_of(cursor, _containment_record(stamp), words)


@st.cache_resource(max_entries=2, show_spinner=False)
def _study_facts(stamp: str) -> StudyFacts:
    with _cursor(stamp) as cursor:
        return study_facts(cursor)


@st.cache_resource(max_entries=20, show_spinner=False)
def _tester_study(stamp: str, case: _Case) -> TesterStudy:
    words = _words(Question.TESTER_STUDY, settings(), case)
    return study_of(_study_facts(stamp), words)


@st.cache_resource(max_entries=2, show_spinner="Reading the inspections …")
def _inspection_facts(stamp: str) -> InspectionFacts:
    words = _words(Question.BATCH_INSPECTION)
    with _cursor(stamp) as cursor:
        return inspection_facts(cursor, words)


@st.cache_resource(max_entries=20, show_spinner=False)
def _batch_inspection(stamp: str, case: _Case) -> BatchInspection:
    words = _words(Question.BATCH_INSPECTION, settings(), case)
    return inspection_of(_inspection_facts(stamp), words)


@st.cache_data(max_entries=4, show_spinner=False)
def _evidence_pack(stamp: str, batch: str, has_notes: bool) -> bytes:
    with warehouse.reading(folder()) as connection:  # to the file itself, as it is read by one thread alone
        case = {"batch": batch, "notes": "yes" if has_notes else "no"}
        return pack_bytes(ask(Question.BATCH_EXHIBIT, connection, settings=settings(), case=case))


@st.cache_resource(max_entries=8, show_spinner=False)
def _choices(stamp: str, question: str) -> dict[str, list[str]]:
    with _cursor(stamp) as cursor:
        return read.choices(cursor, question)


@st.cache_resource(max_entries=2, show_spinner=False)
def _overview(stamp: str) -> dict[str, object]:
    with _cursor(stamp) as cursor:
        return read.overview(cursor)


@st.cache_resource(max_entries=2, show_spinner=False)
def _window(stamp: str) -> read.Window:
    with _cursor(stamp) as cursor:
        return read.window(cursor)


@st.cache_resource(max_entries=6, show_spinner=False)
def _intake(stamp: str, query: str) -> pd.DataFrame:
    with _cursor(stamp) as cursor:
        return cursor.execute(query).df()


@st.cache_resource(max_entries=6, show_spinner=False)
def _set_aside(stamp: str) -> pd.DataFrame:
    with _cursor(stamp) as cursor:
        told = cursor.execute(_SET_ASIDE).df()
        return pd.concat([told, read.doubtful_hours(cursor)[list(told.columns)]], ignore_index=True)


@contextmanager
def _cursor(stamp: str) -> Iterator[duckdb.DuckDBPyConnection]:
    """Give a cursor of its own to one query, as several readers may ask at once."""
    connection = _connection(stamp)
    found_in = connection.execute("SELECT current_setting('search_path')").fetchall()[0][0]
    with connection.cursor() as cursor:
        if found_in:  # histories rebuilt under other settings stand beside the file; a cursor does not know by itself
            cursor.execute("SET search_path = $found_in", {"found_in": found_in})
        yield cursor


@st.cache_resource(max_entries=2, on_release=lambda connection: connection.close(), show_spinner="Opening the log …")
def _connection(stamp: str) -> duckdb.DuckDBPyConnection:
    """Open the warehouse with its histories standing under the settings in force."""
    return read.standing(warehouse.open_for_reading(folder()), settings())
