"""A small messy log of several loads, one with a mapping file, and packs of a batch of it; and packs tampered with."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from pipelines import warehouse
from pipelines.answers import ask
from pipelines.answers.batch_exhibit_record import BatchExhibit
from pipelines.load import load
from pipelines.pack.made import MANIFEST, pack_bytes
from pipelines.settings import Settings
from tests.dashboard.fleet import write_exports

BATCH = "TC-20"
#: Rows of a shop with words of its own, and one dated far ahead.
_OWN = """Ticket,unit_id,stick,family,received_on,action,outcome,visit_reason,finding,remarks
X1,{unit},L,Corvath,2026-05-04,zapped,pass,fault_report,fault_confirmed,asked for by A. Nobody
X2,{unit},L,Corvath,2071-05-04,zapped,pass,fault_report,fault_confirmed,
"""
_MAPPING = '[columns]\n"Ticket" = "job_id"\n\n[codes.action]\n"zapped" = "clean_air"\n'


@dataclass(frozen=True)
class Log:
    """The exports as they lie, in two folders, and the warehouse they were loaded into one after the other."""

    exports: list[Path]
    warehouse: Path

    def ask(self, *, settings: Settings = Settings(), **case: str) -> BatchExhibit:  # noqa: B008
        with warehouse.reading(self.warehouse) as connection:
            return ask("batch-exhibit", connection, settings=settings, case={"batch": BATCH} | case)

    def pack(self, folder: Path, **words) -> Path:
        path = folder / "pack.zip"
        path.write_bytes(pack_bytes(self.ask(**words)))
        return path


def make_log(folder: Path) -> Log:
    first, second = write_exports(folder / "first"), folder / "second"
    second.mkdir()
    (second / "own.csv").write_text(_OWN.format(unit="NA-00104"), encoding="utf-8")
    (folder / "words.toml").write_text(_MAPPING, encoding="utf-8")
    log = Log([first, second], folder / "warehouse")
    load([first], warehouse=log.warehouse, settings=Settings())
    load([second], warehouse=log.warehouse, settings=Settings(), mapping=folder / "words.toml")
    return log


def members_of(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def zipped(members: Mapping[str, bytes]) -> bytes:
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, one in members.items():
            packed.writestr(name, one)
    return written.getvalue()


def tampered(path: Path, name: str, change: Callable[[bytes], bytes], *, is_hidden: bool) -> Path:
    """Return a copy of a pack with one member changed; is_hidden: the manifest is changed with it."""
    members = members_of(path)
    members[name] = change(members[name])
    if is_hidden and name != MANIFEST:
        told = json.loads(members[MANIFEST])
        told["members"][name] = hashlib.sha256(members[name]).hexdigest()
        members[MANIFEST] = json.dumps(told).encode()
    forged = path.with_name("forged.zip")
    forged.write_bytes(zipped(members))
    return forged
