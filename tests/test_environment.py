"""The environment of the two commands: made once, made again when stale, refused in one sentence."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from pipelines import environment

PROJECT = """
[build-system]
requires = ["setuptools"]
build-backend = "setuptools.build_meta"
[project]
name = "nothing"
version = "0"
dependencies = []
"""


@pytest.fixture
def clone(tmp_path):
    (tmp_path / "pyproject.toml").write_text(PROJECT, encoding="utf-8")
    (tmp_path / ".ci").mkdir()
    (tmp_path / environment.CONSTRAINTS).write_text("setuptools==84.2.1\n", encoding="utf-8")
    return tmp_path


@pytest.fixture
def no_index(monkeypatch):
    """pip asks no index, as on a machine without a network."""
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    monkeypatch.setenv("PIP_FIND_LINKS", "")


def made(clone, *, extras=()):
    """An environment as `ready` leaves it, without the packages."""
    python = clone / ".venv" / ("Scripts/python.exe" if sys.platform == "win32" else "bin/python")
    python.parent.mkdir(parents=True)
    python.touch()
    stamp = {"made_from": environment._fingerprint(clone), "extras": list(extras)}
    (clone / ".venv" / environment.STAMP).write_text(json.dumps(stamp), encoding="utf-8")
    return python


def test_an_old_python_is_refused_in_one_sentence():
    with pytest.raises(SystemExit, match=r"^stickfleet needs Python 3\.11 or newer, and this is Python 3\.9\.$"):
        environment.refuse_old_python((3, 9))


def test_the_newest_pythons_are_not_refused():
    environment.refuse_old_python((3, 11))
    environment.refuse_old_python((4, 0))


def test_an_environment_that_fits_is_used_as_it_is(clone):
    python = made(clone, extras=["tests"])
    assert environment.ready(root=clone) == python
    assert environment.ready(extras=["tests"], root=clone) == python


def test_other_pins_make_the_environment_anew_and_packages_that_cannot_be_had_end_it_in_a_sentence(clone, no_index, capfd):
    python = made(clone)
    left = python.parent / "left_over"
    left.touch()
    (clone / environment.CONSTRAINTS).write_text("setuptools==84.2.0\n", encoding="utf-8")
    with pytest.raises(SystemExit, match=r"^The packages could not be installed; pip's own words stand above\."):
        environment.ready(root=clone)
    assert "setuptools" in capfd.readouterr().err
    assert python.exists()
    assert not left.exists()
    stamp = json.loads((clone / ".venv" / environment.STAMP).read_text(encoding="utf-8"))
    assert stamp["made_from"] != environment._fingerprint(clone), "what did not install must not count as made"


def test_a_change_that_installs_nothing_else_keeps_the_environment(clone):
    python = made(clone)
    (clone / "pyproject.toml").write_text(PROJECT + "[tool.ruff]\nline-length = 90\n", encoding="utf-8")
    assert environment.ready(root=clone) == python


def test_an_environment_that_somebody_else_made_is_left_alone(clone):
    (clone / ".venv").mkdir()
    with pytest.raises(SystemExit, match="was not made by this command"):
        environment.ready(root=clone)
    assert (clone / ".venv").is_dir()


def test_it_needs_nothing_but_the_standard_library():
    code = (
        "import sys; sys.path.insert(0, sys.argv[1]); import pipelines.environment; "
        "print(sorted({name.split('.')[0] for name in sys.modules} - set(sys.stdlib_module_names) - {'__main__'}))"
    )
    words = [sys.executable, "-I", "-S", "-c", code, str(environment.ROOT)]
    assert subprocess.run(words, capture_output=True, text=True, check=True).stdout.strip() == "['pipelines']"


def test_the_exit_code_of_what_it_runs_comes_back(tmp_path):
    assert environment.run(sys.executable, "-c", "raise SystemExit(3)", cwd=tmp_path) == 3
