"""The user's mapping file (TOML): what their headings, words, dates and numbers mean, for all files or by file name.

[columns]            "Their heading" = "unit_id"        or "ignore"
[codes.outcome]      "their word" = "pass"              or "" for a blank
[file]               day_first = true, decimal = ",", delimiter = ";", encoding = "cp1250", skip = true
[scale]              af_rest_offset_pct = 100           multiplies what the file says
[fixed]              stick = "S"                        for a column the file does not have
[table]              name = "jobs"
[files."arcade*.csv".columns]  …                        the same sections for some files only; they win
"""

from __future__ import annotations

import fnmatch
import hashlib
import json
import tomllib
from collections.abc import Mapping as Pairs
from dataclasses import dataclass, field, replace
from pathlib import Path

from pipelines.contract import KEYS, contract
from pipelines.errors import SettingError
from pipelines.logs.spelling import fold
from pipelines.vocabulary import CODES

_SECTIONS = frozenset(("columns", "codes", "file", "scale", "fixed", "table", "files"))
_FILE_KEYS = {"day_first": bool, "decimal": str, "delimiter": str, "encoding": str, "skip": bool}


@dataclass(frozen=True)
class FileMapping:
    """What the mapping file says about one file. columns: folded heading → column; codes: list → folded word → code."""

    columns: dict[str, str] = field(default_factory=dict)
    codes: dict[str, dict[str, str]] = field(default_factory=dict)
    scale: dict[str, float] = field(default_factory=dict)
    fixed: dict[str, str] = field(default_factory=dict)
    table: str | None = None
    day_first: bool | None = None
    decimal: str | None = None
    delimiter: str | None = None
    encoding: str | None = None
    skip: bool = False


@dataclass(frozen=True)
class Mapping:
    """The whole mapping file. digest changes with its content; text: as it was written."""

    everywhere: FileMapping = FileMapping()
    by_pattern: tuple[tuple[str, FileMapping], ...] = ()
    digest: str = ""
    text: str = ""

    def for_file(self, shown: str) -> FileMapping:
        """Return what counts for a file; sections of later matching patterns win."""
        result = self.everywhere
        name = shown.replace("\\", "/")
        for pattern, own in self.by_pattern:
            if fnmatch.fnmatch(name, pattern) or fnmatch.fnmatch(name.rsplit("/", 1)[-1], pattern):
                result = _laid_over(result, own)
        return result


def read(path: Path | None) -> Mapping:
    """Read a mapping file; None gives an empty mapping. Raises SettingError."""
    if path is None:
        return Mapping()
    try:
        text = path.read_text(encoding="utf-8-sig")
        told = tomllib.loads(text)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SettingError(f"The mapping file {path.name} cannot be read: {error}.", "Mend it or name another.") from error
    files = told.get("files", {})
    if not isinstance(files, dict):
        raise _wrong(path, "files", 'write [files."pattern*.csv".columns]')
    by_pattern = tuple((pattern, _file_mapping(path, own, f'files."{pattern}".')) for pattern, own in files.items())
    digest = hashlib.sha256(json.dumps(told, sort_keys=True, default=str).encode()).hexdigest()
    return Mapping(_file_mapping(path, {k: v for k, v in told.items() if k != "files"}, ""), by_pattern, digest, text)


def _file_mapping(path: Path, told: object, where: str) -> FileMapping:
    if not isinstance(told, dict):
        raise _wrong(path, where.rstrip("."), "it must be a section")
    for name, section in told.items():
        if name not in _SECTIONS or name == "files" or not isinstance(section, dict):
            raise _wrong(path, where + name, f"the sections are {', '.join(sorted(_SECTIONS))}")
    file = _file_section(path, told.get("file", {}), where)
    table = told.get("table", {}).get("name")
    if table is not None and table not in KEYS:
        raise _wrong(path, f"{where}table.name", f"the tables are {', '.join(KEYS)}")
    return FileMapping(
        columns={fold(word): _column(path, name, f"{where}columns", extra="ignore")
                 for word, name in told.get("columns", {}).items()},
        codes=_codes(path, told.get("codes", {}), where),
        scale={_column(path, name, f"{where}scale"): _factor(path, value, f"{where}scale.{name}")
               for name, value in told.get("scale", {}).items()},
        fixed={_column(path, name, f"{where}fixed"): str(value) for name, value in told.get("fixed", {}).items()},
        table=table,
        **file,
    )  # fmt: skip


def _file_section(path: Path, told: dict, where: str) -> dict:
    for name, value in told.items():
        if name not in _FILE_KEYS or not isinstance(value, _FILE_KEYS[name]):
            raise _wrong(path, f"{where}file.{name}", f"the keys are {', '.join(_FILE_KEYS)}")
    if told.get("decimal", ".") not in (".", ","):
        raise _wrong(path, f"{where}file.decimal", 'it is "." or ","')
    if told.get("delimiter", ",") not in (",", ";", "\t", "|"):
        raise _wrong(path, f"{where}file.delimiter", 'it is ",", ";", "|" or a tab')
    try:
        "".encode(told.get("encoding", "utf-8"))
    except LookupError as error:
        raise _wrong(path, f"{where}file.encoding", "Python knows no such encoding") from error
    return told


def _codes(path: Path, told: dict, where: str) -> dict[str, dict[str, str]]:
    read: dict[str, dict[str, str]] = {}
    for name, words in told.items():
        place = f"{where}codes.{name}"
        if name not in CODES or not isinstance(words, dict):
            raise _wrong(path, place, f"the coded columns are {', '.join(CODES)}")
        codes = {str(code) for code in CODES[name]}
        for word, code in words.items():
            steps = str(code).split("+") if name == "action" else [str(code)]
            if code != "" and not codes.issuperset(steps):
                raise _wrong(path, f'{place} "{word}"', f"'{code}' is none of {', '.join(sorted(codes))}")
            read.setdefault(name, {})[fold(word)] = str(code)
    return read


def _column(path: Path, name: object, place: str, *, extra: str | None = None) -> str:
    if name == extra or name in {column.name for column in contract()}:
        return str(name)
    raise _wrong(path, place, f"there is no column '{name}'; `stickfleet check` lists what was understood")


def _factor(path: Path, value: object, place: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < 1e9:
        raise _wrong(path, place, "a multiplier is a number above zero")
    return float(value)


def _laid_over(below: FileMapping, above: FileMapping) -> FileMapping:
    codes = {name: below.codes.get(name, {}) | above.codes.get(name, {}) for name in {*below.codes, *above.codes}}
    said: Pairs[str, object] = {
        name: value for name in ("table", "day_first", "decimal", "delimiter", "encoding", "skip")
        if (value := getattr(above, name)) not in (None, False) or (name == "day_first" and value is False)
    }  # fmt: skip
    return replace(
        below, columns=below.columns | above.columns, codes=codes, scale=below.scale | above.scale,
        fixed=below.fixed | above.fixed, **said,
    )  # fmt: skip


def _wrong(path: Path, place: str, what: str) -> SettingError:
    return SettingError(f"The mapping file {path.name} has something wrong at [{place}].", f"{what[0].upper()}{what[1:]}.")
