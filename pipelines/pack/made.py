"""A pack from an answer: a zip whose bytes are the same whenever log, question and software are."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from pathlib import Path

from pipelines.answers.batch_exhibit_record import BatchExhibit
from pipelines.answers.batch_exhibit_text import compared_table
from pipelines.answers.files import csv_bytes
from pipelines.errors import SettingError
from pipelines.pack.commands import commands
from pipelines.pack.page import exhibit_html

MANIFEST = "manifest.json"
#: The least that a zip can say of when.
_LONG_AGO = (1980, 1, 1, 0, 0, 0)


def write_pack(answer: BatchExhibit, out: Path) -> str:
    """Write the pack to FILE.zip and return its SHA-256. Raises SettingError."""
    if out.suffix.lower() != ".zip":
        raise SettingError(f"A pack cannot be written as {out.name}.", "Name a file that ends in .zip.")
    made = pack_bytes(answer)
    try:
        out.write_bytes(made)
    except OSError as error:
        raise SettingError(f"{out} cannot be written ({error.strerror}).", "Name a file in a folder that is there.") from error
    return hashlib.sha256(made).hexdigest()


def pack_bytes(answer: BatchExhibit) -> bytes:
    """Return the zip."""
    members = pack_members(answer)
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as packed:
        for name in sorted(members, key=lambda name: (name != MANIFEST, name)):
            one = zipfile.ZipInfo(name, _LONG_AGO)
            one.external_attr, one.create_system, one.compress_type = 0o644 << 16, 3, zipfile.ZIP_DEFLATED
            packed.writestr(one, members[name])
    return written.getvalue()


def pack_members(answer: BatchExhibit) -> dict[str, bytes]:
    """Return name → bytes; the manifest holds the checksums of the others."""
    told = answer.to_dict()
    members = {f"{name}.json": _json(one) for name, one in told.pop("answers").items()}
    members["exhibit.html"] = exhibit_html(answer)
    members["rows.csv"], members["compared.csv"] = csv_bytes(answer.rows), csv_bytes(compared_table(answer))
    names = {digest: f"mapping_{number}.toml" for number, digest in enumerate(answer.mappings, 1)}
    members |= {names[digest]: content.encode() for digest, content in answer.mappings.items()}
    sums = {name: hashlib.sha256(members[name]).hexdigest() for name in sorted(members)}
    members[MANIFEST] = _json(told | {"mappings": names, "commands": commands(answer), "members": sums})
    return members


def _json(told: object) -> bytes:
    """Return what `--format json` prints."""
    return (json.dumps(told, ensure_ascii=False, allow_nan=False, indent=1) + "\n").encode()
