"""Which files to read: files as named, folders walked, in the order in which people number them."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from pipelines.errors import InputError

_TEXT = (".csv", ".tsv", ".txt", ".tab")
_OTHER = (".xlsx", ".xlsm", ".xls", ".ods", ".parquet")
SUFFIXES = (*_TEXT, *_OTHER)


@dataclass(frozen=True)
class Export:
    """One file to read. shown: its name in every report, relative to the folder that was named."""

    path: Path
    shown: str


@dataclass(frozen=True)
class Skipped:
    """A file, sheet or folder that was passed over, and why."""

    shown: str
    why: str


def find(paths: Iterable[Path]) -> tuple[list[Export], list[Skipped]]:
    """Return the files below `paths` in natural order, and what was passed over. Raises InputError."""
    exports: dict[Path, Export] = {}
    skipped: list[Skipped] = []
    for path in paths:
        if path.is_dir():
            for file in _walk(path):
                shown = file.relative_to(path).as_posix()
                if why := _why_not(file):
                    skipped.append(Skipped(shown, why))
                else:
                    exports.setdefault(file.resolve(), Export(file, shown))
        elif path.is_file():
            exports.setdefault(path.resolve(), Export(path, path.name))
        else:
            raise InputError(f"There is no file or folder '{path}'.", "Check the name; stickfleet load takes files and folders.")
    if not exports:
        endings = ", ".join(SUFFIXES)
        raise InputError("There is no table in what was named.", f"A table is a file that ends in {endings} or those + .gz.")
    return sorted(exports.values(), key=lambda export: natural_key(export.shown)), skipped


def natural_key(text: str) -> list[tuple[int, int, str]]:
    """Order `week 2` before `week 10`."""
    parts = re.split(r"(\d+)", text.casefold())
    return [(0, int(part), "") if part.isdecimal() and len(part) < 20 else (1, 0, part) for part in parts]


def _walk(folder: Path) -> Iterable[Path]:
    for here, folders, names in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(names):
            if not name.startswith("."):
                yield Path(here) / name


def _why_not(file: Path) -> str | None:
    name = file.name.casefold()
    if name.startswith("~$"):
        return "a spreadsheet's lock file"
    plain = name.removesuffix(".gz")
    if not plain.endswith(SUFFIXES):
        return "not a table file"
    if plain.endswith(".txt") and plain.startswith(("readme", "license", "notes")):
        return "a text to read, not a table"
    return None
