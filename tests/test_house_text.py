"""House rules that can be read off the files: names, SQL, settings, what the text must not say."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from dataclasses import fields
from pathlib import Path

import pytest

from pipelines.settings import Settings

ROOT = Path(__file__).resolve().parents[1]
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "dashboard", "pipelines", "tests", "example_data"}
VAGUE = {"utils", "util", "helpers", "helper", "common", "misc", "manager", "base"}
NOT_TEXT = {".xlsx", ".gz", ".png", ".parquet", ".ico", ".woff2"}
FORBIDDEN_TEXT = {
    "a package registry's host": re.compile(r"https?://[a-z0-9.-]*(?:pypi|pythonhosted|npmjs|debian)[a-z0-9.-]*", re.I),
    "a path of one machine": re.compile(r"(?<![\w.~$/-])/(?:work|tmp|root|home|Users)/\w"),
    "a folder that is not in the project": re.compile(r"(?<!\w)shared[/]"),
}

#: Where names go into SQL by substitution, because parameters cannot name a table or column: file → how often, why.
#: The names stand in the code, never in an export.
NAMES_IN_SQL = {
    "pipelines/facts/spells.py": 1,  # the variables that the views of a question read
}
SQL_CALLS = {"execute", "executemany", "sql", "query"}
SQL_WORDS = re.compile(r"\b(?:SELECT|INSERT INTO|DELETE FROM|UPDATE|CREATE (?:OR REPLACE )?(?:TEMP )?(?:TABLE|VIEW)|COPY)\b")
RELATIONAL = re.compile(r"\bSELECT\b.*(?:\bJOIN\b|\bOVER\s*\(|\bGROUP BY\b|\b(?:sum|avg|min|max)\()", re.S)


def project_files() -> list[Path]:
    """Return the tracked files; without git (an unpacked archive), every file outside hidden and built folders."""
    try:
        listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True)
        named = [ROOT / name for name in listed.stdout.split("\0") if name]
        return [path for path in named if path.is_file()]
    except (OSError, subprocess.CalledProcessError):
        built = {"__pycache__", "build"}
        return [
            path
            for path in ROOT.rglob("*")
            if path.is_file()
            and not any(
                part in built or part.endswith(".egg-info") or (part[0] == "." and part not in (".ci", ".streamlit"))
                for part in path.relative_to(ROOT).parts[:-1]
            )
        ]


def named(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def sources() -> list[Path]:
    return [path for path in project_files() if path.suffix == ".py"]


def forbidden_in(text: str) -> list[str]:
    return [f"{what}: {match.group()}" for what, pattern in FORBIDDEN_TEXT.items() for match in pattern.finditer(text)]


def built_sql_in(tree: ast.AST) -> list[int]:
    """Return the lines that put values or names into SQL by building text instead of giving parameters."""
    lines = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.args:
            is_built = isinstance(node.args[0], ast.JoinedStr | ast.BinOp) or (
                isinstance(node.args[0], ast.Call)
                and isinstance(node.args[0].func, ast.Attribute)
                and node.args[0].func.attr in ("format", "replace", "substitute")
            )
            if node.func.attr in SQL_CALLS and is_built:
                lines.add(node.args[0].lineno)
        if isinstance(node, ast.JoinedStr):
            fixed = "".join(part.value for part in node.values if isinstance(part, ast.Constant))
            if SQL_WORDS.search(fixed):
                lines.add(node.lineno)
    return sorted(lines)


def relational_sql_in(tree: ast.AST) -> list[int]:
    return [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and RELATIONAL.search(node.value)
    ]


def blanket_excepts_in(tree: ast.AST) -> list[int]:
    return [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.ExceptHandler)
        and (node.type is None or {"Exception", "BaseException"} & {getattr(one, "id", "") for one in ast.walk(node.type)})
    ]


def program_trees() -> list[tuple[str, ast.AST]]:
    return [
        (named(path), ast.parse(path.read_text(encoding="utf-8")))
        for path in sources()
        if named(path).startswith(("pipelines/", "dashboard/"))
    ]


def test_only_the_agreed_names_stand_at_the_top():
    tops = {path.relative_to(ROOT).parts[0] for path in project_files()}
    assert {name for name in tops if not name.startswith(".")} <= TOP_LEVEL


def test_no_file_names_a_registry_a_machine_path_or_a_folder_outside_the_project():
    found = {
        named(path): said
        for path in project_files()
        if path.suffix not in NOT_TEXT and (said := forbidden_in(path.read_bytes().decode("utf-8", "replace")))
    }
    assert found == {}


def test_no_module_has_a_name_that_says_nothing():
    assert [named(path) for path in sources() if {path.stem, *path.relative_to(ROOT).parts[:-1]} & VAGUE] == []


def test_no_file_beside_the_dashboards_app_hides_a_standard_module():
    """Streamlit puts the app's folder first on the path, so dashboard/calendar.py would be everybody's calendar."""
    assert [path.name for path in (ROOT / "dashboard").glob("*.py") if path.stem in sys.stdlib_module_names] == []


def test_sql_gets_its_values_as_parameters():
    found = {name: len(lines) for name, tree in program_trees() if (lines := built_sql_in(tree))}
    assert {name: count for name, count in found.items() if count > NAMES_IN_SQL.get(name, 0)} == {}


def test_sql_that_joins_or_counts_stands_in_a_file_of_its_own():
    assert {name: lines for name, tree in program_trees() if (lines := relational_sql_in(tree))} == {}


def test_nothing_catches_every_exception():
    assert {name: lines for name, tree in program_trees() if (lines := blanket_excepts_in(tree))} == {}


def test_every_sql_file_says_its_grain_first():
    files = [path for path in project_files() if path.suffix == ".sql"]
    assert files
    assert [named(path) for path in files if not path.read_text(encoding="utf-8").startswith("-- Grain: ")] == []


def test_every_setting_has_a_unit_and_a_sentence_of_help():
    for setting in fields(Settings):
        assert setting.metadata["unit"], setting.name
        assert re.fullmatch(r"[A-Z].{15,}\.", setting.metadata["help"]), setting.name


@pytest.mark.parametrize(
    ("finder", "code"),
    [
        (built_sql_in, 'con.execute(f"SELECT {x}")'),
        (built_sql_in, 'con.sql("SELECT " + x)'),
        (built_sql_in, 'con.execute("SELECT {}".format(x))'),
        (built_sql_in, 'query = f"DELETE FROM {table}"\ncon.execute(query)'),
        (relational_sql_in, 'q = "SELECT a, count(*) FROM b GROUP BY a"'),
        (blanket_excepts_in, "try:\n    f()\nexcept (ValueError, Exception):\n    pass"),
        (blanket_excepts_in, "try:\n    f()\nexcept:\n    pass"),
    ],
)
def test_a_broken_rule_in_code_is_found(finder, code):
    assert len(finder(ast.parse(code))) == 1


@pytest.mark.parametrize("text", ["https:" + "//files.python" + "hosted.org/x", "see " + "/root" + "/x", "../shared" + "/design"])
def test_a_broken_rule_in_text_is_found(text):
    assert len(forbidden_in(text)) == 1


def test_code_that_keeps_the_rules_is_no_fault():
    tree = ast.parse('con.execute("SELECT 1 WHERE $a", {"a": 1})\ntry:\n    f()\nexcept ValueError:\n    g(f"Select {x}.")')
    assert built_sql_in(tree) + relational_sql_in(tree) + blanket_excepts_in(tree) == []
