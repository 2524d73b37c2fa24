"""A pack opened again: every member checked against the manifest, in memory; nothing of it is written anywhere."""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import io
import json
import re
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path

from pipelines.answers.batch_exhibit_record import FileRead
from pipelines.errors import InputError
from pipelines.pack.made import MANIFEST
from pipelines.wording import batch_exhibit as wording

#: More than this in a pack is an accident or an attack.
MOST_BYTES, MOST_MEMBERS = 256 << 20, 100
_NAME = re.compile(r"[a-z0-9_]+\.(json|csv|html|toml)")
_KINDS = {"case": dict, "level": float, "settings": dict, "software": dict, "files": list, "mappings": dict, "members": dict}
_REMEDY = "Ask for the pack again; it is a .zip that stickfleet wrote."


@dataclass(frozen=True)
class Pack:
    """members: name → bytes, the manifest without; mappings: digest → content."""

    members: dict[str, bytes]
    batch: str
    has_notes: bool
    level: float
    settings: dict[str, object]
    software: dict[str, str]
    files: list[FileRead]
    mappings: dict[str, str]


def open_pack(path: Path) -> Pack:
    """Read a pack. Raises InputError on what is no pack, is damaged, or was altered after it was made."""
    members = _members(path)
    try:
        told = values(MANIFEST, members.pop(MANIFEST))
        _require(isinstance(told, dict) and all(isinstance(told.get(name), kind) for name, kind in _KINDS.items()))
        sums, case, named = told["members"], told["case"], told["mappings"]
        altered = [name for name, one in members.items() if hashlib.sha256(one).hexdigest() != sums.get(name)]
        lost = sorted({*sums, *wording.MEMBERS} - {*members, MANIFEST})
        if altered or lost:
            raise InputError(wording.altered_words(path.name, altered, lost), _REMEDY)
        for name in members:
            if not name.endswith((".html", ".toml")):
                values(name, members[name])
        mappings = {digest: members[name].decode() for digest, name in named.items()}
        _require(isinstance(case["batch"], str) and all(isinstance(one, str) for one in told["software"].values()))
        files = [_file(one, mappings) for one in told["files"]]
        chosen = (told["level"], told["settings"], told["software"])
        return Pack(members, case["batch"], case["notes"] is True, *chosen, files, mappings)
    except (KeyError, TypeError, ValueError, RecursionError, csv.Error) as error:
        raise InputError(f"{path.name} is no evidence pack, or is damaged.", _REMEDY) from error


def values(name: str, member: bytes) -> object:
    """Return what a member says: JSON with all numbers as floats, CSV as a list of rows.

    Raises ValueError, csv.Error, and RecursionError on JSON too deep to read.
    """
    if name.endswith(".json"):
        return json.loads(member, parse_int=float)
    return list(csv.DictReader(io.StringIO(member.decode("utf-8-sig"), newline="")))


def _members(path: Path) -> dict[str, bytes]:
    try:
        with zipfile.ZipFile(path) as packed:
            listed = packed.infolist()
            names = [one.filename for one in listed]
            if len(names) > MOST_MEMBERS or sum(one.file_size for one in listed) > MOST_BYTES:
                raise InputError(f"{path.name} unpacks to more than a pack holds.", _REMEDY)
            if len(set(names)) < len(names) or MANIFEST not in names or not all(map(_NAME.fullmatch, names)):
                raise InputError(f"{path.name} is no evidence pack: it does not hold what one holds.", _REMEDY)
            return {name: packed.read(name) for name in names}
    except OSError as error:
        raise InputError(f"{path} cannot be read ({error.strerror or error}).", "Name the pack, a .zip.") from error
    # an encrypted member is a RuntimeError, an unknown way of packing a NotImplementedError
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, NotImplementedError) as error:
        raise InputError(f"{path.name} is no zip, or is damaged.", _REMEDY) from error


def _file(told: Mapping[str, object], mappings: Mapping[str, str]) -> FileRead:
    one = FileRead(**{part.name: told[part.name] for part in fields(FileRead)})
    _require(isinstance(one.load, float) and isinstance(one.file, str) and isinstance(one.sha256, str))
    _require(one.mapping is None or one.mapping in mappings)
    if one.as_of is not None:
        dt.date.fromisoformat(one.as_of)
    return one


def _require(is_so: bool) -> None:
    if not is_so:
        raise ValueError
