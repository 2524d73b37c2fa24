"""A pack worked out anew from the raw files: checked, loaded as they were, asked again, compared."""

from __future__ import annotations

import datetime as dt
import hashlib
import shutil
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from pipelines import load as loading
from pipelines import warehouse
from pipelines.answers import ask
from pipelines.answers.batch_exhibit import software
from pipelines.answers.batch_exhibit_record import FileRead
from pipelines.errors import InputError
from pipelines.logs.finding import find
from pipelines.pack.compare import Compared, compare
from pipelines.pack.made import MANIFEST, pack_members
from pipelines.pack.opened import Pack, open_pack
from pipelines.settings import Settings
from pipelines.vocabulary import Question
from pipelines.wording.batch_exhibit import files_trouble


@dataclass(frozen=True)
class Reproduced:
    """What came of it. made_with, here: software, name → version; extra: files named that the log did not have, left out."""

    compared: Compared
    made_with: dict[str, str]
    here: dict[str, str]
    extra: list[str]


def reproduce(path: Path, paths: Sequence[Path], *, progress: loading.Progress | None = None) -> Reproduced:
    """Work a pack out anew in a folder of its own that is thrown away. paths: the raw files, or folders they are in.

    Raises InputError on what is no pack, and on files that are missing or have changed.
    """
    pack = open_pack(path)
    found, extra = _matched(pack.files, paths)
    with tempfile.TemporaryDirectory(prefix="stickfleet-", ignore_cleanup_errors=True) as folder:
        _load(pack, found, Path(folder), progress)
        with warehouse.reading(Path(folder) / "warehouse") as connection:
            answer = ask(
                Question.BATCH_EXHIBIT, connection, level=pack.level, settings=Settings().overlaid(pack.settings),
                case={"batch": pack.batch, "notes": "yes" if pack.has_notes else "no"},
            )  # fmt: skip
            anew = pack_members(answer)
    del anew[MANIFEST]
    here = software()
    return Reproduced(compare(pack.members, anew, is_same_software=pack.software == here), pack.software, here, extra)


def _matched(files: Sequence[FileRead], paths: Sequence[Path]) -> tuple[dict[str, Path], list[str]]:
    """Return checksum → file, and the names of those that the log did not have."""
    given: dict[str, tuple[Path, str]] = {}
    for export in find(paths)[0]:
        with open(export.path, "rb") as file:
            given.setdefault(hashlib.file_digest(file, "sha256").hexdigest(), (export.path, export.shown))
    wanted = {one.sha256: one.file for one in files}
    extra = {shown.rsplit("/", 1)[-1]: shown for sha256, (_, shown) in given.items() if sha256 not in wanted}
    gone = sorted(name for sha256, name in wanted.items() if sha256 not in given)
    if gone:
        changed = [name for name in gone if name.rsplit("/", 1)[-1] in extra]
        said = files_trouble([name for name in gone if name not in changed], changed)
        raise InputError(said, "Name all files that the log was loaded from, as they were then; the page of the pack lists them.")
    return {sha256: path for sha256, (path, _) in given.items()}, sorted(extra.values())


def _load(pack: Pack, found: dict[str, Path], folder: Path, progress: loading.Progress | None) -> None:
    """Load the files as they were loaded: the same loads, names, order, mapping and settings."""
    for number, (_, grouped) in enumerate(groupby(pack.files, lambda one: one.load)):
        files = list(grouped)
        place, seen = folder / f"load_{number}", Counter()
        for one in files:
            _copy(found[one.sha256], place / str(seen[one.file]), one.file)
            seen[one.file] += 1
        mapping = None
        if files[0].mapping is not None:
            mapping = folder / f"mapping_{number}.toml"
            mapping.write_text(pack.mappings[files[0].mapping], encoding="utf-8")
        loading.load(
            sorted(place.iterdir()), warehouse=folder / "warehouse", settings=Settings().overlaid(pack.settings), mapping=mapping,
            today=None if files[0].as_of is None else dt.date.fromisoformat(files[0].as_of), progress=progress,
        )  # fmt: skip


def _copy(path: Path, place: Path, name: str) -> None:
    """Put a file at its name below `place`, and nowhere else. Raises InputError."""
    target = place / name
    if "\0" in name or not target.resolve().is_relative_to(place.resolve()):
        raise InputError(f"The pack names a file '{name}', which leads out of its folder.", "Do not trust this pack.")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, target)
    except OSError as error:
        raise InputError(f"The pack names a file '{name[:80]}', which cannot be one.", "Ask for the pack again.") from error
