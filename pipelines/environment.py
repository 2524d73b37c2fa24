"""The environment of the two commands in README.md: `.venv` in the clone, made once and made again when it is stale.

It runs before anything is installed, so it uses the standard library alone, and nothing else of the package imports
it. What to install stands in `pyproject.toml`; the exact versions stand in `.ci/constraints.txt`. To pin them anew:

    uv pip compile --universal --python-version 3.11 --extra tests --no-emit-index-url --no-annotate --no-header \
        --output-file .ci/constraints.txt pyproject.toml
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import venv
from collections.abc import Sequence
from pathlib import Path

LOWEST_PYTHON = (3, 11)
ROOT = Path(__file__).resolve().parents[1]
FOLDER = ".venv"
CONSTRAINTS = Path(".ci") / "constraints.txt"
#: Stands inside the environment and tells what it was made from. No stamp: it is somebody else's.
STAMP = "stickfleet.json"


def ready(*, extras: Sequence[str] = (), root: Path = ROOT) -> Path:
    """Return the Python of an environment that holds stickfleet and these extras, made first where needed.

    Ends the program with one sentence when this Python is too old or the packages cannot be installed.
    """
    refuse_old_python(sys.version_info[:2])
    folder = root / FOLDER
    made_from, wanted = _fingerprint(root), sorted(extras)
    stamp = _stamp(folder)
    if stamp is not None and stamp.get("made_from") == made_from and _python(folder).exists():
        if set(wanted) <= set(stamp["extras"]):
            return _python(folder)
        wanted = sorted({*wanted, *stamp["extras"]})
    else:
        _make(folder, is_foreign=stamp is None)
    _install(folder, root, wanted)
    _write_stamp(folder, {"made_from": made_from, "extras": wanted})
    return _python(folder)


def refuse_old_python(version: tuple[int, int]) -> None:
    """End the program when `version` (major, minor) is older than stickfleet needs."""
    if version < LOWEST_PYTHON:
        needed, found = (".".join(map(str, numbers)) for numbers in (LOWEST_PYTHON, version))
        raise SystemExit(f"stickfleet needs Python {needed} or newer, and this is Python {found}.")


def run(python: Path, *words: str, cwd: Path = ROOT) -> int:
    """Run `python words…` and return its exit code; Ctrl-C ends both quietly."""
    try:
        return subprocess.call([str(python), *words], cwd=cwd)
    except KeyboardInterrupt:
        return 130


def become(python: Path, *words: str, cwd: Path = ROOT) -> None:
    """End this program by running `python words…` in its place, so that signals reach it; never returns."""
    if os.name == "nt":  # there, exec gives the prompt back while the new program runs on
        raise SystemExit(run(python, *words, cwd=cwd))
    sys.stdout.flush()
    os.chdir(cwd)
    os.execv(python, [str(python), *words])


def _make(folder: Path, *, is_foreign: bool) -> None:
    if folder.exists():
        if is_foreign:
            raise SystemExit(f"{folder} was not made by this command. Move it away, then run the command again.")
        if Path(sys.prefix).resolve() == folder.resolve():
            raise SystemExit(f"{folder} is out of date. Run the command with the Python that you installed, not with its own.")
        try:
            shutil.rmtree(folder)
        except OSError as error:
            raise SystemExit(f"{folder} is out of date but in use ({error.strerror}). Close what runs from it.") from error
    print(f"Making the environment in {folder} (once; about 900 MB, one to three minutes) …", flush=True)
    try:
        folder.mkdir()
        _write_stamp(folder, {"made_from": "", "extras": []})  # ours from the start, so a broken-off try is made again
        venv.create(folder, symlinks=os.name != "nt", with_pip=not _has_pip())
    except (OSError, subprocess.CalledProcessError) as error:
        shutil.rmtree(folder, ignore_errors=True)
        raise SystemExit(
            f"The environment cannot be made in {folder} ({error}). Is there room on the disk, and does "
            "`python3 -m pip --version` work? Debian and Ubuntu: apt install python3-pip python3-venv."
        ) from error


def _install(folder: Path, root: Path, extras: Sequence[str]) -> None:
    # Python's own pip fills the new environment, which therefore needs none (Debian packages it apart).
    pip = [sys.executable, "-m", "pip", "--python", str(_python(folder))] if _has_pip() else [str(_python(folder)), "-m", "pip"]
    target = f".[{','.join(extras)}]" if extras else "."
    words = ["install", "--quiet", "--disable-pip-version-check", "--constraint", str(CONSTRAINTS), "--editable", target]
    try:
        code = subprocess.call([*pip, *words], cwd=root)
    except KeyboardInterrupt:
        raise SystemExit(130) from None
    if code:
        raise SystemExit(
            "The packages could not be installed; pip's own words stand above. "
            "It must reach a package index: check the network or proxy, and the room on the disk; then run this again."
        )


def _fingerprint(root: Path) -> str:
    """Say what an environment made now would be made from: this Python, this folder, the project's words, the pins."""
    import tomllib

    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    parts = [sys.version, str(root), json.dumps([project["build-system"], project["project"]], sort_keys=True)]
    parts.append((root / CONSTRAINTS).read_text(encoding="utf-8"))
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()


def _stamp(folder: Path) -> dict | None:
    try:
        return json.loads((folder / STAMP).read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None


def _write_stamp(folder: Path, stamp: dict) -> None:
    (folder / STAMP).write_text(json.dumps(stamp), encoding="utf-8")


def _python(folder: Path) -> Path:
    return folder / "Scripts" / "python.exe" if os.name == "nt" else folder / "bin" / "python"


def _has_pip() -> bool:
    return importlib.util.find_spec("pip") is not None
