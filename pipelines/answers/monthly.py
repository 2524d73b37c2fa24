"""`answer monthly`: a month of the floor for its owner, against the month before and the mean of the year before."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipelines.answers.before_after import per_thousand
from pipelines.answers.monthly_facts import MonthFacts, month_facts
from pipelines.answers.monthly_money import MonthMoney, month_money
from pipelines.answers.monthly_record import Cost, Monthly, MonthPart, MonthPoint
from pipelines.answers.question import Asked
from pipelines.decisions.change import change_of
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.month_change import CostChange, cost_change, month_change
from pipelines.estimates.rate_ratio import rate
from pipelines.facts.read import Connection
from pipelines.vocabulary import Because
from pipelines.wording import monthly as wording


def monthly(connection: Connection, asked: Asked) -> Monthly:
    """Answer from the log. Raises SettingError on a month that is not whole, and InputError on several currencies."""
    return month_of(month_facts(connection, asked), asked)


def month_of(facts: MonthFacts, asked: Asked) -> Monthly:
    """Answer from what was read before, at the costs of the settings."""
    money = month_money(facts, asked.settings)
    names = _sites(facts)
    whole = _part(facts, money, None, is_whole=True, level=asked.level, looks=1)
    sites = (
        [_part(facts, money, one, is_whole=False, level=asked.level, looks=len(names)) for one in names] if len(names) > 1 else []
    )
    is_part_given = asked.settings.part_cost is not None
    month = f"{facts.months[-1]:%Y-%m}"
    words = {"month": month, "currency": facts.currency, "clock": facts.clock}
    return Monthly(
        question=asked.question.value, clock=facts.clock.value, level=asked.level, log_start=facts.log_start,
        log_end=facts.log_end,
        settings=asked.settings.as_plain(),
        sentence=wording.sentence(whole, level=asked.level, months=len(facts.months) - 1, missing=money.missing, **words),
        warnings=wording.warnings(facts, whole, sites, is_part_given=is_part_given),
        because=whole.rate.because if whole.rate.high is None else None,
        month=month,
        months_before=len(facts.months) - 1, currency=facts.currency, asked_for=money.missing, sources=money.sources, whole=whole,
        sites=sites, history=_history(facts, money, asked.level),
    )  # fmt: skip


def _sites(facts: MonthFacts) -> list[str | None]:
    """Return the sites of the month, those not recorded last."""
    frames = [facts.watched, facts.work] + ([] if facts.stops is None else [facts.stops])
    last = len(facts.months) - 1
    found = {None if pd.isna(site) else site for one in frames for site in one.loc[one["period_no"] == last, "site"].unique()}
    return sorted(found, key=lambda site: (site is None, site or ""))


def _part(facts: MonthFacts, money: MonthMoney, site: str | None, *, is_whole: bool, level: float, looks: int) -> MonthPart:
    """Return the month of one site or of all; words of change hold for all `looks` together (Bonferroni)."""
    watched, work = (_of(one, site, is_whole) for one in (facts.watched, facts.work))
    stops = None if facts.stops is None else _of(facts.stops, site, is_whole)
    faults, exposure = (_by_month(facts, watched, name) for name in ("faults", "exposure"))
    jobs, modules = (_by_month(facts, work, name) for name in ("job_count", "module_count"))
    told, strict = (month_change(faults, exposure, level=one) for one in (level, 1 - (1 - level) / looks))
    cost, change = _cost(facts, money, site, is_whole, exposure, level)
    down = [None] * 3
    if stops is not None:
        now = stops[stops["period_no"] == len(facts.months) - 1]
        is_stick = now["is_stick"].astype(bool)
        down = [float(now.loc[is_stick, "hours"].sum()), float(now.loc[~is_stick, "hours"].sum()), int(now["open_count"].sum())]
    return MonthPart(
        is_whole=is_whole, site=site, units=int((watched["period_no"] == len(facts.months) - 1).sum()), faults=int(faults[-1]),
        exposure=float(exposure[-1]), rate=per_thousand(told.rate), against_before=told.against_before,
        against_mean=told.against_mean,
        change=change_of(strict.against_before, 0.0 if strict.against_before.estimate is None else 1.0).value,
        change_from_mean=change_of(strict.against_mean, 0.0 if strict.against_mean.estimate is None else 1.0).value,
        jobs=int(jobs[-1]), modules=int(modules[-1]), hours_down=down[0], other_hours_down=down[1], open_stops=down[2],
        because=change.per_hour.because, cost=cost, cost_per_hour=change.per_hour, cost_against_before=change.against_before,
        cost_against_mean=change.against_mean,
    )  # fmt: skip


def _of(frame: pd.DataFrame, site: str | None, is_whole: bool) -> pd.DataFrame:
    if is_whole:
        return frame
    return frame[frame["site"].isna() if site is None else frame["site"] == site]


def _by_month(facts: MonthFacts, frame: pd.DataFrame, name: str) -> np.ndarray:
    return frame.groupby("period_no")[name].sum().reindex(range(len(facts.months)), fill_value=0).to_numpy(dtype=float)


def _cost(
    facts: MonthFacts, money: MonthMoney, site: str | None, is_whole: bool, exposure: np.ndarray, level: float
) -> tuple[Cost | None, CostChange]:
    """Return what the month cost, and the cost of an hour against months before."""
    if money.costs is None:
        nothing = Estimate.refused(Because.NOT_GIVEN)
        return None, CostChange(nothing, nothing, nothing)
    mine = money.costs if is_whole else money.costs[money.costs["site"] == (site or "")]
    labour, parts, downtime, squares = (_by_month(facts, mine, name) for name in ("labour", "parts", "downtime", "squares"))
    total = labour + parts + downtime
    is_watched = exposure > 0
    change = cost_change(np.where(is_watched, total, 0.0), np.where(is_watched, squares, 0.0), exposure, level=level)
    down = None if facts.stops is None else float(downtime[-1])
    return Cost(float(labour[-1]), float(parts[-1]), down, float(total[-1])), change


def _history(facts: MonthFacts, money: MonthMoney, level: float) -> list[MonthPoint]:
    """Return the month and those before it, all sites together."""
    faults, exposure = (_by_month(facts, facts.watched, name) for name in ("faults", "exposure"))
    jobs, modules = (_by_month(facts, facts.work, name) for name in ("job_count", "module_count"))
    down = None
    if facts.stops is not None:
        down = _by_month(facts, facts.stops[facts.stops["is_stick"].astype(bool)], "hours")
    cost = None
    if money.costs is not None:
        cost = sum(_by_month(facts, money.costs, name) for name in ("labour", "parts", "downtime"))
    return [
        MonthPoint(
            month=f"{month:%Y-%m}", faults=int(faults[place]), exposure=float(exposure[place]),
            rate=per_thousand(rate(faults[place], exposure[place], level=level)), jobs=int(jobs[place]),
            modules=int(modules[place]),
            hours_down=None if down is None else float(down[place]),
            cost_per_hour=None if cost is None or not exposure[place] else float(cost[place] / exposure[place]),
        )
        for place, month in enumerate(facts.months)
    ]  # fmt: skip
