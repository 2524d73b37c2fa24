"""What was found before each clean, as counts: by hand, against a plain loop over nasty logs, and drawn from a large log."""

from __future__ import annotations

from collections import Counter, defaultdict

import numpy as np
import pandas as pd
import pytest

from pipelines.facts.build import build
from pipelines.facts.readings import attempt_readings
from tests.facts import oracle
from tests.facts.nasty import nasty_log, nasty_settings
from tests.facts.warehouse_in_memory import filled
from tests.facts.worked_text import worked

READINGS = ["af_rest_offset_pct", "af_jitter_pct", "af_return_spread_pct", "af_reach_pct", "af_linearity_pct"]
#: Those that a dead zone hides.
AT_REST = READINGS[:3]
KNOWN = ["family", "mode", "mechanism", "depth", "attempt_number", "failed_tries", *READINGS]


def read(tables: dict[str, pd.DataFrame], settings, **rest) -> pd.DataFrame:
    connection = filled(tables)
    build(connection, settings)
    return attempt_readings(connection, **rest)


def plain(value: object) -> object:
    return None if value is None or pd.isna(value) else value


def bag(frame: pd.DataFrame) -> Counter:
    """Return how often each row of what is known passed and failed."""
    found = Counter()
    for *known, passed, tried in frame[[*KNOWN, "passed_count", "attempt_count"]].itertuples(index=False, name=None):
        found[(*map(plain, known), True)] += passed
        found[(*map(plain, known), False)] += tried - passed
    return +found


HISTORY = worked(
    "a stick cleaned four times, failed twice after a pass; one read with a dead zone, one misread",
    expected={},
    unit="unit sticks in_service condition\nA1 S d0 new\nA2 S d0 new",
    job="""
    unit stick received reason finding mode action outcome mechanism reading_basis af_rest_offset_pct af_jitter_pct af_reach_pct
    A1   S     d50      check  bad     jitter  air        pass    -          raw 12.5 3.0 97
    A1   S     d90      check  bad     unknown air+flush  fail    unknown    dead_zone_applied 1.0 0.5 90
    A1   S     d95      check  bad     -       open_clean pass    track_wear - 14.0 900 -
    A2   S     d60      check  bad     jitter  air        pass    -          raw 12.5 3.0 97
    A2   S     d70      check  nff     -       air        pass    -          raw 2.0 1.0 99""",
)  # fmt: skip


def test_each_attempt_has_its_readings_its_number_and_the_failed_ones_before_it():
    found = read(HISTORY.tables, HISTORY.settings)
    columns = ["mode", "mechanism", "depth", "attempt_number", "failed_tries", *AT_REST[:2], "af_reach_pct"]
    rows = Counter()
    for *known, passed, tried in found[[*columns, "passed_count", "attempt_count"]].itertuples(index=False, name=None):
        rows[(*map(plain, known), passed, tried)] += 1
    by_both = Counter({key: many for key, many in rows.items() if key[3] > 1})
    assert by_both == Counter([
        (None, None, "air", 2, 0, None, None, 90.0, 0, 1),
        (None, None, "flush", 3, 1, None, None, 90.0, 0, 1),
        (None, "track_wear", "open", 4, 2, 14.0, None, None, 1, 1),
    ])  # fmt: skip
    first = found[found["attempt_number"] == 1]
    assert (first["attempt_count"].sum(), first["passed_count"].sum()) == (2, 2)
    assert first[["mode", "af_rest_offset_pct", "af_jitter_pct", "af_reach_pct"]].drop_duplicates().to_numpy().tolist() == [
        ["jitter", 12.5, 3.0, 97.0]
    ]
    assert first["attempt_count"].max() == (2 if first["fold"].nunique() == 1 else 1)


def nasty_with_readings(seed: int) -> tuple[dict[str, pd.DataFrame], object]:
    tables, rng = dict(nasty_log(seed)), np.random.default_rng(seed)
    jobs = tables["job"].copy()
    for name in READINGS:
        jobs[name] = np.where(rng.random(len(jobs)) < 0.4, np.nan, rng.choice([1.5, 20.0, 90.0, 250.0], len(jobs)))
    jobs["reading_basis"] = rng.choice(["raw", "dead_zone_applied", None], len(jobs))
    return tables | {"job": jobs}, nasty_settings(seed)


@pytest.mark.parametrize("seed", range(6))
def test_a_plain_loop_says_the_same_of_nasty_logs(seed):
    tables, settings = nasty_with_readings(seed)
    tried = oracle.histories(tables, settings).attempts.to_dict("records")
    jobs = {row["job_key"]: row for row in tables["job"].to_dict("records")}
    expected, streak = Counter(), defaultdict(int)
    for one in sorted(tried, key=lambda one: (one["attempt_number"] is None, one["attempt_number"])):
        job, module = jobs[one["job_key"]], tuple(one[name] for name in ("unit_id", "stick", "life", "generation"))
        readings = [plain(job[name]) for name in READINGS]
        for place, name in enumerate(READINGS):
            is_hidden = job["reading_basis"] == "dead_zone_applied" and name in AT_REST
            if is_hidden or (readings[place] or 0) > 200:
                readings[place] = None
        mode = None if job["failure_mode"] == "unknown" else plain(job["failure_mode"])
        number = plain(one["attempt_number"])
        failed = None if number is None else streak[module]
        key = (one["family"], mode, plain(one["mechanism"]), one["depth"], number, failed, *readings)
        expected[(*key, bool(one["is_passed"]))] += 1
        streak[module] = 0 if one["is_passed"] else streak[module] + 1
    assert sum(expected.values()) > 30
    assert bag(read(tables, settings)) == expected


def test_a_large_log_is_drawn_by_whole_controllers_and_rare_families_stand_whole():
    rng = np.random.default_rng(7)
    units = pd.DataFrame({"unit": [f"A{one}" for one in range(400)], "family": ["Common"] * 390 + ["Rare"] * 10})
    rows = [
        f"{unit} S d{day} check bad {'air' if rng.random() < 0.5 else 'flush'} pass {family} {number}"
        for number, (unit, family) in enumerate(units.itertuples(index=False)) for day in (50, 90)
    ]  # fmt: skip
    log = worked(
        "many", expected={}, job="unit stick received reason finding action outcome family af_jitter_pct\n" + "\n".join(rows)
    )
    whole, drawn = (read(log.tables, log.settings, largest=largest) for largest in (800, 200))
    by_family = drawn.groupby("family")["attempt_count"].sum()
    assert whole["attempt_count"].sum() == 800
    assert by_family["Rare"] == 20
    assert 60 < by_family["Common"] < 140
    # the jitter here numbers the controller
    assert (drawn.groupby("af_jitter_pct")["attempt_count"].sum() == 2).all()
    assert (drawn.groupby("af_jitter_pct")["fold"].nunique() == 1).all()
    assert whole["fold"].nunique() == 5
    pd.testing.assert_frame_equal(drawn, read(log.tables, log.settings, largest=200))


def test_an_empty_log_gives_no_counts():
    assert read({}, HISTORY.settings).empty
