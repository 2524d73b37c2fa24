"""What is installed: the wheel holds the data files, and the pins fit what the project asks for."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest
from packaging.markers import Marker
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("pipelines", "dashboard")
DATA = {".sql", ".csv", ".md", ".toml", ".svg", ".css", ".html"}
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
#: The machines that a marker must be true or false for; each as packaging's marker environment.
MACHINES = [
    {"python_full_version": f"{version}.0", "python_version": version, "sys_platform": platform}
    for version in ("3.11", "3.12", "3.13")
    for platform in ("linux", "darwin", "win32")
]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> zipfile.ZipFile:
    """The wheel that `pip install .` would install, built beside the tree and without asking a package index."""
    copy = tmp_path_factory.mktemp("tree")
    for name in ("README.md", "pyproject.toml"):
        shutil.copy(ROOT / name, copy)
    for package in PACKAGES:
        shutil.copytree(ROOT / package, copy / package, ignore=shutil.ignore_patterns("__pycache__"))
    code = "from setuptools import build_meta; print(build_meta.build_wheel('.'))"
    built = subprocess.run([sys.executable, "-c", code], cwd=copy, capture_output=True, text=True, check=False)
    assert built.returncode == 0, built.stderr
    with zipfile.ZipFile(next(copy.glob("*.whl"))) as opened:
        yield opened


def test_the_wheel_holds_every_module_and_data_file(wheel):
    wanted = {
        path.relative_to(ROOT).as_posix()
        for package in PACKAGES
        for path in (ROOT / package).rglob("*")
        if path.suffix in DATA | {".py"} and "__pycache__" not in path.parts
    }
    assert wanted - set(wheel.namelist()) == set()


def test_the_wheel_brings_the_command_stickfleet(wheel):
    entry_points = next(name for name in wheel.namelist() if name.endswith("entry_points.txt"))
    assert "stickfleet = pipelines.cli:main" in wheel.read(entry_points).decode()


def test_the_wheel_holds_nothing_but_the_two_packages(wheel):
    assert {name.split("/")[0] for name in wheel.namelist() if ".dist-info/" not in name} <= set(PACKAGES)


def pins() -> list[tuple[str, str, Marker | None]]:
    """Return (normal name, version, marker) of every line of the constraints."""
    lines = (ROOT / ".ci" / "constraints.txt").read_text(encoding="utf-8").splitlines()
    read = [Requirement(line) for line in lines]
    return [(normal(pin.name), str(pin.specifier).removeprefix("=="), pin.marker) for pin in read]


def normal(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def test_every_constraint_is_one_exact_version_and_nothing_else():
    for line in (ROOT / ".ci" / "constraints.txt").read_text(encoding="utf-8").splitlines():
        assert re.fullmatch(r"[a-z0-9-]+==[0-9][0-9a-z.]*( ; [a-z_]+ [<>=!]+ '[\w.]+')?", line), line


@pytest.mark.parametrize("machine", MACHINES, ids=lambda machine: f"{machine['python_version']}-{machine['sys_platform']}")
def test_the_pins_give_each_dependency_one_version_that_fits_on(machine):
    pinned = [(name, version) for name, version, marker in pins() if marker is None or marker.evaluate(machine)]
    assert len(pinned) == len({name for name, _ in pinned})
    versions = dict(pinned)
    for line in [*PROJECT["dependencies"], *PROJECT["optional-dependencies"]["tests"]]:
        wanted = Requirement(line)
        assert wanted.specifier.contains(versions[normal(wanted.name)]), line
