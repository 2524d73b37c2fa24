"""`answer cleaning-interval`: whether to clean ahead of faults, how long after the last clean, and what that saves."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from pipelines.answers.bench_case import depth_of
from pipelines.answers.cleaning_interval_record import CleaningInterval, Harm, IntervalGroup, Restored, Slot, Use
from pipelines.answers.cleaning_money import INTERVAL_COSTS, IntervalMoney, interval_money
from pipelines.answers.cleaning_record import CleaningRecord, cleaning_record, put_right
from pipelines.answers.lot_money import Missing, Source
from pipelines.answers.question import Asked
from pipelines.decisions.cleaning_interval import LEAST_CHANCE, LEAST_FAILURES, LEAST_SAVING, Planned, planned_cleaning
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.renewal_cost import Renewal
from pipelines.estimates.renewal_law import CleanDraws, RenewalLaw
from pipelines.facts.read import Connection
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Clock
from pipelines.wording import planned as wording

#: Days between cleans that people keep.
KEPT_DAYS = (7.0, 14.0, 21.0, 30.4, 42.0, 61.0, 91.0, 122.0, 183.0, 365.0)
#: Of the draws of a law so many are weighed.
DRAWS = 100
#: With fewer faults whose end is known a group takes what put those of all groups right.
ENOUGH_ENDS = 20
#: One seed, so that the same question gives the same answer.
SEED = 5


def cleaning_interval(connection: Connection, asked: Asked) -> CleaningInterval:
    """Answer from the log. Raises SettingError on a depth that is none, InputError on several currencies."""
    return interval_of(cleaning_record(connection, asked), asked)


def interval_of(record: CleaningRecord, asked: Asked) -> CleaningInterval:
    """Answer from a record read before, by the same columns."""
    word = asked.case.get("depth")
    depth = None if word is None else depth_of(word)
    found = [_group(record, number, depth, asked) for number in range(len(record.keys))]
    groups = [group for group, _ in found]
    lacking: dict[str, Missing] = {one.name: one for _, money in found for one in money.missing}
    sources = list({(one.name, *one.of): one for _, money in found for one in money.sources}.values())
    sources = [one for one in [*sources, *_told(record, asked.settings)] if one.name in INTERVAL_COSTS]
    because = None if any(one.because is None for one in groups) else groups[0].because
    verdicts = [one.planned and one.planned.verdict for one in groups]
    sentence = wording.overall_sentence([one.sentence for one in groups], verdicts)
    if lacking and not any(verdicts):
        sentence = wording.asked_for_sentence(list(lacking))
    by_clock = wording.clock_hours_warning(sources, [one.costs["fault"] for one in groups if one.costs is not None])
    return CleaningInterval(
        question=asked.question.value, clock=record.clock.value, by=list(record.by), currency=record.lots.currency,
        level=asked.level, log_start=record.log_start, log_end=record.log_end, settings=asked.settings.as_plain(),
        because=because, sentence=sentence,
        warnings=[*record.warnings, *filter(None, [by_clock])], asked_for=list(lacking.values()), sources=sources,
        left_out={"not_own": record.not_own}, groups=groups,
    )  # fmt: skip


def _told(record: CleaningRecord, settings: Settings) -> list[Source]:
    """Return where the shares come from that are no costs; what a clean gives back differs by group, and stands in each."""
    told = [Source("restored_share", "setting", settings.restored_share, None, [])] if settings.restored_share is not None else []
    if settings.harm_share is not None:
        return [*told, Source("harm_share", "setting", settings.harm_share, None, [])]
    harm = record.harm.estimate
    return told if harm is None else [*told, Source("harm_share", "record", harm, record.harm_cleans, [])]


def _group(record: CleaningRecord, number: int, depth: str | None, asked: Asked) -> tuple[IntervalGroup, IntervalMoney]:
    law, settings = record.laws.get(number), asked.settings
    nothing = Estimate.refused(Because.NO_SPELLS)
    parts = {
        "by": record.keys[number], "counts": _counts(record, number), "is_by_cause": bool(law and law.is_by_cause),
        "shape": law.shape if law else nothing, "restored": Restored(depth, 0, nothing, False), "harm": _harm(record, settings),
        "put_right": put_right(record, number, least=ENOUGH_ENDS), "costs": None, "use": _use(record, number), "planned": None,
        "slot": None,
    }  # fmt: skip
    no_money = IntervalMoney(None, [], [])
    if law is None or law.because is not None:
        because, sentence = _refused(record, number, law, parts["counts"])
        refused = Estimate.refused(because)
        parts |= {"shape": refused, "restored": Restored(depth, 0, refused, False)}
        return IntervalGroup(because=because, sentence=sentence, **parts), no_money
    clean = _clean(law, depth)
    parts["restored"] = _restored(law, clean, depth, settings, asked.level)
    ended = parts["put_right"]
    replaced_share = ended["new_part"] / max(sum(ended.values()), 1)
    money = interval_money(record, _families(record, number), parts["restored"].depth, replaced_share, settings)
    if parts["harm"].share.estimate is None:
        known = {one.name: one.metadata for one in fields(Settings)}["harm_share"]
        money = IntervalMoney(None, money.sources, [*money.missing, Missing("harm_share", known["unit"], known["help"], [])])
    if money.costs is not None:
        parts["costs"] = {"planned": money.costs.planned, "fault": money.costs.fault}
    if money.missing:
        sentence = wording.asked_for_sentence([one.name for one in money.missing])
        return IntervalGroup(because=Because.NOT_GIVEN, sentence=sentence, **parts), money
    slots = _slots(record.clock, parts["use"])
    planned = _planned(law, clean, parts, money, slots, asked)
    slot = _slot(planned, slots, parts["use"], record.clock)
    parts |= {"planned": planned, "slot": slot}
    sentence = wording.interval_sentence(
        planned, slot, clock=record.clock, use=parts["use"], costs=parts["costs"], shape=law.shape, level=asked.level,
        untold=parts["restored"].share.because, failures=law.failures_counted,
        bars=(LEAST_CHANCE, LEAST_SAVING, LEAST_FAILURES), currency=record.lots.currency,
    )  # fmt: skip
    return IntervalGroup(because=None, sentence=sentence, **parts), money


def _refused(record: CleaningRecord, number: int, law: RenewalLaw | None, counts: dict[str, int]) -> tuple[Because, str]:
    if record.refused is not None:
        return record.refused
    because = law.because if law else Because.TOO_LARGE if number in record.counts else Because.NO_SPELLS
    return because, wording.refused_sentence(because, failures=counts["failures"], gaps=counts["gaps"])


def _counts(record: CleaningRecord, number: int) -> dict[str, int]:
    law = record.laws.get(number)
    if law is not None:
        names = ("modules", "gaps", "failures", "failures_counted", "failures_unnamed", "gaps_left_out")
        return {name: getattr(law, name) for name in names}
    seen = record.counts.get(number, {"modules": 0, "gaps": 0, "failures": 0})
    return {**seen, "failures_counted": 0, "failures_unnamed": 0, "gaps_left_out": 0}


def _use(record: CleaningRecord, number: int) -> Use:
    return Use(**record.use.get(number, {"units": 0, "metered": 0, "low_h": None, "median_h": None, "high_h": None}))


def _families(record: CleaningRecord, number: int) -> dict[str | None, int]:
    rows = record.families[record.families["group_no"] == number]
    return {family if isinstance(family, str) else None: int(count)
            for family, count in zip(rows["family"], rows["failures"], strict=True)}  # fmt: skip


def _harm(record: CleaningRecord, settings: Settings) -> Harm:
    if settings.harm_share is not None:
        return Harm(Estimate(*[settings.harm_share] * 3), 0, True)
    return Harm(record.harm, record.harm_cleans, False)


def _clean(law: RenewalLaw, depth: str | None) -> CleanDraws | None:
    """Return the depth asked for, else the most usual of those whose share can be told, else of all."""
    if depth is not None:
        return next((one for one in law.depths if one.depth == depth), None)
    return max(law.depths, key=lambda one: (one.because is None, one.cleans), default=None)


def _restored(law: RenewalLaw, clean: CleanDraws | None, depth: str | None, settings: Settings, level: float) -> Restored:
    name, cleans = (depth, 0) if clean is None else (clean.depth, clean.cleans)
    if settings.restored_share is not None:
        return Restored(name, cleans, Estimate(*[settings.restored_share] * 3), True)
    if clean is None:
        return Restored(name, cleans, Estimate.refused(Because.NO_ATTEMPTS), False)
    if clean.because is not None:
        return Restored(name, cleans, Estimate.refused(clean.because), False)
    tail = (1 - level) / 2
    return Restored(name, cleans, Estimate(*(float(1 - one) for one in np.quantile(clean.kept, [0.5, 1 - tail, tail]))), False)


def _planned(
    law: RenewalLaw, clean: CleanDraws | None, parts: dict, money: IntervalMoney, slots: dict[float, float], asked: Asked
) -> Planned:  # fmt: skip
    restored, harm, ended = parts["restored"], parts["harm"], parts["put_right"]
    every = max(len(law.shapes) // DRAWS, 1)
    total = max(sum(ended.values()), 1)
    is_best_case = restored.share.estimate is None
    if restored.is_given or is_best_case:
        planned_kept = fault_kept = 0.0 if is_best_case else 1 - restored.share.estimate
    else:
        planned_kept = clean.kept[::every]
        leaves, cleans = [one.kept[::every] for one in law.depths], [max(one.cleans, 1) for one in law.depths]
        fault_kept = np.average(leaves, axis=0, weights=cleans)
    drawn = Renewal(
        law.shapes[::every], law.scales[::every], planned_kept, fault_kept, ended["other_repair"] / total,
        ended["new_part"] / total, law.other_rate,
    )  # fmt: skip
    return planned_cleaning(
        drawn, law.variances[::every], money.costs, harm_share=_harm_draws(harm.share, len(law.shapes[::every]), asked.level),
        failures=law.failures_counted, is_best_case=is_best_case, slots=list(slots.values()), level=asked.level,
    )  # fmt: skip


def _harm_draws(share: Estimate, count: int, level: float) -> np.ndarray:
    """Return draws of the share of harm: of the normal distribution that its limits tell, not under 0."""
    error = (share.high - share.low) / 2 / normal_quantile(level)
    return np.clip(share.estimate + error * np.random.default_rng(SEED).standard_normal(count), 0.0, 1.0)


def _slots(clock: Clock, use: Use) -> dict[float, float]:
    """Return days → interval in the clock's unit at the usual use; none where that is not known."""
    if clock is Clock.DAYS:
        return {days: days for days in KEPT_DAYS}
    return {days: days * use.median_h / 7 for days in KEPT_DAYS} if use.median_h else {}


def _slot(planned: Planned, slots: dict[float, float], use: Use, clock: Clock) -> Slot | None:
    if planned.slot is None:
        return None
    days = next(days for days, interval in slots.items() if interval == planned.slot)
    low, high = planned.as_good
    ends = (None, None)
    if clock is Clock.HOURS:
        ends = (7 * planned.slot / use.high_h, 7 * planned.slot / use.low_h)
    return Slot(days, planned.slot, planned.slot_saving, low <= planned.slot <= high, *ends)
