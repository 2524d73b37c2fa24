"""From a file on disk to something readable: unpacked, known by its first bytes, text as UTF-8 with lines counted."""

from __future__ import annotations

import codecs
import gzip
import hashlib
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pipelines.errors import InputError
from pipelines.logs.finding import Export

_CHUNK = 16 << 20
#: More than this out of a packed file is an accident or an attack.
MOST_UNPACKED = 4 << 30
_ODD_BYTES = bytes(set(range(32)) - {9, 10, 11, 12, 13, 26, 27})


@dataclass(frozen=True)
class Opened:
    """A readable file. kind: text, book or parquet; path may be an unpacked copy."""

    path: Path
    shown: str
    kind: str
    sha256: str


@dataclass(frozen=True)
class Text:
    """A text file as UTF-8 on disk. line_count counts physical lines, a last one without its line end too."""

    path: Path
    encoding: str
    line_count: int
    has_quotes: bool
    needs_care: bool


def open_export(export: Export, scratch: Path) -> Opened:
    """Unpack if need be, and tell the kind by the first bytes. Raises InputError."""
    path = export.path
    try:
        size = path.stat().st_size
        with open(path, "rb") as file:
            sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        head = _head(path)
        if head[:2] == b"\x1f\x8b":
            path = _unpacked(path, export.shown, scratch / f"{sha256}.unpacked")
            head, size = _head(path), path.stat().st_size
    except OSError as error:
        raise InputError(f"{export.shown} cannot be read ({error.strerror or error}).", "Check that it may be read.") from error
    if size == 0 or not head.strip(b"\xef\xbb\xbf \t\r\n\x00\xff\xfe"):
        raise InputError(f"{export.shown} is empty.", "Export it again, or leave it out.")
    return Opened(path, export.shown, _kind(path, head, export.shown), sha256)


def _head(path: Path) -> bytes:
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


def as_text(opened: Opened, scratch: Path, *, encoding: str | None) -> Text:
    """Decode a text file, strictly; what is no UTF-8 is rewritten as UTF-8 in `scratch`. Raises InputError."""
    told = encoding and codecs.lookup(encoding).name
    encoding = (told if told != "utf-8" else None) or _told_by_mark(_head(opened.path)) or _utf8_or_western(opened)
    if encoding == "utf-8":
        return _surveyed(opened, opened.path, encoding)
    target = scratch / f"{opened.sha256}.utf8"
    line = 1
    try:
        with open(opened.path, encoding=encoding, newline="") as source, open(target, "w", encoding="utf-8", newline="") as out:
            while chunk := source.read(_CHUNK):
                out.write(chunk)
                line += chunk.count("\n")
    except UnicodeError as error:
        raise InputError(
            f"{opened.shown} cannot be read as {encoding}, near line {line}.",
            'Save it as UTF-8, or name its encoding under [file] in the mapping file, as encoding = "cp1250".',
        ) from error
    return _surveyed(opened, target, encoding)


def _told_by_mark(head: bytes) -> str | None:
    if head[:4] in (b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff"):
        return "utf-32"
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    if head[:3] == b"\xef\xbb\xbf":
        return None
    half = max(len(head) // 2, 1)
    # plain words in UTF-16 have a zero in every other byte
    if head[1::2].count(0) > 0.6 * half and head[::2].count(0) < 0.1 * half:
        return "utf-16-le"
    if head[::2].count(0) > 0.6 * half and head[1::2].count(0) < 0.1 * half:
        return "utf-16-be"
    return None


def _chunks(path: Path) -> Iterator[bytes]:
    with open(path, "rb") as file:
        while chunk := file.read(_CHUNK):
            yield chunk


def _utf8_or_western(opened: Opened) -> str:
    """Return utf-8 where every byte fits it, else windows-1252. Raises InputError for what is no text."""
    rest, line, broken = b"", 1, False
    for chunk in _chunks(opened.path):
        if chunk.count(0):
            line += chunk[: chunk.index(0)].count(b"\n")
            raise InputError(f"{opened.shown} is not a text file (a zero byte in line {line}).", _NOT_TEXT)
        # few odd bytes are a slip in a note; many are no text at all
        if len(chunk) - len(chunk.translate(None, _ODD_BYTES)) > 0.01 * len(chunk):
            raise InputError(f"{opened.shown} is not a text file.", _NOT_TEXT)
        if broken or (chunk.isascii() and not rest):
            line += chunk.count(b"\n")
            continue
        try:
            rest, broken = _utf8_rest(rest + chunk)
        except _Damaged as damage:
            line += chunk[: damage.place].count(b"\n")
            raise InputError(f"{opened.shown} is UTF-8 with damaged letters, first in line {line}.", _DAMAGED) from damage
        line += chunk.count(b"\n")
    return "windows-1252" if broken or rest else "utf-8"


_NOT_TEXT = "Name the exported table itself: CSV, TSV, .xlsx, .ods or Parquet."


_DAMAGED = 'Export it again; if it is another encoding, name it under [file] in the mapping file, as encoding = "cp1250".'


class _Damaged(ValueError):
    """UTF-8 with a few bad bytes, the first at `place`."""

    def __init__(self, place: int) -> None:
        super().__init__(place)
        self.place = place


def _utf8_rest(data: bytes) -> tuple[bytes, bool]:
    """Return the bytes of a letter cut at the end, and whether the data is no UTF-8 at all. Raises _Damaged."""
    try:
        data.decode("utf-8")
        return b"", False
    except UnicodeDecodeError as error:
        if error.reason == "unexpected end of data" and error.end == len(data):
            return data[error.start :], False
        place = error.start
    text = data.decode("utf-8", errors="replace")
    bad = text.count("�")
    good = sum(1 for one in text if one > "\x7f") - bad
    if good > 10 * bad:
        raise _Damaged(place)
    return b"", True


def _surveyed(opened: Opened, path: Path, encoding: str) -> Text:
    """Count lines and look for what the quick reader could get wrong: lone carriage returns, quotes that stay open."""
    line_ends = returns = pairs = 0
    has_quotes, odd, last, open_quotes = False, False, b"\n", 0
    for chunk in _chunks(path):
        line_ends += chunk.count(b"\n")
        returns += chunk.count(b"\r")
        pairs += chunk.count(b"\r\n") + (last == b"\r" and chunk[:1] == b"\n")
        if chunk.count(b'"'):
            has_quotes = True
        if has_quotes and not odd:
            odd, open_quotes = _has_odd_line(chunk, open_quotes)
        last = chunk[-1:]
    lone = returns - pairs
    line_count = line_ends + lone + (last not in (b"\n", b"\r"))
    return Text(path, encoding, line_count, has_quotes, needs_care=lone > 0 or odd or open_quotes % 2 == 1)


def _has_odd_line(chunk: bytes, carried: int) -> tuple[bool, int]:
    """Tell whether a line has an odd number of quotes; return the count in the last, unfinished line."""
    if b'"' not in chunk:
        return (carried % 2 == 1, 0) if b"\n" in chunk else (False, carried)
    first, *rest = chunk.split(b"\n")
    if not rest:
        return False, carried + first.count(b'"')
    if (carried + first.count(b'"')) % 2 or any(line.count(b'"') % 2 for line in rest[:-1]):
        return True, 0
    return False, rest[-1].count(b'"')
