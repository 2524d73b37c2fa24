"""`answer study-plan`: how many modules and how long to see that a batch is worse, and tests that show a life."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, log

import numpy as np

from pipelines.answers.groups import by_group, group_keys, group_numbers
from pipelines.answers.question import Asked
from pipelines.answers.spells import Read, clock_warnings, hours_refusal, read_spells, without_denominator
from pipelines.answers.study_case import MONTH_DAYS, MOST_MONTHS, StudyCase, study_case
from pipelines.answers.study_plan_record import LifeTest, RatioPlan, StudyGroup, StudyPlan, StudySize
from pipelines.answers.time_to_failure import is_truncated
from pipelines.estimates import study_plan as plans
from pipelines.estimates.clustered_weibull import ClusteredWeibull, clustered_weibull
from pipelines.estimates.demonstration import ShownLife, demonstrations
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.fixed_shape import ASIDE, LEAST_ASIDE
from pipelines.facts.floor import unit_use
from pipelines.facts.money import currencies, one_currency
from pipelines.facts.read import Connection, window
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Clock, SpellKind
from pipelines.wording import study_plan as wording
from pipelines.wording import verdict

#: Laws drawn from what the record leaves open.
DRAWS, SEED = 400, 20261125
#: A study of more modules than this is none.
MOST_MODULES = 100_000
#: The tests that are laid out: failures allowed, and times on test as shares of the life to be shown.
FAILURES_ALLOWED, TIMES = (0, 1, 2), (0.25, 0.5, 1.0, 1.5, 2.0)


def study_plan(connection: Connection, asked: Asked) -> StudyPlan:
    """Answer from the log; the part about tests of a life needs nothing of it but a shape where none is given."""
    case, log_seen = study_case(asked.case), window(connection)
    read = read_spells(connection, asked, SpellKind.FIRST_LIFE)
    refused, refusal = _refused(read, asked, is_truncated(log_seen))
    hours, origin = _pace(connection, case, read.clock)
    if refused is None and read.clock is Clock.HOURS and hours is None:
        refused, refusal = Because.NOT_GIVEN, wording.no_pace_sentence()
    groups = [] if refused else _groups(read, asked, case, 1.0 if read.clock is Clock.DAYS else hours / 7)
    told = [group for group in groups if group.because is None]
    test = _test(case, told, read.clock, asked.settings)
    because = refused or (None if told else groups[0].because if groups else Because.NO_SPELLS)
    return StudyPlan(
        question=asked.question.value, log_start=log_seen.log_start, log_end=log_seen.log_end, settings=read.settings_used,
        because=because, sentence=wording.whole_sentence(groups, because, refusal),
        warnings=[] if refused else [*clock_warnings(read, asked), *wording.warnings(told, case, read.clock, hours, origin)],
        clock=read.clock.value, by=list(asked.by), where=asked.where, level=asked.level,
        currency=one_currency(currencies(connection)), case=case, hours_per_week=hours, pace_origin=origin, groups=groups,
        test=test,
    )  # fmt: skip


def _refused(read: Read, asked: Asked, is_truncated: bool) -> tuple[Because | None, str]:
    blank = without_denominator(read.numbers, asked.by)
    if is_truncated:
        return Because.FAILURES_ONLY, verdict.failures_only_sentence()
    if blank:
        return Because.NO_DENOMINATOR, verdict.no_denominator_sentence(blank)
    return hours_refusal(read) or (None, "")


def _pace(connection: Connection, case: StudyCase, clock: Clock) -> tuple[float | None, str | None]:
    """Return the play hours a week, and where they are from; None on the clock of days, or where nothing says."""
    if clock is Clock.DAYS:
        return None, None
    if case.hours_per_week is not None:
        return case.hours_per_week, "given"
    use = unit_use(connection, [])["median_h"]
    return (float(use.iloc[0]), "record") if len(use) and use.notna().all() else (None, None)


def _groups(read: Read, asked: Asked, case: StudyCase, pace: float) -> list[StudyGroup]:
    counts = read.spells.counts_by_cluster(grid=read.grid)
    keys = group_keys([read.numbers], asked.by)
    mine = by_group(counts, ["cluster", "entry", "lower", "upper"], keys, asked.by)
    fits = clustered_weibull(mine, by=["group_no"], level=asked.level, min_failures=asked.settings.min_failures)
    fit_of, sizes = {one.by[0]: one for one in fits}, _sizes(read, keys, asked.by)
    longest = mine.groupby("group_no")["lower"].max()
    found = []
    for number, by in enumerate(keys):
        watched = float(longest[number]) if number in fit_of else None
        found.append(_group(by, fit_of.get(number), sizes[number], watched, case, asked, pace))
    return [replace(one, sentence=wording.group_sentence(one, case, read.clock, asked.level)) for one in found]


def _sizes(read: Read, keys: list[dict], by: tuple[str, ...]) -> list[dict[str, int]]:
    """Return spells and failures of known age by group."""
    numbers = read.numbers[read.numbers["is_age_known"].astype(bool)]
    group, count = group_numbers(numbers, keys, by), numbers["spell_count"].to_numpy()
    is_failure = numbers["is_failure"].to_numpy(dtype=bool)
    return [
        {"spells": int(count[group == one].sum()), "failures": int(count[(group == one) & is_failure].sum())}
        for one in range(len(keys))
    ]


def _group(
    by: dict, fit: ClusteredWeibull | None, counts: dict[str, int], watched_to: float | None, case: StudyCase, asked: Asked,
    pace: float,
) -> StudyGroup:  # fmt: skip
    because = Because.NO_SPELLS if fit is None else fit.because
    if because is not None:
        return StudyGroup(by, because, "", counts, *[Estimate.refused(because)] * 3, watched_to, 1.0, False, [])
    is_told = fit.likeness is not None and case.modules_per_controller > 1
    effect = max(fit.likeness, 1.0) if is_told else 1.0
    laws = _laws(fit)
    ratios = [_ratio(_study(case, ratio, effect, pace), laws, case, asked) for ratio in case.ratios]
    return StudyGroup(by, None, "", counts, fit.shape, fit.b10, fit.median, watched_to, effect, is_told, ratios)


def _study(case: StudyCase, ratio: float, effect: float, pace: float) -> plans.Study:
    return plans.Study(
        ratio, power=case.power, false_alarm=case.false_alarm, new_share=case.new_share,
        enrol_days=case.enrol_months * MONTH_DAYS, lost_per_year=case.lost_per_year, pace=pace, design_effect=effect,
    )  # fmt: skip


def _laws(fit: ClusteredWeibull) -> np.ndarray:
    """Return rows of log shape and log scale: the law itself, then laws drawn from what the record leaves open, if it tells."""
    shape = fit.shape.estimate
    middle = np.array([log(fit.b10.estimate) - log(-log(0.9)) / shape, log(shape)])
    if fit.covariance is None:
        return middle[None, ::-1]
    # (the limits by cluster are never taken to be narrower than those of independent spells)
    spread = np.array(fit.covariance) * max(1.0, 1 / fit.design_effect)
    drawn = np.random.default_rng(SEED).multivariate_normal(middle, spread, size=DRAWS, method="cholesky")
    return np.vstack([middle, drawn])[:, ::-1]


def _ratio(study: plans.Study, laws: np.ndarray, case: StudyCase, asked: Asked) -> RatioPlan:
    known = plans.needed_if_known(study.ratio, power=study.power, false_alarm=study.false_alarm)
    months = np.arange(max(1, ceil(case.enrol_months + 0.5)), MOST_MONTHS + 1, dtype=float)
    if case.months is not None:
        months = np.append(months, case.months)
    modules = plans.modules_needed(study, months * MONTH_DAYS, laws[:, 0], laws[:, 1])
    failing = plans.failing_shares(study, months * MONTH_DAYS, *laws[0])
    sizes = [_size(*one, case, asked) for one in zip(months.tolist(), modules.T, *failing, strict=True)]
    wanted = None if case.months is None else sizes.pop()
    needed_days, chance = None, None
    if case.modules is not None:
        needed_days = plans.days_needed(study, case.modules, *laws[0], longest=MOST_MONTHS * MONTH_DAYS)
        if case.months is not None:
            shown = plans.chance_shown(study, case.modules, case.months * MONTH_DAYS, laws[:, 0], laws[:, 1])
            chance = _between(shown, asked.level)
    sizes = [one for one in sizes if one.modules.estimate <= MOST_MODULES]
    return RatioPlan(
        study.ratio, ceil(known * study.design_effect), sizes, wanted,
        None if needed_days is None else needed_days / MONTH_DAYS, chance,
    )  # fmt: skip


def _size(months: float, modules: np.ndarray, batch: float, others: float, case: StudyCase, asked: Asked) -> StudySize:
    count = _between(np.ceil(modules - 1e-9), asked.level)
    new, price = ceil(case.new_share * count.estimate - 1e-9), asked.settings.part_cost
    failures = (float(count.estimate * one) for one in (batch, others))
    return StudySize(months, count, new, *failures, None if price is None else new * price)


def _between(values: np.ndarray, level: float) -> Estimate:
    """Return the first value, that of the law itself, between the quantiles of the others, those of drawn laws."""
    if len(values) == 1:
        return Estimate(float(values[0]), None, None, Because.TOO_FEW_CLUSTERS)
    low, high = np.quantile(values[1:], [(1 - level) / 2, (1 + level) / 2])
    return Estimate(float(values[0]), min(float(low), float(values[0])), max(float(high), float(values[0])))


def _test(case: StudyCase, groups: list[StudyGroup], clock: Clock, settings: Settings) -> LifeTest:
    """Return the tests that show the life asked for; the shape: as given, else that of the only group, else the setting."""
    record = groups[0].shape.estimate if len(groups) == 1 else None
    shape, origin = next(
        ((one, name) for one, name in ((case.shape, "given"), (record, "record"), (settings.assumed_shape, "setting")) if one),
        (None, None),
    )
    because = Because.NOT_GIVEN if case.life is None else Because.NO_SHAPE if shape is None else None
    if because is not None:
        return LifeTest(because, wording.no_test_sentence(because), shape, origin, [], {}, [])
    times = sorted({*(one * case.life for one in TIMES), *([case.test_time] if case.test_time else [])})
    shown = ShownLife(case.life, case.life_share, shape, case.confidence)
    found = demonstrations(shown, failures_allowed=FAILURES_ALLOWED, test_times=times, times_as_long=(1.0, case.better))
    others = {
        f"{one:.2f}": demonstrations(replace(shown, shape=one), failures_allowed=(0,), test_times=times)
        for one in sorted({max(shape - ASIDE, LEAST_ASIDE), shape + ASIDE} - {shape})
    }
    price = settings.part_cost
    sentence = wording.test_sentence(case, shape, origin, found, clock)
    return LifeTest(
        None, sentence, shape, origin, found, others, [None if price is None else one.module_count * price for one in found]
    )
