"""The published cases as frames: `load_case(id)` gives the spells and what the source says must come out.

cases.json holds for each case its source, whether the printed digits were seen or only remembered, the tolerance, and
the licence of the data where it is known; data/ holds the data sets.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

HERE = Path(__file__).resolve().parent


@dataclass(frozen=True)
class Case:
    """One published case.

    spells: counts of `entry`, `lower`, `upper`, `spell_count` in the source's unit of time (lower == upper: failed then;
    upper infinite: still well at `lower`; else failed in between), and `at`, `is_failure` where no failure is an interval;
    None for a case without lifetimes.
    params: values at which the source evaluates something, by name.
    expected: name → number, list or None (does not exist), right to rel_tol; published: printed value and its rounding.
    """

    id: str
    source: str
    published_seen: str
    data_licence: str
    data: dict
    spells: pd.DataFrame | None
    expected: dict
    published: dict
    rel_tol: float
    params: dict


@cache
def _all_cases() -> dict[str, dict]:
    return {case["id"]: case for case in json.loads((HERE / "cases.json").read_text(encoding="utf-8"))["cases"]}


def case_ids(prefix: str) -> list[str]:
    """Return the ids that begin with the prefix: km_ curves, wb_ Weibull fits, prop_ shares."""
    return [one for one in _all_cases() if one.startswith(prefix)]


def load_case(case_id: str) -> Case:
    """Return one case with its data set read."""
    case = _all_cases()[case_id]
    keys = ("source", "published_seen", "data_licence", "data", "expected", "published", "rel_tol")
    return Case(id=case_id, spells=_spells(case["data"]), params=case.get("params", {}), **{key: case[key] for key in keys})


def rows_of(case: Case) -> pd.DataFrame:
    """Return the rows of a case's data set as published, filtered."""
    return _rows(case.data)


def _rows(data: dict) -> pd.DataFrame | None:
    if "csv" not in data and "rows" not in data:
        return None
    rows = pd.read_csv(HERE / data["csv"]) if "csv" in data else pd.DataFrame(data["rows"])
    return rows.query(data["filter"]) if "filter" in data else rows


def _spells(data: dict) -> pd.DataFrame | None:
    rows = _rows(data)
    if rows is None or not ({"event", "lower"} & set(data)):
        return None
    spells = pd.DataFrame({"entry": rows[data["entry"]].astype(float) if "entry" in data else 0.0}, index=rows.index)
    if "lower" in data:
        spells["lower"], spells["upper"] = rows["lower"].astype(float), rows["upper"].astype(float).fillna(np.inf)
    else:
        is_failure = rows.eval(data["event"]) if "==" in data["event"] else rows[data["event"]] == 1
        spells["lower"] = spells["at"] = rows[data["time"]].astype(float)
        spells["upper"] = spells["lower"].where(is_failure, np.inf)
        spells["is_failure"] = is_failure
    spells["spell_count"] = rows[data["weight"]].astype(int) if "weight" in data else 1
    return spells.reset_index(drop=True)
