"""The floors and doors of the house: who may import whom. DEVELOPERS.md says what each room is for."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

#: From the ground up. A room imports only rooms on lower floors, never its neighbours.
FLOORS = (
    ("pipelines.vocabulary", "pipelines.errors"),
    ("pipelines.warehouse", "pipelines.contract", "pipelines.settings"),
    ("pipelines.facts", "pipelines.logs"),
    ("pipelines.estimates",),
    ("pipelines.wording", "pipelines.decisions"),
    ("pipelines.load", "pipelines.answers"),
    ("pipelines.charts",),
    ("pipelines.pack",),
    ("pipelines.cli",),
    ("pipelines.__main__",),
    ("dashboard.source",),
    ("dashboard.parts",),
    ("dashboard.screens",),
    ("dashboard.app",),
)
FLOOR_OF = {room: number for number, rooms in enumerate(FLOORS) for room in rooms}
#: Runs before anything is installed: no room may import it, and it may import none.
OUTSIDE = "pipelines.environment"

DOORS = {
    "streamlit": {"dashboard.app", "dashboard.screens", "dashboard.parts", "dashboard.source"},
    "plotly": {"pipelines.charts"},
    "matplotlib": {"pipelines.charts"},
    "duckdb": {"pipelines.logs", "pipelines.facts", "pipelines.warehouse", "pipelines.load", "dashboard.source"},
    "lifelines": {"pipelines.estimates"},
}
#: Take more than half a second to import, so a command that needs no fit must not pay for them.
LATE = ("lifelines", "scipy", "matplotlib")


def modules() -> list[Path]:
    return sorted(path for package in ("pipelines", "dashboard") for path in (ROOT / package).rglob("*.py"))


def room_of(path: Path) -> str:
    """Return the room of a file, e.g. pipelines/facts/read.py → pipelines.facts; a package's own name for its __init__."""
    parts = path.relative_to(ROOT).with_suffix("").parts[:2]
    return parts[0] if parts[1] == "__init__" else ".".join(parts)


def imported(nodes: list[ast.stmt] | ast.AST) -> list[tuple[int, str]]:
    """Return (line, dotted name) of every import under `nodes`; `from pipelines import x` counts as pipelines.x."""
    walked = ast.walk(nodes) if isinstance(nodes, ast.AST) else nodes
    found = []
    for node in walked:
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            origin = "." * node.level + (node.module or "")
            found += [(node.lineno, f"{origin}.{alias.name}") for alias in node.names]
    return found


def faults(path: Path, text: str) -> list[str]:
    """Return what the imports of one file break, one sentence each."""
    tree, room = ast.parse(text), room_of(path)
    where, found = path.relative_to(ROOT).as_posix(), []
    for line, name in imported(tree):
        top, other = name.split(".")[0], ".".join(name.split(".")[:2])
        if name.startswith("."):
            found.append(f"{where}:{line} imports {name}; write the whole name.")
        elif top in ("pipelines", "dashboard") and other != room and not _is_below(other, room):
            found.append(f"{where}:{line} {room} may not import {other}, which is not on a lower floor.")
        elif top in DOORS and room not in DOORS[top]:
            found.append(f"{where}:{line} {room} may not import {top}; only {', '.join(sorted(DOORS[top]))} may.")
    for line, name in imported(tree.body):
        if name.split(".")[0] in LATE:
            found.append(f"{where}:{line} imports {name} at the top; import it inside the function that needs it.")
    return found


def _is_below(other: str, room: str) -> bool:
    return other in FLOOR_OF and room in FLOOR_OF and FLOOR_OF[other] < FLOOR_OF[room]


def test_every_module_stands_on_a_floor():
    rooms = {room_of(path) for path in modules()}
    assert rooms - set(FLOOR_OF) <= {OUTSIDE, "pipelines", "dashboard"}


@pytest.mark.parametrize("path", modules(), ids=lambda path: path.relative_to(ROOT).as_posix())
def test_a_room_imports_only_from_floors_below_and_through_its_own_doors(path):
    assert faults(path, path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("file", "text", "fault"),
    [
        ("pipelines/facts/read.py", "from pipelines.answers import ask", "not on a lower floor"),
        ("pipelines/facts/read.py", "def f():\n    from pipelines import logs", "not on a lower floor"),
        ("pipelines/logs/intake.py", "import pipelines.facts.build", "not on a lower floor"),
        ("pipelines/load.py", "import pipelines.environment", "not on a lower floor"),
        ("pipelines/environment.py", "import pipelines.errors", "not on a lower floor"),
        ("pipelines/__init__.py", "import pipelines.errors", "not on a lower floor"),
        ("dashboard/parts/filters.py", "from dashboard.screens import front", "not on a lower floor"),
        ("pipelines/facts/read.py", "from . import build", "whole name"),
        ("pipelines/cli.py", "import streamlit as st", "may not import streamlit"),
        ("dashboard/screens/front.py", "import plotly.graph_objects as go", "may not import plotly"),
        ("dashboard/screens/front.py", "import duckdb", "may not import duckdb"),
        ("pipelines/answers/life.py", "def f():\n    from lifelines import WeibullFitter", "may not import lifelines"),
        ("pipelines/estimates/survival.py", "from scipy import stats", "inside the function"),
    ],
)
def test_a_broken_rule_is_found(file, text, fault):
    found = faults(ROOT / file, text)
    assert len(found) == 1
    assert fault in found[0]


@pytest.mark.parametrize(
    ("file", "text"),
    [
        ("pipelines/facts/read.py", "import duckdb\nfrom pipelines.facts import build\nfrom pipelines.errors import InputError"),
        ("pipelines/estimates/survival.py", "def f():\n    import lifelines"),
        ("dashboard/app.py", "import streamlit\nfrom dashboard import parts\nfrom pipelines import answers"),
    ],
)
def test_an_import_that_the_floors_allow_is_no_fault(file, text):
    assert faults(ROOT / file, text) == []
