"""Text files: decoded strictly, as UTF-8 on disk, with their lines counted and their irregularities seen."""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pipelines.errors import InputError
from pipelines.logs.opening import Opened, head_of

_CHUNK = 16 << 20
_NOT_TEXT = "Name the exported table itself: CSV, TSV, .xlsx, .ods or Parquet."
_NAME_IT = 'it may be named under [file] in the mapping file, as encoding = "cp1250".'


@dataclass(frozen=True)
class Text:
    """A text file as UTF-8 on disk. line_count counts physical lines, a last one without its line end too."""

    path: Path
    encoding: str
    line_count: int
    has_quotes: bool
    needs_care: bool


def as_text(opened: Opened, scratch: Path, *, encoding: str | None) -> Text:
    """Decode a text file, strictly; what is no UTF-8 is rewritten as UTF-8 in `scratch`. Raises InputError."""
    told = encoding and codecs.lookup(encoding).name
    encoding = (told if told != "utf-8" else None) or _told_by_mark(head_of(opened.path)) or _utf8_or_western(opened)
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
            f"Save it as UTF-8; if it is another encoding, {_NAME_IT}",
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


def _utf8_or_western(opened: Opened) -> str:
    """Return utf-8 where every byte fits it, else windows-1252. Raises InputError for what is no text."""
    rest, place = b"", 0
    for chunk in _chunks(opened.path):
        _refuse_binary(opened, chunk, place)
        if rest or not chunk.isascii():
            damaged_at = place - len(rest)
            rest, is_other = _utf8_rest(rest + chunk, opened, damaged_at)
            if is_other:
                return "windows-1252"
        place += len(chunk)
    return "windows-1252" if rest else "utf-8"


def _refuse_binary(opened: Opened, chunk: bytes, place: int) -> None:
    zero = chunk.find(0)
    if zero >= 0:
        line = _line_at(opened.path, place + zero)
        raise InputError(f"{opened.shown} is not a text file (a zero byte in line {line}).", _NOT_TEXT)
    # a few odd bytes are a slip in a note, many are no text at all
    if np.count_nonzero(np.frombuffer(chunk, np.uint8) < 9) > 0.005 * len(chunk) + 4:
        raise InputError(f"{opened.shown} is not a text file.", _NOT_TEXT)


def _utf8_rest(data: bytes, opened: Opened, place: int) -> tuple[bytes, bool]:
    """Return the bytes of a letter cut at the end, and whether the data is no UTF-8 at all.

    Raises InputError where it is UTF-8 but for a few bytes: another encoding would spoil all its letters.
    """
    try:
        data.decode("utf-8")
        return b"", False
    except UnicodeDecodeError as error:
        if error.reason == "unexpected end of data" and error.end == len(data):
            return data[error.start :], False
        bad_at = error.start
    text = data.decode("utf-8", errors="replace")
    bad = text.count("\N{REPLACEMENT CHARACTER}")
    good = sum(1 for one in text if one > "\x7f") - bad
    if good > 10 * bad:
        line = _line_at(opened.path, place + bad_at)
        raise InputError(
            f"{opened.shown} is UTF-8 with damaged letters, first in line {line}.",
            f"Export it again; if it is another encoding, {_NAME_IT}",
        )
    return b"", True


def _chunks(path: Path) -> Iterator[bytes]:
    with open(path, "rb") as file:
        while chunk := file.read(_CHUNK):
            yield chunk


def _line_at(path: Path, place: int) -> int:
    with open(path, "rb") as file:
        return file.read(place).count(b"\n") + 1


def _surveyed(opened: Opened, path: Path, encoding: str) -> Text:
    """Count lines and look for what the quick reader could get wrong: lone carriage returns, quotes that stay open."""
    line_ends = returns = pairs = 0
    has_quotes, odd, last, open_quotes = False, False, b"\n", 0
    for chunk in _chunks(path):
        line_ends += int(np.count_nonzero(np.frombuffer(chunk, np.uint8) == 10))
        returns += chunk.count(b"\r")
        pairs += (chunk.count(b"\r\n") if returns else 0) + (last == b"\r" and chunk[:1] == b"\n")
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
