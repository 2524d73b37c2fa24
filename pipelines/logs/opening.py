"""From a file on disk to something readable: unpacked if need be, its kind told by its first bytes."""

from __future__ import annotations

import gzip
import hashlib
import re
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path

from pipelines.errors import InputError
from pipelines.logs.finding import Export

_CHUNK = 16 << 20
#: More than this out of a packed file is an accident or an attack.
MOST_UNPACKED = 4 << 30


@dataclass(frozen=True)
class Opened:
    """A readable file. kind: text, book or parquet; path may be an unpacked copy."""

    path: Path
    shown: str
    kind: str
    sha256: str


def open_export(export: Export, scratch: Path) -> Opened:
    """Unpack if need be, and tell the kind by the first bytes. Raises InputError."""
    path = export.path
    try:
        size = path.stat().st_size
        with open(path, "rb") as file:
            sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        head = head_of(path)
        if head[:2] == b"\x1f\x8b":
            path = _unpacked(path, export.shown, scratch / f"{sha256}.unpacked")
            head, size = head_of(path), path.stat().st_size
    except OSError as error:
        raise InputError(f"{export.shown} cannot be read ({error.strerror or error}).", "Check that it may be read.") from error
    if size == 0 or not head.strip(b"\xef\xbb\xbf \t\r\n\x00\xff\xfe"):
        raise InputError(f"{export.shown} is empty.", "Export it again, or leave it out.")
    return Opened(path, export.shown, _kind(path, head, export.shown), sha256)


def head_of(path: Path) -> bytes:
    with open(path, "rb") as file:
        return file.read(1 << 16)


def _kind(path: Path, head: bytes, shown: str) -> str:
    if head[:4] == b"PAR1":
        return "parquet"
    if head[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        return "book"
    if head[:4] == b"PK\x03\x04":
        _refuse_bomb(path, shown)
        return "book"
    start = head.lstrip(b"\xef\xbb\xbf \t\r\n")[:200].lower()
    if start.startswith((b"<!doctype html", b"<html", b"<table", b"<?xml")):
        raise InputError(f"{shown} is a web page or XML, not a table.", "Open it in a spreadsheet and save it as CSV or .xlsx.")
    if head[:5] == b"%PDF-":
        raise InputError(f"{shown} is a PDF, not a table.", "Export the table itself as CSV or .xlsx.")
    if re.match(rb'\[\s*\{|\{\s*"', start):
        raise InputError(f"{shown} is JSON, not a table.", "Export the table itself as CSV or .xlsx.")
    return "text"


def _refuse_bomb(path: Path, shown: str) -> None:
    try:
        with zipfile.ZipFile(path) as packed:
            size = sum(member.file_size for member in packed.infolist())
            names = packed.namelist()
    except zipfile.BadZipFile as error:
        raise InputError(f"{shown} is a damaged workbook.", "Open and save it again in a spreadsheet.") from error
    if size > MOST_UNPACKED:
        raise InputError(f"{shown} unpacks to {size >> 20:,} MB.", "That is more than a workbook holds; export it as CSV.")
    if not any(name.startswith(("xl/", "content.xml")) for name in names):
        raise InputError(f"{shown} is a zip file, not a workbook.", "Unpack it first and load the files inside.")


def _unpacked(path: Path, shown: str, target: Path) -> Path:
    written = 0
    try:
        with gzip.open(path, "rb") as packed, open(target, "wb") as out:
            while chunk := packed.read(_CHUNK):
                written += len(chunk)
                if written > MOST_UNPACKED:
                    raise InputError(f"{shown} unpacks to over {MOST_UNPACKED >> 30} GB.", "Load it in parts.")
                out.write(chunk)
    except (gzip.BadGzipFile, EOFError, zlib.error) as error:
        raise InputError(f"{shown} is a damaged .gz file.", "Pack or export it again.") from error
    return target
