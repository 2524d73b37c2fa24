"""The warehouse: a folder of immutable DuckDB files, and a small pointer file that names the current one.

A load copies the current file, works on the copy in one transaction, and then moves the pointer. So readers never
wait, never see half a load, and a crash leaves the pointer where it was. One load at a time (a lock file).
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import duckdb
import filelock
import platformdirs

from pipelines.errors import WarehouseError

#: Grows when the tables change in a way that older software cannot read.
FORMAT = 7
POINTER = "current"
KEEP = 3
_LIMITS = {
    "memory_limit": "1000MB",
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
}


def default_path() -> Path:
    """Return STICKFLEET_WAREHOUSE, else the user's own data folder."""
    named = os.environ.get("STICKFLEET_WAREHOUSE")
    return Path(named) if named else Path(platformdirs.user_data_dir("stickfleet", appauthor=False))


def stamp(path: Path) -> str:
    """Return the name of the current generation; it changes with every load. Raises WarehouseError."""
    return _current(path).name


@contextmanager
def reading(path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open the current generation read-only. Raises WarehouseError."""
    connection = open_for_reading(path)
    try:
        yield connection
    finally:
        connection.close()


def open_for_reading(path: Path) -> duckdb.DuckDBPyConnection:
    """Return a read-only connection to the current generation; the caller closes it. Raises WarehouseError."""
    current = _current(path)
    try:
        connection = duckdb.connect(str(current), read_only=True, config=_LIMITS)
    except duckdb.Error as error:
        raise WarehouseError(
            f"The warehouse file {current.name} in {path} cannot be opened ({_first_line(error)}).",
            "If another program has it open, close that; if it is damaged, delete the folder and load again.",
        ) from error
    connection.execute("SET enable_progress_bar = false")
    _refuse_other_format(connection, path)
    return connection


@contextmanager
def next_generation(path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """Give a connection inside one transaction on a copy of the current generation; publish it at the end.

    An exception inside the block throws the copy away and changes nothing; so does raising `NothingNew`, quietly.
    Raises WarehouseError when another load runs or the folder cannot be written.
    """
    with _locked(path):
        old = _current(path) if exists(path) else None
        number = int(old.stem.split("-")[1]) + 1 if old else 1
        target = path / f"fleet-{number:06d}.duckdb"
        work = target.with_suffix(".tmp")
        _sweep(path)
        if old:
            open_for_reading(path).close()
            shutil.copyfile(old, work)
        try:
            _work_on(work, is_new=old is None)
            connection = duckdb.connect(str(work), config=_LIMITS)
            try:
                connection.execute("SET enable_progress_bar = false")
                connection.execute("BEGIN")
                yield connection
                connection.execute("COMMIT")
                connection.execute("CHECKPOINT")
            finally:
                connection.close()
            _publish(work, target, path)
        except NothingNew:
            pass
        finally:
            for left in (work, work.with_suffix(".tmp.wal")):
                left.unlink(missing_ok=True)


class NothingNew(Exception):
    """Raised inside `next_generation` to leave the warehouse as it was."""


def exists(path: Path) -> bool:
    """Tell whether a warehouse has been made in this folder."""
    return (path / POINTER).is_file()


def _work_on(work: Path, *, is_new: bool) -> None:
    if not is_new:
        return
    connection = duckdb.connect(str(work), config=_LIMITS)
    try:
        connection.execute("CREATE TABLE warehouse_format (version INTEGER)")
        connection.execute("INSERT INTO warehouse_format VALUES (?)", [FORMAT])
    finally:
        connection.close()


def _publish(work: Path, target: Path, path: Path) -> None:
    _fsync(work)
    os.replace(work, target)
    pointer = path / f"{POINTER}.tmp"
    pointer.write_text(target.name, encoding="utf-8")
    _fsync(pointer)
    os.replace(pointer, path / POINTER)
    for old in sorted(path.glob("fleet-*.duckdb"))[:-KEEP]:
        with suppress(OSError):  # a reader on Windows may still hold it; the next load sweeps it
            old.unlink()


def _fsync(file: Path) -> None:
    with open(file, "rb+") as handle:
        os.fsync(handle.fileno())


def _sweep(path: Path) -> None:
    for left in path.glob("*.tmp*"):
        left.unlink(missing_ok=True)


@contextmanager
def _locked(path: Path) -> Iterator[None]:
    try:
        path.mkdir(parents=True, exist_ok=True)
        lock = filelock.FileLock(path / "load.lock", timeout=0)
        with lock:
            yield
    except filelock.Timeout as error:
        raise WarehouseError(
            f"Another load into {path} is running.", "Wait until it has finished, then load again."
        ) from error
    except (FileExistsError, NotADirectoryError, PermissionError) as error:
        raise WarehouseError(
            f"{path} cannot be used as a warehouse folder ({error.strerror}).", "Name a folder you may write to."
        ) from error


def _current(path: Path) -> Path:
    if path.is_file():
        raise WarehouseError(f"{path} is a file, not a warehouse folder.", "Name the folder that `stickfleet load` made.")
    if not exists(path):
        raise WarehouseError(f"There is no warehouse in {path}.", "Load an export first: stickfleet load PATH")
    named = path / (path / POINTER).read_text(encoding="utf-8", errors="replace").strip()
    if not named.is_file() or named.parent != path:
        raise WarehouseError(
            f"The warehouse in {path} points at a file that is not there.", "Delete the folder and load the exports again."
        )
    return named


def _refuse_other_format(connection: duckdb.DuckDBPyConnection, path: Path) -> None:
    try:
        version = connection.execute("SELECT version FROM warehouse_format").fetchall()[0][0]
    except duckdb.Error as error:
        connection.close()
        raise WarehouseError(f"The file in {path} is no stickfleet warehouse.", "Name another folder, or load again.") from error
    if version != FORMAT:
        connection.close()
        raise WarehouseError(
            f"The warehouse in {path} has format {version}; this stickfleet reads format {FORMAT}.",
            "Load the exports again into a new folder, or use the stickfleet that made it.",
        )


def _first_line(error: Exception) -> str:
    return str(error).splitlines()[0][:200]
