"""`answer batch-alarm`: when a watch kept from the first day would have raised the alarm over a supplier batch."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipelines.answers.batch_alarm_record import AtAlarm, BatchAlarm, Look, Replay, WatchedBatch
from pipelines.answers.case import known_name
from pipelines.answers.question import Asked
from pipelines.decisions.batch_alarm import Limits, alarm_of
from pipelines.estimates.running_evidence import Running, running_evidence
from pipelines.facts.batch_watch import BatchWatch, batch_watch
from pipelines.facts.batches import Batches
from pipelines.facts.read import Connection, window
from pipelines.logs.aliases import stored
from pipelines.settings import Settings
from pipelines.vocabulary import AlarmLevel, Because
from pipelines.wording import batch_alarm as wording

#: More evidence than this is written as this: it is beyond all doubt, and beyond what a number holds.
MOST_EVIDENCE = 1e12
#: The most urgent first.
_ORDER = [AlarmLevel.STOP, AlarmLevel.WATCH, AlarmLevel.QUIET, AlarmLevel.TOO_EARLY, AlarmLevel.UNWATCHED]
_BECAUSE = {AlarmLevel.TOO_EARLY: Because.TOO_FEW_FAILURES, AlarmLevel.UNWATCHED: Because.NO_COMPARISON}
#: What the cells of each way to hold a batch against others are made of.
_CELLS = {
    "period": ("stratum", "fitting_period", "age_step"), "any": ("stratum", "age_step"),
    "same_time": ("stratum", "fitting_period", "age_step", "look"), "other_suppliers": ("stratum", "fitting_period", "age_step"),
}  # fmt: skip


def batch_alarm(connection: Connection, asked: Asked) -> BatchAlarm:
    """Answer from the log. Raises SettingError on a batch that the log does not have."""
    settings, log = asked.settings, window(connection)
    limits = Limits(1 / settings.false_alarm, 1 / min(settings.false_stop, settings.false_alarm))
    if log.log_start is None:
        return _refused(asked, limits, None, Because.NOT_RECORDED)
    Batches(connection, is_hours=False, where={}, period_months=settings.fitting_period_months)
    watch = batch_watch(connection)
    names = watch.batches
    wanted = asked.case.get("batch")
    if wanted is not None:
        wanted = known_name("batch", wanted, names, stored(connection).for_column("part_batches", "batch_id"))
    if len(names) < 2:
        return _refused(asked, limits, watch, Because.ONE_BATCH if names else Because.NOT_RECORDED)
    told = running_evidence(
        _cells(watch.counts, "period"), batches=len(names), looks=watch.looks, tolerance=settings.batch_tolerance
    )
    seen = _Seen(watch, told, limits, settings)
    watched_batches = int((told.expected[:, -1] > 0).sum())
    limit_of_all = limits.watch * watched_batches if watched_batches else None
    batches = sorted((seen.batch(place, limit_of_all) for place in range(len(names))), key=_urgency)
    shown = wanted or batches[0].batch
    words = {"batches": batches, "watched_to": watch.ends_on.isoformat()}
    return BatchAlarm(
        question=asked.question.value, log_start=log.log_start, log_end=log.log_end, settings=settings.as_plain(), because=None,
        sentence=wording.whole_sentence(shown=wanted, **words),
        warnings=wording.warnings(
            limits=limits, settings=settings, look_days=watch.look_days, only_found=watch.only_found, **words
        ),
        tolerance=settings.batch_tolerance, look_days=watch.look_days, watched_to=watch.ends_on.isoformat(),
        watch_limit=limits.watch, stop_limit=limits.stop,
        limit_of_all=limit_of_all, watched_batches=watched_batches,
        false_alarms_at_most=watched_batches * settings.false_alarm, batches=batches, shown=shown,
        looks=seen.looks(names.index(shown)), replays=[] if asked.is_brief else seen.replays(names.index(shown)),
    )  # fmt: skip


def _refused(asked: Asked, limits: Limits, watch: BatchWatch | None, because: Because) -> BatchAlarm:
    return BatchAlarm(
        question=asked.question.value, log_start=None if watch is None else watch.starts_on.isoformat(),
        log_end=None if watch is None else watch.ends_on.isoformat(), settings=asked.settings.as_plain(), because=because,
        sentence=wording.refused_sentence(because), warnings=[], tolerance=asked.settings.batch_tolerance,
        look_days=watch.look_days if watch else 0, watched_to=watch.ends_on.isoformat() if watch else None,
        watch_limit=limits.watch, stop_limit=limits.stop, limit_of_all=None, watched_batches=0, false_alarms_at_most=0.0,
        batches=[], shown=None, looks=[], replays=[],
    )  # fmt: skip


def _urgency(one: WatchedBatch) -> tuple:
    return (_ORDER.index(one.level), one.watch.on if one.watch else "", -one.highest_evidence, one.batch)


def _cells(counts: pd.DataFrame, against: str) -> pd.DataFrame:
    """Return the counts with the number of their cell."""
    cell = np.zeros(len(counts), dtype=np.int64)
    for name in _CELLS[against]:
        values = counts[name].to_numpy(dtype=np.int64)
        low = values.min(initial=0)
        cell = cell * (values.max(initial=0) - low + 1) + values - low
    return counts.assign(cell=cell)


class _Seen:
    """What the watch saw, batch by batch."""

    def __init__(self, watch: BatchWatch, told: Running, limits: Limits, settings: Settings) -> None:
        self._watch, self._told, self._limits, self._settings = watch, told, limits, settings
        self._first = watch.progress.groupby("batch", sort=False).first()
        self._firsts = watch.progress.groupby("batch", sort=False)["first_fitted_on"].min()
        place = pd.Series(range(len(watch.batches)), index=watch.batches)[watch.progress["batch"]].to_numpy()
        at = (place, watch.progress["look"].to_numpy())
        self._fitted, self._found = (np.zeros(told.expected.shape) for _ in range(2))
        np.add.at(self._fitted, at, watch.progress["fitted_count"].to_numpy())
        np.add.at(self._found, at, watch.progress["found_count"].to_numpy())
        self._fitted, self._found = self._fitted.cumsum(axis=1), self._found.cumsum(axis=1)

    def batch(self, place: int, limit_of_all: float | None) -> WatchedBatch:
        name, path, told = self._watch.batches[place], self._told.log_evidence[place], self._told
        expected = float(told.expected[place, -1])
        alarm = alarm_of(path, expected=expected, limits=self._limits)
        known = self._first.loc[name]
        facts = {
            "batch": name, "supplier": _text(known["supplier"]), "part_type": _text(known["part_type"]),
            "is_mixed": bool(known["is_mixed"]), "level": alarm.level,
            "because": _BECAUSE.get(alarm.level),
            "first_fitted_on": self._firsts[name].date().isoformat(), "fitted": int(self._fitted[place, -1]),
            "found": int(self._found[place, -1]), "failures": int(told.observed[place, -1]), "expected": expected,
            "evidence": evidence(path[-1]), "highest_evidence": evidence(path.max()),
            "watch": self._at(place, alarm.watch_look), "stop": self._at(place, alarm.stop_look),
            "is_beyond_all": limit_of_all is not None and bool(path.max() >= np.log(limit_of_all)),
        }  # fmt: skip
        return WatchedBatch(sentence=wording.batch_sentence(facts), **facts)

    def looks(self, place: int) -> list[Look]:
        """Return every look from the first fitting on."""
        first = int(np.flatnonzero(self._fitted[place])[0])
        return [
            Look(
                self._day(look), evidence(self._told.log_evidence[place, look]), int(self._told.observed[place, look]),
                float(self._told.expected[place, look]), int(self._fitted[place, look]),
            )
            for look in range(first, self._watch.looks)
        ]  # fmt: skip

    def replays(self, place: int) -> list[Replay]:
        """Return the batch watched as asked, with other tolerances, and held against others in other ways."""
        asked = self._settings.batch_tolerance
        ways = [("period", one) for one in sorted({1.0, asked, 1.5})]
        ways += [("any", asked), ("same_time", asked)]
        supplier = self._first["supplier"]
        if supplier.notna().all() and supplier.nunique() > 1:
            ways.append(("other_suppliers", asked))
        return [self._replay(place, against, tolerance) for against, tolerance in ways]

    def _replay(self, place: int, against: str, tolerance: float) -> Replay:
        rows = self._watch.counts
        is_own = rows["batch"] == place
        if against == "other_suppliers":
            supplier = self._first["supplier"].to_numpy()
            rows = rows[is_own | (supplier != supplier[place])[rows["batch"]]]
        rows = _cells(rows, against)
        rows = rows[rows["cell"].isin(rows["cell"][rows["batch"] == place])]
        rows = rows.assign(batch=(rows["batch"] != place).astype(int))
        rows = rows.groupby(["cell", "batch", "look"], as_index=False)[["at_risk", "failures"]].sum()
        told = running_evidence(rows, batches=2, looks=self._watch.looks, tolerance=tolerance)
        path, expected = told.log_evidence[0], float(told.expected[0, -1])
        alarm = alarm_of(path, expected=expected, limits=self._limits)
        return Replay(
            against, tolerance, *(None if look is None else self._day(look) for look in (alarm.watch_look, alarm.stop_look)),
            evidence(path.max()), int(told.observed[0, -1]), expected,
        )  # fmt: skip

    def _at(self, place: int, look: int | None) -> AtAlarm | None:
        if look is None:
            return None
        on, first, fitted = self._watch.last_day(look), self._firsts[self._watch.batches[place]].date(), self._fitted[place]
        return AtAlarm(
            on.isoformat(), (on - first).days, int(self._told.observed[place, look]), float(self._told.expected[place, look]),
            int(self._found[place, look]), int(fitted[look]), int(fitted[-1] - fitted[look]),
        )  # fmt: skip

    def _day(self, look: int) -> str:
        return self._watch.last_day(look).isoformat()


def evidence(logarithm: float) -> float:
    """Return evidence as a plain number, MOST_EVIDENCE at most."""
    return float(np.exp(min(logarithm, np.log(MOST_EVIDENCE))))


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None
