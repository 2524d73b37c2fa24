"""Plans of an inspection: what was asked of one, the plans for a delivery, and what a plan lets through."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache

import numpy as np

from pipelines.answers import case as read
from pipelines.answers.batch_inspection_record import CurvePoint, InspectionCase, PlanPower, PlanTold
from pipelines.errors import SettingError
from pipelines.estimates.acceptance import (
    CONSUMER_RISK,
    PRODUCER_RISK,
    Plan,
    average_outgoing,
    lot_acceptance,
    process_acceptance,
    risk_points,
    smallest_plan,
    smallest_sample,
)
from pipelines.estimates.hypergeometric import units_from, units_up_to
from pipelines.estimates.standard_plans import FIRST_LETTER, LEVELS, standard_plan
from pipelines.vocabulary import Because

#: Points of an operating curve, and how far it goes: well past where nothing passes.
_POINTS, _FAR = 61, 1.5


def case_of(words: Mapping[str, str], batches: Iterable[str], characteristics: Iterable[str]) -> InspectionCase:
    """Return what is asked. Raises SettingError on what cannot be, and where a plan is asked for by half."""
    lot = read.count("lot", words["lot"], low=2) if "lot" in words else None
    numbers = {
        name: read.number(name, words[name], high=100) if name in words else None for name in ("aql", "good_pct", "bad_pct")
    }
    risks = {
        name: read.number(name, words[name], low=1e-6, high=0.5) if name in words else usual
        for name, usual in (("producer_risk", PRODUCER_RISK), ("consumer_risk", CONSUMER_RISK))
    }
    level = words.get("level", "II").upper()
    if level not in LEVELS:
        raise SettingError(f"'{words['level']}' is no inspection level held here.", f"It is one of: {', '.join(LEVELS)}.")
    aql, good, bad = numbers["aql"], numbers["good_pct"], numbers["bad_pct"]
    if aql is not None and aql not in FIRST_LETTER:
        held = ", ".join(f"{one:g}" for one in FIRST_LETTER)
        raise SettingError(
            f"No plans are held for a quality limit of {aql:g} %.", f"Held are {held}; or ask for a plan by good_pct and bad_pct."
        )
    if aql is not None and lot is None:
        raise SettingError("A plan of the standard needs the size of the delivery.", "Say lot=400 beside aql.")
    if (lot is not None and aql is None and bad is None) or (good is not None and bad is None):
        raise SettingError("A plan needs to know what shall not pass.", "Say aql=1.5, or bad_pct=5 with or without good_pct.")
    if bad is not None and not (good or 0.0) < bad:
        raise SettingError(
            f"{good or 0:g} % should pass and {bad:g} % should not.",
            "Give a larger share that should not pass, or a smaller one that should.",
        )
    batch = read.known_name("batch", words["batch"], batches) if "batch" in words else None
    what = read.known_name("characteristic", words["characteristic"], characteristics) if "characteristic" in words else None
    return InspectionCase(batch, what, lot, aql, level, good, bad, **risks)


def plans_of(case: InspectionCase) -> list[PlanTold]:
    """Return the plans for the delivery that is asked about: the standard's, and the one worked out; none where none is asked."""
    found = []
    if case.aql is not None:
        told = standard_plan(case.lot, aql_pct=case.aql, level=case.level)
        found.append(plan_told(told.plan, case, origin="iso_2859_1", aql_pct=case.aql, letter=told.letter))
    if case.bad_pct is not None:
        risks = {"consumer_share": case.bad_pct / 100, "consumer_risk": case.consumer_risk, "lot_count": case.lot}
        if case.good_pct is None:
            plan, origin = smallest_sample(**risks), "zero_accepted"
        else:
            plan = smallest_plan(producer_share=case.good_pct / 100, producer_risk=case.producer_risk, **risks)
            origin = "two_points"
        found.append(plan_told(plan, case, origin=origin, aql_pct=case.good_pct))
    return found


def plan_told(
    plan: Plan | None, case: InspectionCase, *, origin: str, aql_pct: float | None, letter: str | None = None,
    inspections: int | None = None,
) -> PlanTold:  # fmt: skip
    """Return a plan with what it lets through and its curve; None: `no_plan`."""
    if plan is None:
        return PlanTold(origin, letter, None, None, case.lot, aql_pct, None, Because.NO_PLAN, None, [])
    power = power_of(plan, aql_pct, case.producer_risk, case.consumer_risk)
    return PlanTold(
        origin, letter, plan.sample_count, plan.acceptance_number, plan.lot_count, aql_pct, inspections, None, power,
        curve_of(plan, farthest=min(1.0, _FAR * max(power.consumer_share, (aql_pct or 0) / 100))),
    )  # fmt: skip


@cache
def power_of(
    plan: Plan, aql_pct: float | None, producer_risk: float = PRODUCER_RISK, consumer_risk: float = CONSUMER_RISK
) -> PlanPower:
    """Return what a plan lets through: of its lot, else of a process. Of a lot shares are put to whole units, kindly at the
    quality limit (down) and strictly at twice it (up); of a lot too small to hold a unit at twice it, it is of the process."""
    points = risk_points(plan, producer_risk=producer_risk, consumer_risk=consumer_risk)
    at, twice = (None if aql_pct is None else times * aql_pct / 100 for times in (1, 2))
    return PlanPower(
        points.producer_share, points.consumer_share, None if at is None else passes(plan, at),
        None if twice is None or twice > 1 else passes(plan, twice, is_strict=True),
    )  # fmt: skip


def passes(plan: Plan, share: float, *, is_strict: bool = False) -> float:
    """Return the chance that a lot (or process) with this share nonconforming passes; is_strict: units are rounded up,
    and a share of under one unit is that of the process it comes from."""
    if plan.lot_count is None or (is_strict and share * plan.lot_count < 1):
        return float(process_acceptance(plan, share))
    return float(lot_acceptance(plan, (units_from if is_strict else units_up_to)(share, plan.lot_count)))


def curve_of(plan: Plan, *, farthest: float) -> list[CurvePoint]:
    """Return the operating curve from 0 to a share: of a finite lot at the shares that it can have."""
    if plan.lot_count is None:
        shares = np.linspace(0, farthest, _POINTS)
        return [
            CurvePoint(float(one), float(chance), None)
            for one, chance in zip(shares, process_acceptance(plan, shares), strict=True)
        ]
    most = min(plan.lot_count, units_from(farthest, plan.lot_count))
    bad = np.unique(np.linspace(0, most, min(most + 1, _POINTS)).round().astype(np.int64))
    shares, chances = bad / plan.lot_count, lot_acceptance(plan, bad)
    out = average_outgoing(plan, shares)
    return [CurvePoint(*map(float, row)) for row in zip(shares, chances, out, strict=True)]
