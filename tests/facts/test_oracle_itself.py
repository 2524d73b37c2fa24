"""The oracle against histories worked out by hand, and what must hold of it on any nasty log."""

from __future__ import annotations

from itertools import pairwise

import pandas as pd
import pytest

from pipelines.settings import Settings
from tests.facts.nasty import nasty_log, nasty_settings
from tests.facts.oracle import Histories, histories
from tests.facts.worked_cases import worked_cases
from tests.facts.worked_text import Worked

SEEDS = range(6)


def shown(frame: pd.DataFrame, columns: list[str]) -> list[tuple]:
    """Return the rows of a frame in these columns as plain values, in an order that depends on them alone."""
    return sorted((tuple(_plain(value) for value in row) for row in frame[columns].itertuples(index=False)), key=repr)


def _plain(value: object) -> object:
    if value is None or (isinstance(value, float) and pd.isna(value)):
        return None
    return value if isinstance(value, bool) or not isinstance(value, (int, float)) else round(float(value), 9)


def disagreements(case: Worked, found: Histories) -> dict[str, tuple]:
    """Return what differs between a worked history and what was found: name → (expected, found)."""
    wrong = {}
    for name, expected in case.expected.items():
        if name == "left_out":
            pairs = expected, {key: found.left_out[key] for key in expected}
        else:
            columns = list(expected.columns)
            if columns == ["unit_id"] and expected.empty:
                pairs = [], shown(getattr(found, name), ["unit_id"])
            else:
                pairs = shown(expected, columns), shown(getattr(found, name), columns)
        if pairs[0] != pairs[1]:
            wrong[name] = pairs
    return wrong


@pytest.mark.parametrize("case", worked_cases(), ids=lambda case: case.name)
def test_the_oracle_tells_a_history_as_worked_by_hand(case):
    assert disagreements(case, histories(case.tables, case.settings)) == {}


@pytest.mark.parametrize("seed", SEEDS)
def test_no_spell_of_a_stick_overlaps_another(seed):
    found = histories(nasty_log(seed), Settings(quiet_lag_days=0))
    for _, spells in found.spells.groupby(["unit_id", "stick"]):
        spans = sorted((_first_day(row), _last_day(row)) for row in spells.to_dict("records"))
        assert all(end <= start for (_, end), (start, _) in pairwise(spans)), spans


def _first_day(row: dict) -> float:
    return row["age_zero_on"].toordinal() + row["entry_days"]


def _last_day(row: dict) -> float:
    return row["age_zero_on"].toordinal() + row["upper_days"]


@pytest.mark.parametrize("seed", SEEDS)
def test_the_order_of_the_rows_changes_nothing(seed):
    tables, settings = nasty_log(seed), nasty_settings(seed)
    turned = {name: frame.iloc[::-1].reset_index(drop=True) for name, frame in tables.items()}
    first, second = histories(tables, settings), histories(turned, settings)
    for name in ("attempts", "spells", "module_lives"):
        pd.testing.assert_frame_equal(getattr(first, name), getattr(second, name))
    assert first.left_out == second.left_out


@pytest.mark.parametrize("seed", SEEDS)
def test_every_spell_has_length_and_its_bounds_in_order(seed):
    spells = histories(nasty_log(seed), nasty_settings(seed)).spells
    for clock in ("days", "h"):
        known = spells[spells[f"at_{clock}"].notna()]
        assert (known[f"lower_{clock}"] <= known[f"at_{clock}"]).all()
        assert (known[f"at_{clock}"] <= known[f"upper_{clock}"]).all()
        unfailed = known[~known["is_failure"].astype(bool)]
        assert (unfailed[f"lower_{clock}"] == unfailed[f"upper_{clock}"]).all()
    has_hours = spells["at_h"].notna() & (spells["at_h"].astype(float) > spells["entry_h"].astype(float))
    assert ((spells["at_days"] > spells["entry_days"]) | has_hours).all()


def test_the_nasty_logs_hold_every_kind_of_trouble():
    found = [histories(nasty_log(seed), nasty_settings(seed)) for seed in range(20)]
    kinds = pd.concat([one.spells for one in found])["kind"].value_counts()
    assert (kinds.reindex(["first_life", "after_clean", "after_other_repair", "after_preventive"]) > 50).all()
    assert all(sum(one.left_out[name] for one in found) > 5 for name in found[0].left_out)
    assert (pd.concat([one.spells for one in found])["life"] > 0).any()
