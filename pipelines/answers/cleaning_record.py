"""What the log says of planned cleaning, read and fitted once and weighed often: costs need no further look at the log."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from pipelines.answers.life import group_keys, group_numbers
from pipelines.answers.lot_record import LotRecord, lot_record
from pipelines.answers.question import Asked
from pipelines.answers.restoration import LEAST_FAILURES, MOST_GAPS, chained_gaps, is_cleanable, refusal
from pipelines.answers.sample import sampled
from pipelines.answers.spells import clock_warnings, read_spells
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.harm_after_clean import harm_after_clean
from pipelines.estimates.renewal_law import RenewalLaw, renewal_laws
from pipelines.facts.floor import Downtime, stick_downtime, unit_use
from pipelines.facts.own_fleet import own_only
from pipelines.facts.read import Connection, Window, window
from pipelines.facts.readings import bench_work
from pipelines.facts.spells import Gaps, Recurrent
from pipelines.vocabulary import CLEANABLE, Because, Clock, SpellKind
from pipelines.wording import planned as planned_words
from pipelines.wording import restoration as wording

#: Harm shows within so many days of a clean.
SOON_DAYS = 14
#: Of more groups those with the most stretches are worked out.
MOST_GROUPS = 40


@dataclass(frozen=True)
class CleaningRecord:
    """refused: why nothing can be told at all, and the sentence, else None. keys: the groups; the other parts are by their place.

    laws: a law a group, missing for groups beyond the largest and where refused; families: failures by `group_no` and family;
    put_right: failures that cleans reach (or all) by `group_no` and `ended_by`; use: a row a group; harm: of all groups
    together, and how many cleans tell of it. lots, work: of the whole shop, for prices and minutes; seen: the window of the log;
    not_own: controllers left out.
    """

    by: tuple[str, ...]
    clock: Clock
    refused: tuple[Because, str] | None
    warnings: list[str]
    keys: list[dict[str, str | None]]
    laws: dict[int, RenewalLaw]
    counts: dict[int, dict[str, int]]
    families: pd.DataFrame
    put_right: pd.DataFrame
    use: dict[int, dict[str, float | int | None]]
    harm: Estimate
    harm_cleans: int
    downtime: Downtime
    lots: LotRecord
    work: pd.DataFrame
    log_start: str | None
    log_end: str | None
    not_own: int


def cleaning_record(connection: Connection, asked: Asked, *, lots: LotRecord | None = None) -> CleaningRecord:
    """Read the record of own controllers and fit how their sticks drift.

    Of what is asked only `by`, the level and `min_failures` count here. lots: read already. Raises InputError where money is in
    several currencies.
    """
    lots, seen, work = lots or lot_record(connection), window(connection), bench_work(connection)
    with own_only(connection) as (own, not_own):
        return _own_record(own, asked, lots, seen, work, not_own)


def _own_record(
    connection: Connection, asked: Asked, lots: LotRecord, seen: Window, work: pd.DataFrame, not_own: int
) -> CleaningRecord:  # fmt: skip
    read = read_spells(connection, asked, None)
    is_hours, refused = read.clock is Clock.HOURS, refusal(read, seen, asked)
    keys = group_keys([read.numbers], asked.by) or [dict.fromkeys(asked.by)]
    with_family = tuple(dict.fromkeys((*asked.by, "family")))
    rows = Gaps(connection, is_hours=is_hours, by=with_family, where={}).rows()
    used = sampled(rows, most=MOST_GAPS)
    warnings = [*clock_warnings(read, asked), *([planned_words.days_warning()] if not is_hours else [])]
    if len(used) < len(rows):
        warnings.append(wording.sampled_warning(used=len(used), of=len(rows)))
    gaps = chained_gaps(used).assign(group_no=group_numbers(used, keys, asked.by), is_counted=is_cleanable(used))
    largest = gaps["group_no"].value_counts().sort_index().nlargest(MOST_GROUPS).index
    if len(largest) < gaps["group_no"].nunique() and not refused:
        warnings.append(planned_words.many_warning(used=MOST_GROUPS, of=len(keys)))
    fitted = gaps[gaps["group_no"].isin(largest)]
    least = max(asked.settings.min_failures, LEAST_FAILURES)
    laws = {} if refused else {
        one.by[0]: one for one in renewal_laws(fitted, by=["group_no"], level=asked.level, min_failures=least)
    }  # fmt: skip
    is_failure = gaps["ended_by"] == "failure"
    whole_use = unit_use(connection, ())
    soon = SOON_DAYS if not is_hours else _hours_in_days(whole_use, SOON_DAYS)
    harm, harm_cleans = _harm(gaps, soon, asked.level)
    return CleaningRecord(
        by=asked.by, clock=read.clock, refused=refused, warnings=warnings, keys=keys, laws=laws,
        counts={number: _counts(part) for number, part in gaps.groupby("group_no")},
        families=gaps[is_failure].groupby(["group_no", "family"], dropna=False).size().rename("failures").reset_index(),
        put_right=_put_right(connection, asked, keys, is_hours=is_hours), use=_use(connection, asked, keys), harm=harm,
        harm_cleans=harm_cleans, downtime=stick_downtime(connection), lots=lots, work=work,
        log_start=seen.log_start, log_end=seen.log_end, not_own=not_own,
    )  # fmt: skip


def _counts(rows: pd.DataFrame) -> dict[str, int]:
    failures = int((rows["ended_by"] == "failure").sum())
    return {"modules": int(rows["module"].nunique()), "gaps": len(rows), "failures": failures}


def _hours_in_days(use: pd.DataFrame, days: float) -> float | None:
    median = use["median_h"].iloc[0] if len(use) else None
    return None if median is None or pd.isna(median) else float(median) * days / 7


def _harm(gaps: pd.DataFrame, soon: float | None, level: float) -> tuple[Estimate, int]:
    """Return the harm of planned cleans of sticks that had been tested, watched from the clean on."""
    planned = gaps[
        (gaps["kind"] == SpellKind.AFTER_PREVENTIVE) & gaps["depth_before"].notna() & (gaps["entry"] <= 1e-6)
    ]  # fmt: skip
    if soon is None or not len(planned):
        return Estimate.refused(Because.TOO_FEW_ATTEMPTS), len(planned)
    is_failure = planned["ended_by"] == "failure"
    middle = (planned["lower"] + planned["upper"].where(is_failure, planned["lower"])) / 2
    return harm_after_clean(pd.DataFrame({"at": middle, "is_failure": is_failure}), soon=soon, level=level)


def _put_right(connection: Connection, asked: Asked, keys: list[dict], *, is_hours: bool) -> pd.DataFrame:
    """Return the failures of what cleans reach (all, where causes are not told apart) by what put them right."""
    found = Recurrent(connection, is_hours=is_hours, by=asked.by, where={}).failures()
    if is_cleanable(found).notna().any():
        found = found[found["failed_by"].isin(CLEANABLE)]
    known = found[found["ended_by"].notna()]
    known = known.assign(group_no=group_numbers(known, keys, asked.by)) if len(known) else known.assign(group_no=0)
    return known.groupby(["group_no", "ended_by"]).size().rename("failures").reset_index()


def _use(connection: Connection, asked: Asked, keys: list[dict]) -> dict[int, dict[str, float | int | None]]:
    table = unit_use(connection, asked.by)
    place = {tuple(key.values()): number for number, key in enumerate(keys)}
    found = {}
    for row in table.to_dict("records"):
        values = tuple(None if pd.isna(row[column]) else row[column] for column in asked.by)
        if values in place:
            numbers = {name: None if pd.isna(row[name]) else float(row[name]) for name in ("low_h", "median_h", "high_h")}
            found[place[values]] = {"units": int(row["unit_count"]), "metered": int(row["metered_count"]), **numbers}
    return found


def put_right(record: CleaningRecord, group: int, *, least: int) -> dict[str, int]:
    """Return faults of a group by what put them right (cleaned, other_repair, new_part); of all groups where it has few."""
    names = {"clean": "cleaned", "other_repair": "other_repair", "replacement": "new_part"}
    own = record.put_right[record.put_right["group_no"] == group]
    rows = own if own["failures"].sum() >= least else record.put_right
    counts = rows.groupby("ended_by")["failures"].sum()
    return {said: int(counts.get(name, 0)) for name, said in names.items()}
