"""What the record of the own fleet expects of its sticks: the law, age and factor of each, and futures drawn from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from pipelines.answers.fleet_record import FleetRecord
from pipelines.estimates.coming_faults import Events, Shock, Sticks, futures, quarter_shock, shock_factors
from pipelines.estimates.counts import group
from pipelines.estimates.fault_laws import FaultLaws, fault_laws
from pipelines.estimates.gamma_factors import gamma_factors
from pipelines.vocabulary import Because, SpellKind

#: Futures drawn, fewer where they would be more than so many cells of futures and sticks; and the seed: equal records give
#: equal answers.
MOST_DRAWS, LEAST_DRAWS, CELLS = 1000, 100, 8_000_000
SEED = 20_260_113
QUARTER_DAYS, QUARTERS = 91, 8
#: By which columns the laws differ in hours (True) and in days, where it matters how much a controller is used.
_BY = {True: ("family",), False: ("family", "usage_class")}
#: The laws are those of a usual controller, which takes the factors of all, which take the laws: so often in turn.
ROUNDS = 2
#: A family's share of new parts is told by its own faults and so many of all.
PART_WEIGHT = 4.0
_AFTER_CLEAN, _NEW = SpellKind.AFTER_CLEAN.value, SpellKind.FIRST_LIFE.value


@dataclass(frozen=True)
class Outlook:
    """The sticks in service that can be told of, and what they are drawn from.

    frame: a row a stick, as `FleetRecord.sticks`, with `is_hours` (its clock), `age` and `pace` on it; factor, part_share:
    (draws, sticks). quarters: `observed` and `expected` faults of past 13 weeks, the last one last. has_repairs: whether any
    fault is on record as put right.
    """

    because: Because | None
    frame: pd.DataFrame
    sticks: Sticks | None
    laws: FaultLaws | None
    factor: np.ndarray
    part_share: np.ndarray
    shock: Shock
    quarters: pd.DataFrame
    has_repairs: bool
    rng: np.random.Generator

    @property
    def draws(self) -> int:
        """Return how many futures are drawn."""
        return len(self.factor)

    def events(self, days: float) -> Events:
        """Return the faults of the next days, in so many futures as `draws`."""
        return futures(self.sticks, self.laws, self.factor, self.part_share, days=days, rng=self.rng)


def outlook(record: FleetRecord, *, min_failures: int) -> Outlook:
    """Fit the laws and draw what is not known of each stick; refused where nothing is in service or no law can be fitted."""
    rng = np.random.default_rng(SEED)
    if not len(record.sticks):
        return _refused(Because.NOTHING_IN_SERVICE, record, rng)
    draws = min(CELLS // len(record.sticks), MOST_DRAWS)
    if draws < LEAST_DRAWS:
        return _refused(Because.TOO_LARGE, record, rng)
    frame, watched = _clocked(record), _watched(record)
    seen, factor = watched["is_failure"].to_numpy(dtype=float), np.ones(len(watched))
    for _ in range(ROUNDS):
        laws, places = _laws(frame, watched, factor, draws, min_failures=min_failures, rng=rng)
        if laws.because is not None:
            return _refused(laws.because, record, rng)
        cell = _cells(places, watched)
        due = laws.expected(cell, *(watched[name].to_numpy() for name in ("entry", "at")))
        site, by_site = _factors(frame["site"], watched["site"], seen, due, draws, rng=rng)
        unit, by_unit = _factors(frame["unit_id"], watched["unit"], seen, due * by_site, draws, rng=rng)
        factor = by_site * by_unit
    quarters = _quarters(watched, laws, cell, factor)
    shock = quarter_shock(quarters["observed"].to_numpy(), quarters["expected"].to_numpy())
    drawn = site * unit * shock_factors(shock, count=draws, rng=rng)[:, None]
    cells = [_cells(places, frame), *(_cells(places, frame.assign(kind=kind)) for kind in (_AFTER_CLEAN, _NEW))]
    sticks = Sticks(frame["age"].to_numpy(), frame["pace"].to_numpy(), *cells)
    share, has_repairs = _part_share(record.repairs, frame["family"], draws, rng=rng)
    return Outlook(None, frame, sticks, laws, drawn, share, shock, quarters, has_repairs, rng)


def _refused(because: Because, record: FleetRecord, rng: np.random.Generator) -> Outlook:
    none = np.empty((0, 0))
    frame = record.sticks.assign(is_hours=False, age=record.sticks["age_days"], pace=1.0, kind=record.sticks["kind_days"])
    return Outlook(because, frame, None, None, none, none, Shock(None, 0.0, 0.0, 0), _no_quarters(), False, rng)


def _clocked(record: FleetRecord) -> pd.DataFrame:
    """Return the sticks on their clock: hours where age and pace are known and somebody plays, else days.

    A fault is found some days after it began, half of the notice on average: the age is that of the last day of which it is known
    that no fault began.
    """
    sticks = record.sticks
    pace, age_h = sticks["hours_per_day"].to_numpy(dtype=float), sticks["age_h"].to_numpy(dtype=float)
    with np.errstate(invalid="ignore"):
        is_hours = record.is_hours & (pace > 0) & (age_h >= 0)
    age = np.where(is_hours, age_h, sticks["age_days"].to_numpy(dtype=float))
    before = np.where(is_hours, pace, 1.0) * record.notice_days / 2
    return sticks.assign(
        is_hours=is_hours, pace=np.where(is_hours, pace * (record.season or 1.0), 1.0), age=np.maximum(age - before, 0.0),
        kind=np.where(is_hours, sticks["kind_h"], sticks["kind_days"]),
    )  # fmt: skip


def _watched(record: FleetRecord) -> pd.DataFrame:
    """Return the watched spells with `is_hours`, `kind`, `entry` and `at` on the clock by which faults are expected of each."""
    watched = record.watched
    is_hours = watched["has_hours"].to_numpy(dtype=bool) & record.is_hours
    watched = watched[is_hours | watched["has_days"].to_numpy(dtype=bool)]
    is_hours = watched["has_hours"].to_numpy(dtype=bool) & record.is_hours
    chosen = {name: np.where(is_hours, watched[f"{name}_h"], watched[f"{name}_days"]) for name in ("kind", "entry", "at")}
    return watched.assign(is_hours=is_hours, **chosen).astype({"entry": float, "at": float})


def _laws(
    frame: pd.DataFrame, watched: pd.DataFrame, factor: np.ndarray, draws: int, *, min_failures: int, rng: np.random.Generator
) -> tuple[FaultLaws, dict[bool, dict[tuple, int]]]:
    """Return the laws of both clocks side by side, and by clock the cell of each kind and group."""
    found, places, width = [], {}, 0
    for is_hours, by in _BY.items():
        rows = [one[one["is_hours"] == is_hours] for one in (frame, watched)]
        if not any(map(len, rows)):
            continue
        clock = "h" if is_hours else "days"
        names = {f"{name}_{clock}": name for name in ("kind", "entry", "lower", "upper")}
        mine = watched["has_hours" if is_hours else "has_days"].to_numpy(dtype=bool)
        lives = watched.loc[mine, [*names, "family", "usage_class"]].rename(columns=names)
        kinds = sorted({*rows[0]["kind"], *rows[1]["kind"], _AFTER_CLEAN, _NEW})
        groups = sorted({one for row in rows for one in _names(row, by)[1]}, key=str)
        laws = fault_laws(
            lives.assign(spell_count=1, factor=factor[mine]), kinds=kinds, groups=groups, by=by, count=draws, rng=rng,
            min_failures=min_failures,
        )  # fmt: skip
        if laws.because is not None:
            return laws, {}
        places[is_hours] = {name: place + width for name, place in laws.cells.items()}
        width += len(laws.cells)
        found.append(laws)
    joined = replace(
        found[0], log_shape=np.hstack([one.log_shape for one in found]), log_scale=np.hstack([one.log_scale for one in found]),
        borrowed=tuple(sorted({kind for one in found for kind in one.borrowed} & set(frame["kind"]))),
    )  # fmt: skip
    return joined, places


def _names(rows: pd.DataFrame, columns: Sequence[str]) -> tuple[np.ndarray, list[tuple]]:
    """Return the name of each row as a number, and the names: values of the columns, with None for what is missing."""
    found = group([rows], by=columns)
    return found.codes[0], [tuple(None if pd.isna(value) else value for value in name) for name in found.tuples()]


def _cells(places: dict[bool, dict[tuple, int]], rows: pd.DataFrame) -> np.ndarray:
    """Return the cell of each row: that of its clock, kind and group."""
    cell = np.zeros(len(rows), dtype=np.int64)
    is_hours = rows["is_hours"].to_numpy(dtype=bool)
    for clock, place in places.items():
        code, names = _names(rows[is_hours == clock], ("kind", *_BY[clock]))
        cell[is_hours == clock] = np.array([place[name] for name in names], dtype=np.int64)[code]
    return cell


def _factors(
    asked: pd.Series, watched: pd.Series, seen: np.ndarray, due: np.ndarray, draws: int, *, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Return the factor of the cluster of each stick, (draws, sticks), and the mean of that of each watched spell."""
    code, names = pd.factorize(pd.concat([watched, asked], ignore_index=True), use_na_sentinel=False)
    mine = code[: len(watched)]
    counted = (np.bincount(mine, weights=weight, minlength=len(names)) for weight in (seen, due))
    factor = gamma_factors(*counted, count=draws, rng=rng)
    return factor[:, code[len(watched) :]], factor.mean(axis=0)[mine]


def _quarters(watched: pd.DataFrame, laws: FaultLaws, cell: np.ndarray, factor: np.ndarray) -> pd.DataFrame:
    """Return observed and expected faults of the past 13 weeks up to the last day watched, oldest first.

    The age of a stick goes on evenly between the days on which its spell was entered and ended.
    """
    if not len(watched):
        return _no_quarters()
    entered, ended, entry, at = (watched[name].to_numpy(dtype=float) for name in ("entered_on", "ended_on", "entry", "at"))
    is_failure = watched["is_failure"].to_numpy(dtype=bool)
    pace = (at - entry) / np.maximum(ended - entered, 1e-9)
    last, first = ended.max(), entered.min()
    rows = []
    for back in range(QUARTERS):
        end = last - back * QUARTER_DAYS
        begin = end - QUARTER_DAYS
        if begin < first:
            break
        ages = [np.clip(entry + pace * (day - entered), entry, at) for day in (begin, end)]
        seen = is_failure & (ended > begin) & (ended <= end)
        rows.append((end, float(seen.sum()), float(factor @ laws.expected(cell, *ages))))
    return pd.DataFrame(rows[::-1], columns=["ended_on", "observed", "expected"])


def _no_quarters() -> pd.DataFrame:
    return pd.DataFrame(columns=["ended_on", "observed", "expected"], dtype=float)


def _part_share(repairs: pd.DataFrame, family: pd.Series, draws: int, *, rng: np.random.Generator) -> tuple[np.ndarray, bool]:
    """Return draws of the share of faults that a new part puts right, (draws, sticks), and whether the record tells of any."""
    total = repairs["fault_count"].sum()
    if not total:
        return np.zeros((draws, len(family))), False
    parts = repairs[repairs["is_put_right_by_part"].astype(bool)]
    whole = float(parts["fault_count"].sum() / total)
    k = family.map(parts.set_index("family")["fault_count"]).fillna(0.0)
    n = family.map(repairs.groupby("family")["fault_count"].sum()).fillna(0.0)
    code, names = pd.factorize(family, use_na_sentinel=False)
    first = np.unique(code, return_index=True)[1]
    a, b = (one.to_numpy()[first] for one in (k + PART_WEIGHT * whole, n - k + PART_WEIGHT * (1 - whole)))
    return rng.beta(np.maximum(a, 1e-3), np.maximum(b, 1e-3), (draws, len(names)))[:, code], True
