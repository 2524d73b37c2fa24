"""The tables beside the jobs: register, meter readings, lots, sales, batches, seats, prices and limits."""

from __future__ import annotations

import numpy as np
import pandas as pd

from example_data import lots as lot_words
from example_data.bench_readings import LIMITS
from example_data.canonical_words import dates, unit_ids, words
from example_data.register import LEFT_OUT
from example_data.scenario import BATCHES, FAMILIES, HOURS_PER_WEEK, LAST_DAY, LOG_START, SITES, USAGE_CLASSES

FAMILY_NAMES = tuple(f.name for f in FAMILIES)
#: Deliveries of fewer modules are inspected by the plan for small ones.
SMALL_DELIVERY = 50
#: The study of the tester: measure → mean, standard deviation of sticks, largest offset of a person (their standard deviation is
#: 0.92 of it), standard deviation of repeats [% of half-scale].
STUDY = {"rest_offset": (6.5, 2.6, 0.1, 0.45), "reach": (96.0, 2.2, 0.9, 0.7)}
STUDY_PERSONS, STUDY_STICKS, STUDY_TRIALS, STUDY_SEED = ("heron", "plover", "avocet"), 10, 3, 11


def all_tables(rng, arcades, bench, seats, jobs: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Return every companion table by its name in the data dictionary; lots and sales only where there is a bench."""
    tables = {
        "units": units(arcades, bench),
        "usage_readings": usage_readings(arcades),
        "part_batches": part_batches(rng, jobs),
        "assignments": assignments(arcades, seats),
        "limits": limits(),
    }
    if bench is not None:
        tables["batch_inspections"] = batch_inspections(rng, tables["part_batches"])
        tables["lots"] = lots(rng, bench)
        tables["sales"] = sales(bench)
        tables["prices"] = prices()
        tables["downtime"] = downtime(rng, jobs, seats)
        tables["repeat_readings"] = repeat_readings(tables["units"])
    return tables


def units(arcades, bench) -> pd.DataFrame:
    """Return the register of all units, repaired or not."""
    register, world = arcades.register, arcades.world
    retired = register.out_day <= LAST_DAY
    scrapped = arcades.end_day < -1
    turn = np.arange(register.count) % 10
    reason = np.where(scrapped, 1, np.select([turn < 4, turn < 6, turn < 7, turn < 9], [4, 0, 2, 5], 3))
    arcade = pd.DataFrame({
        "family": words(FAMILY_NAMES, register.family),
        "usage_class": words(USAGE_CLASSES, register.usage),
        "in_service_on": dates(register.start_day),
        "out_of_service_on": dates(np.where(retired, register.out_day, LEFT_OUT)),
        "out_reason": words(("sold", "scrapped", "lost", "stolen", "stored", "transferred"), np.where(retired, reason, -1)),
        "new_or_used": words(("new", "used", "refurbished", "unknown"), register.origin),
        "site_id": words(SITES, register.site),
        "expected_hours_per_week": (HOURS_PER_WEEK[register.usage] if world.is_easy else register.hours_per_day * 7).round(0),
        "family_code": register.family,
    })  # fmt: skip
    frames = [arcade] if bench is None else [arcade, _bench_units(bench)]
    table = pd.concat(frames, ignore_index=True)
    table.insert(0, "unit_id", unit_ids(arcades, bench))
    table.insert(3, "sensor_type", words([f.sensor_type for f in FAMILIES], table["family_code"].to_numpy()))
    table.insert(4, "sticks", words([f.sticks for f in FAMILIES], table["family_code"].to_numpy()))
    table = table.drop(columns="family_code")
    return table[table["in_service_on"].notna()].reset_index(drop=True)


def _bench_units(bench) -> pd.DataFrame:
    """Stock of the bench: its register notes scrap; that a unit was sold stands in the sales alone."""
    units = bench.units
    scrapped = units.scrapped_day <= LAST_DAY
    return pd.DataFrame({
        "family": words(FAMILY_NAMES, units.family),
        "usage_class": "unknown",
        "in_service_on": dates(units.intake_day),
        "out_of_service_on": dates(units.scrapped_day),
        "out_reason": np.where(scrapped, "scrapped", None),
        "new_or_used": "used",
        "site_id": "bench",
        "expected_hours_per_week": np.nan,
        "family_code": units.family,
    })  # fmt: skip


def usage_readings(arcades) -> pd.DataFrame:
    """Return meter readings: at the start, on the first of each month, and at the end of service or of the log."""
    register = arcades.register
    firsts = np.arange("2023-07", "2026-07", dtype="datetime64[M]").astype("datetime64[D]")
    monthly = (firsts - LOG_START).astype(int)
    ends = np.minimum(register.out_day, LAST_DAY)
    unit, turn = np.nonzero((monthly > register.start_day[:, None]) & (monthly < ends[:, None]))
    everyone = np.arange(register.count)
    unit = np.concatenate([everyone, unit, everyone])
    day = np.concatenate([register.start_day, monthly[turn], ends])
    order = np.lexsort((day, unit))
    unit, day = unit[order], day[order]
    kept = np.ones(len(unit), bool)
    kept[1:] = (np.diff(unit) > 0) | (np.diff(day) > 0)
    unit, day = unit[kept], day[kept]
    frame = pd.DataFrame({
        "unit_id": unit_ids(arcades, None)[unit], "read_on": dates(day), "hours": hours_at(arcades, unit, day).round(1),
    })  # fmt: skip
    frame["meter_reset"] = False
    frame["source"] = "meter"
    return frame


def hours_at(arcades, unit, day) -> np.ndarray:
    """Return the meter [h] of each `unit` on `day`: it stands still from receipt until the unit goes back."""
    register, season = arcades.register, arcades.season
    trips = arcades.trips.joined()
    order = np.lexsort((trips["day"], trips["unit"]))
    trips = {name: values[order] for name, values in trips.items()}
    place = np.searchsorted(trips["unit"] * 10_000 + trips["day"] + 2000, unit * 10_000 + day + 2000, side="right") - 1
    has_trip = (place >= 0) & (trips["unit"][place] == unit)
    since = np.where(has_trip, trips["returned_day"][place], register.start_day[unit])
    hours = np.where(has_trip, trips["hours"][place], register.start_h[unit])
    played = season.play_days(np.maximum(day, since)) - season.play_days(since)
    return hours + played * register.hours_per_day[unit]


def part_batches(rng, jobs: pd.DataFrame) -> pd.DataFrame:
    """Return the batches; about one module in seven of each batch is still in stock."""
    used = jobs["part_batch_fitted"].value_counts()
    qty = np.ceil(np.array([used.get(b.batch_id, 0) for b in BATCHES]) * 1.15 / 5) * 5 + 5
    received = np.array([b.received_day for b in BATCHES])
    cost = {"carbon_pot": 2.2, "conductive_plastic": 3.8, "hall": 5.4, "tmr": 6.8}
    return pd.DataFrame({
        "batch_id": [b.batch_id for b in BATCHES],
        "supplier": [b.supplier for b in BATCHES],
        "part_type": [f"{b.sensor_type.replace('_', ' ')} module" for b in BATCHES],
        "date_code": [pd.Timestamp(day).strftime("%y%V") for day in dates(received - 45)],
        "received_on": dates(received),
        "qty": qty.astype(int),
        "unit_cost": (np.array([cost[b.sensor_type] for b in BATCHES]) * rng.uniform(0.92, 1.08, len(BATCHES))).round(2),
        "sensor_type": [b.sensor_type for b in BATCHES],
        "mixed_flag": False,
    })  # fmt: skip


def batch_inspections(rng, batches: pd.DataFrame) -> pd.DataFrame:
    """Return one incoming inspection per batch, by two plans of the standard for 1.5 %: 8 of a small delivery, else 32.

    It did not see the bad batch: its modules fail later, not at once. One that the plan refuses was accepted all the same.
    """
    n, is_small = len(BATCHES), batches["qty"].to_numpy() < SMALL_DELIVERY
    bad = rng.binomial(32, 0.012, n)
    bad = np.where(is_small, np.random.default_rng(SMALL_DELIVERY).binomial(bad, 8 / 32), bad)
    accept = np.where(is_small, 0, 1)
    is_beyond = bad > accept
    against = is_beyond & (np.cumsum(is_beyond) == 2)
    return pd.DataFrame({
        "batch_id": [b.batch_id for b in BATCHES], "inspected_on": dates(np.array([b.received_day for b in BATCHES]) + 2),
        "level_letter": np.where(is_small, "D", "G"), "n": np.where(is_small, 8, 32), "nonconforming": bad, "aql": 1.5,
        "ac": accept, "decision": np.where(is_beyond & ~against, "accept_on_concession", "accept"),
        "characteristic": "rest offset",
    })  # fmt: skip


def assignments(arcades, seats) -> pd.DataFrame:
    """Return which unit served which seat, from when to when."""
    periods = seats.periods(arcades.register)
    frame = pd.DataFrame({"unit_id": unit_ids(arcades, None)[periods.pop("unit")], **periods})
    return frame.sort_values(["unit_id", "from_at"], kind="stable", ignore_index=True)


def lots(rng, bench) -> pd.DataFrame:
    """Return the purchases."""
    lots, n = bench.lots, len(bench.lots.family)
    return pd.DataFrame({
        "lot_id": [f"LOT-{i + 1:04d}" for i in lots.number], "bought_on": dates(lots.listed_day),
        "seller": words(lot_words.SELLERS, lots.seller), "stated_condition": words(lot_words.CONDITIONS, lots.condition),
        "family": words(FAMILY_NAMES, lots.family), "units_bought": lots.bought_count, "units_received": lots.received_count,
        "lot_price": lots.price, "buyer_premium": (lots.price * 0.12).round(2),
        "freight": (8 + 0.45 * lots.bought_count * rng.uniform(0.8, 1.3, n)).round(2), "tax": (lots.price * 0.05).round(2),
    })  # fmt: skip


def sales(bench) -> pd.DataFrame:
    """Return one row per unit sold, with its return if it came back within the warranty."""
    units = bench.units
    sold = np.flatnonzero(units.sold_day <= LAST_DAY)
    order = sold[np.argsort(units.sold_day[sold], kind="stable")]
    serials = np.array([f"7{i * 7919 % 10**8:08d}{i:09d}" for i in range(len(units.lot))], object)
    return pd.DataFrame({
        "unit_id": serials[order], "sold_on": dates(units.sold_day[order]), "price": units.price[order],
        "grade": words(lot_words.GRADES, units.grade[order]), "warranty_days": units.warranty_days[order],
        "returned_on": dates(units.returned_day[order]),
        "return_reason": words(lot_words.RETURN_REASONS, units.return_reason[order]),
    })  # fmt: skip


def prices() -> pd.DataFrame:
    """Return resale by family and grade, and the shop's costs. All invented."""
    rows = [(f"{f.name}/{grade}", "2023-07-01", round(f.resale * share, 2), "resale")
            for f in FAMILIES for grade, share in (("A", 1.0), ("B", 0.85), ("C", 0.66), ("parts", 0.2))]
    rows += [(f.name, "2023-07-01", f.module_cost, "part") for f in FAMILIES]
    rows += [("bench", "2023-07-01", 19.0, "labour_per_hour"), ("bench", "2025-01-01", 21.0, "labour_per_hour"),
             ("north", "2023-07-01", 6.5, "downtime_per_hour"), ("south", "2023-07-01", 5.0, "downtime_per_hour"),
             ("bench", "2023-07-01", 4.2, "freight_out"), ("bench", "2023-07-01", 9.0, "selling_fee_pct"),
             ("clean_air", "2023-07-01", 0.05, "clean_cost"), ("clean_flush", "2023-07-01", 0.22, "clean_cost"),
             ("clean_open", "2023-07-01", 0.40, "clean_cost"), ("north", "2023-07-01", 12.0, "callout")]  # fmt: skip
    frame = pd.DataFrame(rows, columns=["key", "valid_from", "amount", "kind"])
    return frame.assign(valid_from=pd.to_datetime(frame["valid_from"]))


def downtime(rng, jobs: pd.DataFrame, seats) -> pd.DataFrame:
    """Return the hours each seat stood still: one row per reported fault, and some for other causes."""
    faults = jobs[(jobs["visit_reason"] == "fault_report") & (jobs["site_id"] != "bench")].drop_duplicates("visit_id")
    faults = faults.sort_values(["received_on", "job_id"], kind="stable")
    came = faults["received_on"] - pd.to_timedelta(rng.integers(2, 20, len(faults)), unit="h")
    back = faults["returned_to_service_on"] + pd.to_timedelta(rng.integers(9, 13, len(faults)), unit="h")
    rate = np.where(faults["site_id"] == "north", 6.5, 5.0)
    stick = pd.DataFrame({
        "station_id": faults["station_id"], "down_from": came, "down_to": back, "cause": "stick", "revenue_per_hour": rate,
    })  # fmt: skip
    n = len(faults) // 4
    start = pd.Timestamp(str(LOG_START)) + pd.to_timedelta(rng.integers(24, LAST_DAY * 24 - 200, n), unit="h")
    other = pd.DataFrame({
        "station_id": seats.home[rng.integers(0, len(seats.home), n)], "down_from": start,
        "down_to": start + pd.to_timedelta(rng.integers(1, 72, n), unit="h"),
        "cause": rng.choice(["console", "network", "other_controller", "other"], n), "revenue_per_hour": 5.0,
    })  # fmt: skip
    return pd.concat([stick, other], ignore_index=True).sort_values(["down_from", "station_id"], kind="stable", ignore_index=True)


def repeat_readings(register: pd.DataFrame) -> pd.DataFrame:
    """Return a study of the tester: three persons read ten sticks three times each, rest offset and reach; truth: STUDY.

    Drawn apart from all else, so that no other row depends on it. Offsets of the sticks are spread evenly around the limit.
    """
    rng = np.random.default_rng(STUDY_SEED)
    named = register.loc[register["sticks"] == "L+R", "unit_id"].to_numpy(object)[:STUDY_STICKS]
    shape = (len(named), len(STUDY_PERSONS), STUDY_TRIALS)
    frames = []
    for measure, (middle, sticks, persons, repeats) in STUDY.items():
        true = middle + sticks * np.linspace(-1.5, 1.5, len(named))[rng.permutation(len(named))]
        value = true[:, None, None] + persons * np.array([-1.0, 0.2, 0.8])[:, None] + repeats * rng.standard_normal(shape)
        unit, person, trial = np.indices(shape).reshape(3, -1)
        frames.append(pd.DataFrame({
            "unit_id": named[unit], "stick": "L", "technician": np.array(STUDY_PERSONS, object)[person], "measure": measure,
            "trial": trial + 1, "value": value.reshape(-1).round(2), "read_on": pd.Timestamp("2026-03-10"),
        }))  # fmt: skip
    return pd.concat(frames, ignore_index=True)


def limits() -> pd.DataFrame:
    """Return the invented shops' one set of pass limits [% of half-scale]."""
    rows = [("house", measure, high, low) for measure, (high, low) in LIMITS.items()]
    frame = pd.DataFrame(rows, columns=["limit_set", "measure", "pass_max", "pass_min"])
    return frame.assign(valid_from=pd.Timestamp(str(LOG_START)))
