"""Parts of the table on forecasts: how often 90 % limits of the coming 13 weeks hold the faults and modules that come.

Controllers of two sticks at three sites, three families; sites, controllers and quarters of the year differ. Each stick goes on
from fault to fault, put right by a clean or a new module. Of 30 past faults some 4 come in 13 weeks, so limits are whole numbers.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipelines.answers.fleet_record import FleetRecord
from pipelines.answers.outlook import QUARTER_DAYS, outlook
from pipelines.estimates.coming_faults import total_of
from pipelines.estimates.estimate import Estimate
from tests.calibration.score import Kind, Rule, Sample

LEVEL, LOG_DAYS, SITES = 0.9, 1000.0, 3
KINDS = ("first_life", "after_clean")
#: Of the laws of a new module and of one just cleaned; scales in h, by family.
SHAPES, SCALES = np.array([1.8, 1.1]), np.array([[1500.0, 2200.0, 3000.0], [900.0, 1500.0, 2100.0]])
PART_SHARE = np.array([0.3, 0.4, 0.6])
SITE_VARIANCE, UNIT_VARIANCE = 0.05, 0.2
#: SD of what a quarter does to all hazards, on the log.
QUARTER_SD = 0.1
FAULTS_A_STICK = 1.0


def forecast(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    return {**_scored(rng, failures, fleets, "", 0.0), **_scored(rng, failures, fleets, ", quarters differ", QUARTER_SD)}


def _scored(rng: np.random.Generator, failures: int, fleets: int, name: str, quarter_sd: float) -> dict[str, Sample]:
    found: dict[str, list] = {"faults": [], "modules": [], "faults at a site": []}
    truth: dict[str, list] = {what: [] for what in found}
    for _ in range(fleets):
        record, came = made_fleet(rng, failures, quarter_sd=quarter_sd)
        told = outlook(record, min_failures=6)
        first = (came["site"] == "0").to_numpy()
        for what, number in (
            ("faults", len(came)), ("modules", came["is_part"].sum()), ("faults at a site", first.sum()),
        ):  # fmt: skip
            truth[what].append(number)
        if told.because is not None:
            for what in found:
                found[what].append(Estimate.refused(told.because))
            continue
        events = told.events(QUARTER_DAYS)
        at_first = (told.frame["site"] == "0").to_numpy()[events.stick]
        for what, is_in in (("faults", events.day > 0), ("modules", events.is_part), ("faults at a site", at_first)):
            found[what].append(total_of(np.bincount(events.future[is_in], minlength=told.draws), level=LEVEL))
    return {f"13 weeks: {what}{name}": Sample.of(found[what], truth[what], Kind.LIMIT, Rule.FORECAST_90) for what in found}


def made_fleet(rng: np.random.Generator, failures: int, *, quarter_sd: float = 0.0) -> tuple[FleetRecord, pd.DataFrame]:
    """Return the record of a fleet with about so many faults, and the faults of its sticks in the 13 weeks after it."""
    units = max(round(failures / FAULTS_A_STICK / 2), 4)
    unit = np.repeat(np.arange(units), 2)
    site, family = rng.integers(0, SITES, units)[unit], rng.integers(0, 3, units)[unit]
    factor = rng.gamma(1 / UNIT_VARIANCE, UNIT_VARIANCE, units)[unit] * rng.gamma(1 / SITE_VARIANCE, SITE_VARIANCE, SITES)[site]
    pace = 2.5 * rng.lognormal(0, 0.4, units)[unit]
    edges = np.append(np.arange(LOG_DAYS % QUARTER_DAYS - QUARTER_DAYS, LOG_DAYS + 1, QUARTER_DAYS), LOG_DAYS + QUARTER_DAYS)
    quarter = np.exp(rng.normal(0, quarter_sd, len(edges) - 1)) if quarter_sd else np.ones(len(edges) - 1)
    begun = rng.uniform(0, 0.7 * LOG_DAYS, units)[unit]
    stick, kind, rows = np.arange(2 * units), np.zeros(2 * units, dtype=int), []
    while len(stick):
        life = _life(rng, begun, pace[stick], SHAPES[kind], SCALES[kind, family[stick]], factor[stick], edges, quarter)
        ended = begun + life
        is_part = rng.random(len(stick)) < PART_SHARE[family[stick]]
        rows.append(pd.DataFrame({"stick": stick, "kind": kind, "begun": begun, "ended": ended, "is_part": is_part}))
        goes_on = ended < LOG_DAYS + QUARTER_DAYS
        stick, begun, kind = stick[goes_on], ended[goes_on], np.where(is_part, 0, 1)[goes_on]
    spells = pd.concat(rows, ignore_index=True)
    of = spells["stick"].to_numpy()
    spells = spells.assign(
        unit=unit[of].astype(str), site=site[of].astype(str), family=family[of].astype(str), pace=pace[of],
        kind=np.array(KINDS)[spells["kind"]], usage_class=None,
    )  # fmt: skip
    came = spells[(spells["ended"] > LOG_DAYS) & (spells["ended"] <= LOG_DAYS + QUARTER_DAYS)]
    return _record(spells[spells["begun"] < LOG_DAYS]), came


def _life(rng, begun, pace, shape, scale, factor, edges, quarter) -> np.ndarray:
    """Return days to the next fault: hazards of the age in hours times that of the quarter of the year."""
    age = np.maximum(edges[None, :] - begun[:, None], 0) * pace[:, None]
    power = (age / scale[:, None]) ** shape[:, None]
    reached = np.cumsum(np.diff(power, axis=1) * quarter, axis=1) * factor[:, None]
    wanted = rng.standard_exponential(len(begun))
    place = (reached < wanted[:, None]).sum(axis=1)
    is_in = place < len(quarter)
    at = np.minimum(place, len(quarter) - 1)
    row = np.arange(len(begun))
    before = np.where(at > 0, reached[row, at - 1], 0.0)
    at_power = power[row, at] + (wanted - before) / (factor * quarter[at])
    return np.where(is_in, at_power ** (1 / shape) * scale / pace, np.inf)


def _record(spells: pd.DataFrame) -> FleetRecord:
    is_failure = (spells["ended"] <= LOG_DAYS).to_numpy()
    ended = np.minimum(spells["ended"], LOG_DAYS)
    at = (ended - spells["begun"]) * spells["pace"]
    upper = np.where(is_failure, at, np.inf)
    watched = spells[["unit", "site", "family", "usage_class"]].assign(
        is_failure=is_failure, entered_on=spells["begun"] - LOG_DAYS, ended_on=ended - LOG_DAYS, has_hours=True, has_days=True,
        **{f"{name}_{clock}": value for clock, unit in (("h", 1.0), ("days", spells["pace"]))
           for name, value in (("kind", spells["kind"]), ("entry", 0.0), ("lower", at / unit), ("upper", upper / unit),
                               ("at", at / unit))},
    )  # fmt: skip
    last = spells[~is_failure].sort_values("stick")
    age = LOG_DAYS - last["begun"]
    sticks = last[["family", "site", "usage_class"]].assign(
        unit_id=last["unit"], stick=last["stick"].astype(str), sensor_type=None, kind_days=last["kind"], kind_h=last["kind"],
        faults_before=0, since_on="2025-01-01", hours_per_day=last["pace"], age_days=age, age_h=age * last["pace"],
    ).reset_index(drop=True)  # fmt: skip
    repairs = spells[is_failure].groupby(["family", "is_part"]).size().rename("fault_count").reset_index()
    return FleetRecord(
        log_start="2023-01-01", log_end="2025-09-27", notice_days=0.0, is_hours=True, watched=watched,
        sticks=sticks, repairs=repairs.rename(columns={"is_part": "is_put_right_by_part"}),
        jobs=pd.DataFrame(columns=["site", "family", "quarter", "other_count", "fault_count"]),
        part_use=pd.DataFrame(columns=["sensor_type", "quarter", "fitted_count", "own_fault_count"]),
        part_stock=pd.DataFrame(columns=["sensor_type", "received_count", "fitted_count", "unrecorded_count"]),
        turnaround_jobs=0, turnaround_days=None, season=None,
    )  # fmt: skip
