"""Simulated rows → the jobs table of the data dictionary, clean and complete."""

from __future__ import annotations

import numpy as np
import pandas as pd

from example_data import work
from example_data.bench_readings import add_readings
from example_data.canonical_words import SITE_LETTER, dates, stick_words, unit_ids, words
from example_data.lots import DISPOSITIONS
from example_data.rows import FINDINGS, INTAKE, NOT_TESTED, PREVENTIVE, REASONS
from example_data.scenario import BATCHES, FAMILIES, LAST_DAY, SITES, USAGE_CLASSES, World

TECHNICIANS = (("heron", "plover", "avocet"), ("dunlin", "curlew"), ("siskin", "linnet", "twite", "serin"))
LIFE_KNOWN_FROM = ("new", "bought_used", "unknown", "unknown")
NOTES = ("customer waiting", "second time this month", "cap loose too", "tested twice", "left stick only", "parts on order")


def _all_rows(arcades, bench) -> dict[str, np.ndarray]:
    rows = arcades.rows.joined()
    if bench is not None:
        more = bench.rows.joined()
        more["unit"] = more["unit"] + arcades.register.count
        rows = {name: np.concatenate([rows[name], more[name]]) for name in rows}
    order = np.lexsort((rows["slot"], rows["unit"], rows["day"], rows["site"]))
    return {name: values[order] for name, values in rows.items()}


def jobs(rng, world: World, arcades, bench, seats) -> pd.DataFrame:
    """Return the jobs table: one row per stick per visit, in the dictionary's columns and order, blanks as missing."""
    rows = _all_rows(arcades, bench)
    n = len(rows["unit"])
    job_ids = _job_ids(rows)
    frame = pd.DataFrame({"job_id": job_ids, "visit_id": _visit_ids(rows)})
    units = unit_ids(arcades, bench)[rows["unit"]]
    stick = stick_words(rows["family"], rows["slot"])
    frame["unit_id"], frame["stick"] = units, stick
    frame["module_id"] = frame["unit_id"] + "-" + frame["stick"] + words(range(100), rows["module_no"]).astype(str)
    frame["family"] = words([f.name for f in FAMILIES], rows["family"])
    frame["sensor_type"] = words([f.sensor_type for f in FAMILIES], rows["family"])
    is_open = rows["closed_day"] > LAST_DAY
    frame["received_on"], frame["closed_on"] = dates(rows["day"]), dates(rows["closed_day"])
    gone = is_open | (rows["outcome"] == work.SCRAPPED) | (rows["returned_day"] == -9999)
    frame["returned_to_service_on"] = dates(np.where(gone, LAST_DAY + 1, rows["returned_day"]))
    _add_findings(rng, world, frame, rows, is_open)
    _add_use(rng, world, frame, rows, arcades, seats)
    for name, column in (("part_batch_found", "batch_found"), ("part_batch_fitted", "batch_fitted")):
        frame[name] = words([b.batch_id for b in BATCHES], rows[column])
    frame["lot_id"] = words([f"LOT-{i + 1:04d}" for i in range(rows["lot"].max() + 1)], rows["lot"])
    frame["site_id"] = words(SITES, rows["site"])
    frame["limit_set"] = "house"
    add_readings(rng, world, frame, rows)
    frame["warranty_days"] = pd.array(np.where(rows["warranty_days"] < 0, 0, rows["warranty_days"]), "Int64")
    frame.loc[rows["warranty_days"] < 0, "warranty_days"] = pd.NA
    frame["claim_of_job_id"] = _claims(rows, job_ids)
    who = rng.integers(0, 1000, n)[pd.factorize(frame["visit_id"])[0]]  # one person a visit
    frame["technician"] = np.select([rows["site"] == i for i in range(3)], [words(t, who % len(t)) for t in TECHNICIANS])
    frame["note"] = np.where(rng.random(n) < (0 if world.is_easy else 0.03), words(NOTES, who % len(NOTES)), None)
    return frame


def _job_ids(rows) -> np.ndarray:
    number = np.zeros(len(rows["site"]), int)
    for site in range(3):
        here = rows["site"] == site
        number[here] = np.arange(1, here.sum() + 1)
    return SITE_LETTER[rows["site"]] + np.char.mod("%07d", number).astype(object)


def _visit_ids(rows) -> np.ndarray:
    is_new = np.ones(len(rows["unit"]), bool)
    is_new[1:] = (np.diff(rows["unit"]) != 0) | (np.diff(rows["day"]) != 0)
    return SITE_LETTER[rows["site"]] + "V" + np.char.mod("%07d", np.cumsum(is_new)).astype(object)


def _claims(rows, job_ids) -> np.ndarray:
    place = rows["unit"] * 2 + rows["slot"]
    intake = np.flatnonzero(rows["reason"] == INTAKE)
    first = pd.Series(job_ids[intake], index=place[intake])
    claimed = np.full(len(place), None, object)
    answers = rows["claim_slot_of"] >= 0
    claimed[answers] = first.reindex(place[answers]).to_numpy()
    return claimed


def _add_findings(rng, world, frame, rows, is_open) -> None:
    n = len(rows["unit"])
    frame["visit_reason"], frame["finding"] = words(REASONS, rows["reason"]), words(FINDINGS, rows["finding"])
    frame["failure_mode"] = words(work.MODES, rows["mode"])
    recorded = np.where((rows["mechanism"] >= 0) & (rng.random(n) < (1 if world.is_easy else 0.72)), rows["mechanism"], -1)
    mistaken = (recorded >= 0) & (not world.is_easy) & (rng.random(n) < 0.10)
    recorded = np.where(mistaken, rng.choice([work.CONTAMINATION, work.TRACK, work.WIPER], n), recorded)
    opened = np.maximum.reduce([rows["step_1"], rows["step_2"], rows["step_3"]]) == 3
    frame["failure_mechanism"] = words(work.MECHANISMS, recorded)
    seen = np.where(opened, rng.choice([0, 1, 1], n), rng.choice([2, 3, 3], n))
    frame["mechanism_evidence"] = words(("microscope", "eye", "measured", "inferred"), np.where(recorded < 0, -1, seen))
    code, action = work.action_words(np.column_stack([rows[f"step_{i}"] for i in (1, 2, 3)]), rows["final"])
    frame["action"] = words(action, code)
    deepest = np.maximum.reduce([rows["step_1"], rows["step_2"], rows["step_3"]])
    frame["clean_passes"] = pd.array((np.column_stack([rows[f"step_{i}"] for i in (1, 2, 3)]) > 0).sum(axis=1), "Int64")
    frame["cleaner_class"] = words(("none", "dry_air", "contact_cleaner_dry", "ipa"), deepest)
    outcome = np.where(is_open, work.OPEN, rows["outcome"])
    untested = (rows["reason"] == PREVENTIVE) & (rows["finding"] == NOT_TESTED) & (rng.random(n) < 0.3)
    frame["outcome"] = words(work.OUTCOMES, np.where(untested & ~is_open, work.UNKNOWN, outcome))
    place = np.where(rows["outcome"] == work.SCRAPPED, 4, np.where(rows["site"] == 2, rng.integers(1, 4, n), 0))
    frame["disposition"] = words(("service", *DISPOSITIONS[1:]), np.where(is_open, -1, place))


def _add_use(rng, world, frame, rows, arcades, seats) -> None:
    n, arcade_count = len(rows["unit"]), arcades.register.count
    here = rows["unit"] < arcade_count
    unit = np.where(here, rows["unit"], 0)
    lost = rng.random(n) < world.hours_missing_share
    frame["usage_hours"] = np.where(lost, np.nan, rows["usage_h"].round(1))
    estimated = (rows["site"] == 1) & (rng.random(n) < (0 if world.is_easy else 0.01))
    basis = np.where(~here | lost, 2, np.where(estimated, 1, 0))
    frame["usage_basis"] = words(("metered", "estimated", "unknown"), basis)
    frame["usage_class"] = words((*USAGE_CLASSES, "unknown"), np.where(here, arcades.register.usage[unit], 3))
    known = rows["is_start_known"] == 1
    swapped = rows["module_no"] > 1
    frame["in_service_since"] = dates(np.where(known, rows["fitted_day"], LAST_DAY + 1))
    origin = words(LIFE_KNOWN_FROM, np.where(here, arcades.register.origin[unit], 2))
    frame["life_known_from"] = np.where(swapped, "previous_replacement", origin)
    frame["station_id"] = np.where(here, seats.at(unit, rows["day"]), None)
