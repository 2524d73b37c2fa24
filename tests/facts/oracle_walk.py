"""Walk the events of one unit by day, for the oracle: the state of each stick, its attempts, and what opens and closes."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass, field, replace

from pipelines.settings import Settings
from tests.facts.oracle_hours import UnitHours
from tests.facts.oracle_returns import Return, returns_of
from tests.facts.oracle_rows import DEPTHS, Job, Opening, Row, back_in_service, is_on_shelf, may_be_sold
from tests.facts.oracle_spells import OpenSpell, Watch, measured


@dataclass
class Stick:
    """The state of one stick while its events are walked."""

    slot: str
    life: int = 0
    generation: int = 1
    attempts: int = 0
    is_failed: bool = False
    is_opened: bool = False
    is_mended: bool = False  # it was once found bad and put right
    spell: OpenSpell | None = None
    module: OpenSpell | None = None
    is_module_over: bool = False
    on_sale: tuple[str, dict] | None = None  # what a sale that comes next would open
    buyer_until: int | None = None  # a buyer has the unit, and this is the last day followed


@dataclass
class Unit:
    """Everything known of one unit, and what the walk found."""

    unit_id: str
    register: Row | None
    jobs: list[Job]
    sales: list[Row]
    hours: UnitHours
    has_register: bool
    sticks: dict[str, Stick]
    watch: Watch
    settings: Settings
    attempts: list[dict] = field(default_factory=list)
    spells: list[dict] = field(default_factory=list)
    module_lives: list[dict] = field(default_factory=list)
    left_out: Counter = field(default_factory=Counter)

    @property
    def family(self) -> str | None:
        return self.register["family"] if self.register else None


def walk(unit: Unit) -> None:
    """Walk the unit's events by day: it goes into service, comes back from a customer, is worked on, leaves, is sold."""
    events = [(job.day, 2, place, _job, job) for place, job in enumerate(unit.jobs)]
    events += [(job.day, 3, place, _leave, job) for place, job in enumerate(unit.jobs) if job.scraps or job.leaves]
    events += [(sale["sold_on"].toordinal(), 4, place, _sell, place) for place, sale in enumerate(unit.sales)]
    for back in returns_of(unit.sales, unit.jobs, list(unit.sticks)):
        is_later = back.day > unit.sales[back.sale]["sold_on"].toordinal()
        events.append((back.day, 1 if is_later else 5, len(events), _come_back, back))
    out = _out_day(unit)
    if out is not None:
        events.append((out, 6, len(events), _go_out, out))
    for slot in unit.sticks:
        since = _recorded_start(unit, slot)
        if since is not None:
            events.append((since, 0, len(events), _enter_service, slot))
    for day, _, _, what, about in sorted(events, key=lambda event: event[:3]):
        what(unit, day, about)
    for stick in unit.sticks.values():
        _close(unit, stick, unit.watch.log_end)
        _close_module(unit, stick, unit.watch.log_end)


# ---------------------------------------------------------------- age


def _original_jobs(unit: Unit, slot: str) -> list[Job]:
    """Return the jobs of the module that the stick had first."""
    found = []
    for job in unit.jobs:
        if job.slot == slot:
            found.append(job)
            if job.replaces or job.scraps:
                break
    return found


def _since(jobs: list[Job]) -> int | None:
    known = [job.row["in_service_since"] for job in jobs if job.row["in_service_since"]]
    return min(known).toordinal() if known else None


def _known_from(jobs: list[Job]) -> set[str]:
    return {job.row["life_known_from"] for job in jobs}


def _recorded_start(unit: Unit, slot: str) -> int | None:
    """Return the day on which the original module began at age 0, where the register or an unregistered log says so."""
    if unit.register is not None:
        return unit.register["in_service_on"].toordinal() if unit.register["new_or_used"] == "new" else None
    jobs = _original_jobs(unit, slot)
    return _since(jobs) if not unit.has_register and "new" in _known_from(jobs) else None


def _late_entry(unit: Unit, stick: Stick, opening: Opening) -> dict:
    """Return start and origin of an original module whose start the register does not give: what its jobs tell."""
    unknown = {"start": None, "origin_h": None, "is_from_zero": False}
    condition = unit.register["new_or_used"] if unit.register else None
    if stick.life > 0 or stick.generation > 1 or condition == "refurbished":
        return unknown
    if condition == "new":
        start = unit.register["in_service_on"].toordinal()
        return unknown | {"start": start, "origin_h": 0.0} if start <= opening.day else unknown
    jobs = _original_jobs(unit, stick.slot)
    start, known = _since(jobs), _known_from(jobs)
    if start is not None and start > opening.day:
        start = None
    origin = None
    if "previous_replacement" in known:
        origin = unit.hours.on(start) if start is not None else None
    elif condition == "used" or known & {"bought_used", "new"}:
        origin = 0.0
    return {"start": start, "origin_h": origin, "is_from_zero": False}


# ---------------------------------------------------------------- opening and closing


def _open(unit: Unit, stick: Stick, kind: str, opening: Opening, **more: object) -> None:
    """Start a spell, and with the module's first one the life of the module."""
    if kind == "first_life" and stick.generation == 1:
        age = more.pop("age", None) or _late_entry(unit, stick, opening)
    else:
        origin = unit.hours.on(opening.read_on)
        age = {"start": opening.day, "origin_h": origin, "is_from_zero": kind == "first_life"}
    until = opening.until
    out = _out_day(unit)
    if stick.life == 0 and opening.sale is None and out is not None:
        until = out if stick.buyer_until is None else min(out, stick.buyer_until)
    common = {"generation": stick.generation, "opened": opening.day, "sale": opening.sale, "until": until}
    common["read_on"] = opening.read_on
    stick.spell = OpenSpell(kind=kind, **common, **age, **more)
    stick.is_opened = True
    if stick.module is None and not stick.is_module_over:
        module_age = age if kind == "first_life" else _late_entry(unit, stick, opening)
        stick.module = OpenSpell(kind="module", **common, **module_age)


def _close(unit: Unit, stick: Stick, end: float, *, lower: float | None = None, found: Job | None = None) -> None:
    """End the running spell: failed in (lower, end], or unfailed at `end`. found: the job that tells what was at fault."""
    spell, stick.spell = stick.spell, None
    if spell is None:
        return
    row = measured(spell, end=end, lower=lower, hours=unit.hours, watch=unit.watch)
    if row is not None:
        dates = {"opened_on": _date(spell.opened), "age_zero_on": _date(spell.opened if spell.start is None else spell.start)}
        told = {name: getattr(spell, name) for name in ("generation", "kind", "depth", "attempt_number", "mechanism")}
        failed_by = _known(found.row["failure_mechanism"]) if found and row["is_failure"] else None
        unit.spells.append(_signed(unit, stick) | told | dates | row | {"failed_by": failed_by})


def _close_module(unit: Unit, stick: Stick, end: float, *, is_failure: bool = False) -> None:
    module, stick.module = stick.module, None
    if module is None:
        return
    stick.is_module_over = True
    row = measured(module, end=end, lower=end if is_failure else None, hours=unit.hours, watch=unit.watch)
    if row is not None:
        row |= {"opened_on": _date(module.opened), "exit_days": row["at_days"], "exit_h": row["at_h"]}
        unit.module_lives.append(_signed(unit, stick) | {"generation": module.generation} | row)


def _date(day: int) -> dt.date:
    return dt.date.fromordinal(day)


def _signed(unit: Unit, stick: Stick) -> dict:
    family = unit.family or next((job.row["family"] for job in unit.jobs if job.slot == stick.slot), None)
    return {"unit_id": unit.unit_id, "stick": stick.slot, "life": stick.life, "family": family}


# ---------------------------------------------------------------- events


def _enter_service(unit: Unit, day: int, slot: str) -> None:
    """Registered as new: age 0 that day, unless the bench found it bad or replaced it before."""
    stick = unit.sticks[slot]
    if stick.generation > 1:
        return
    age = {"start": day, "origin_h": 0.0, "is_from_zero": True}
    if not stick.is_failed and not stick.is_mended:
        stick.module, stick.spell, stick.on_sale = None, None, None
        _open(unit, stick, "first_life", Opening(day, day), age=age)


def _sell(unit: Unit, day: int, sale: int) -> None:
    """A sale ends what was at risk before it, or begins the exposure of what was put right for it."""
    warranty = unit.sales[sale]["warranty_days"]
    for stick in unit.sticks.values():
        waiting, stick.on_sale = stick.on_sale, None
        stick.buyer_until = day + (warranty or 0)
        if waiting is None:
            _close(unit, stick, day)
            _close_module(unit, stick, day)
            continue
        kind, told = waiting
        if stick.module is not None and stick.spell is not None and stick.module.opened == stick.spell.opened:
            stick.module = None
        stick.spell = None
        _close_module(unit, stick, day)
        if warranty:
            _open(unit, stick, kind, Opening(day, day, sale, day + warranty), **told)


def _out_day(unit: Unit) -> int | None:
    """Return the day the register says the unit left; a sale of its own tells better than the word `sold`."""
    register = unit.register
    if register is None or not register["out_of_service_on"] or (register["out_reason"] == "sold" and unit.sales):
        return None
    return register["out_of_service_on"].toordinal()


def _go_out(unit: Unit, day: int, _: int) -> None:
    for stick in unit.sticks.values():
        stick.on_sale = None
        _close(unit, stick, day)
        _close_module(unit, stick, day)


def _leave(unit: Unit, day: int, job: Job) -> None:
    """The unit leaves, so every stick of it does. A scrapped tag begins a new life."""
    for stick in unit.sticks.values():
        stick.on_sale = None
        _close(unit, stick, day)
        _close_module(unit, stick, day)
        if job.scraps:
            scrapped = {other.day for other in unit.jobs if other.scraps and other.day <= day}
            unit.sticks[stick.slot] = Stick(stick.slot, life=len(scrapped))


def _come_back(unit: Unit, day: int, back: Return) -> None:
    """A sold unit comes back: the drifting stick failed that day, the others leave exposure."""
    stick = unit.sticks[back.slot]
    cleaned = {job.slot for job in unit.jobs if job.cleans and job.slot and back.is_sold_after(job.day)}
    stick.on_sale = None
    verdict = back.verdict(cleaned, set(unit.sticks))
    if back.is_first:
        unit.left_out["unconfirmed_returns"] += "unconfirmed" in verdict.values()
        unit.left_out["return_stick_unknown"] += "stick_unknown" in verdict.values()
    has_failed = verdict[back.slot] in ("confirmed", "unconfirmed")
    if stick.spell is not None:
        found = back.first_jobs[back.slot] if verdict[back.slot] == "confirmed" else None
        _close(unit, stick, day, lower=day if has_failed else None, found=found)
    if stick.module is not None:
        if back.is_removed:
            stick.module.until = None
        else:
            _close_module(unit, stick, day)
    stick.is_failed = stick.is_failed or has_failed


def _job(unit: Unit, day: int, job: Job) -> None:
    if job.slot is None:
        unit.left_out["stick_unknown"] += 1
        _take_attempts(unit, job, None)
        return
    stick = unit.sticks[job.slot]
    if job.is_intake:
        stick.buyer_until = None
    was_failed = stick.is_failed
    last = _take_attempts(unit, job, stick)
    is_first_life = (stick.spell is not None and stick.spell.kind == "first_life") or (
        stick.on_sale is not None and stick.on_sale[0] == "first_life"
    )
    runs_on = is_first_life and not unit.settings.preventive_clean_censors
    is_preventive = last == "preventive" and not runs_on
    stick.is_failed = _failed_after(job, was_failed)
    _close_at(unit, stick, job, was_failed=was_failed, is_preventive=is_preventive)
    if job.replaces:
        stick.generation, stick.attempts, stick.module, stick.is_module_over = stick.generation + 1, 0, None, False
    _open_at(unit, stick, job, last=last, was_failed=was_failed, is_preventive=is_preventive)
    if job.is_good_sight and stick.spell is not None:
        stick.spell.last_sight = day


def _failed_after(job: Job, was_failed: bool) -> bool:
    if job.replaces or (job.is_passed and job.has_repair) or job.is_good_sight:
        return False
    return job.is_drift or was_failed


def _take_attempts(unit: Unit, job: Job, stick: Stick | None) -> str | None:
    """Write down the attempts of a job; return what its last clean was: passed, failed, no_outcome or preventive."""
    was_failed = stick is not None and stick.is_failed
    if not job.cleans:
        return None
    if not (job.is_drift or (was_failed and not job.is_nff)):
        unit.left_out["intake_untested"] += job.is_intake and job.is_untested
        return "preventive"
    for place in job.cleans:
        verdict = _verdict(job, place)
        if verdict == "no_outcome":
            unit.left_out["no_outcome"] += 1
            continue
        if stick is not None:
            stick.attempts += 1
        family = unit.family or job.row["family"]
        unit.attempts.append(
            {
                "unit_id": unit.unit_id, "stick": stick.slot if stick else "U", "life": stick.life if stick else None,
                "generation": stick.generation if stick else None, "job_key": job.row["job_key"], "step": place + 1,
                "received_on": job.row["received_on"], "depth": DEPTHS[job.actions[place]],
                "attempt_number": stick.attempts if stick else None, "is_passed": verdict == "passed",
                "mechanism": _known(job.row["failure_mechanism"]), "family": family,
            }
        )  # fmt: skip
    return verdict


def _verdict(job: Job, place: int) -> str:
    rest = job.actions[place + 1 :]
    is_followed = any(action in DEPTHS or action.startswith("replace_") or action == "scrap" for action in rest)
    if is_followed or job.outcome in ("fail", "scrapped"):
        return "failed"
    return "passed" if job.is_passed else "no_outcome"


def _close_at(unit: Unit, stick: Stick, job: Job, *, was_failed: bool, is_preventive: bool) -> None:
    """End what this job ends: a failure before anything else, then removal, a preventive clean, a fault found at intake."""
    has_failed = job.is_drift and not job.is_intake and not was_failed
    if has_failed or job.replaces or job.scraps or is_preventive or (job.is_bad and job.is_intake):
        stick.on_sale = None
    if has_failed:
        unit.left_out["assumed_failures"] += job.is_assumed
        _close(unit, stick, job.day, lower=_lower(unit, stick, job), found=job)
    elif job.replaces or job.scraps or is_preventive or (job.is_drift and job.is_intake):
        _close(unit, stick, job.day)
    if job.replaces or job.scraps:
        _close_module(unit, stick, job.day, is_failure=job.is_drift or was_failed)


def _lower(unit: Unit, stick: Stick, job: Job) -> float:
    """Return the last day on which the stick was surely or, if reported, probably good."""
    if stick.spell is None:
        return job.day
    bounds = [stick.spell.opened, stick.spell.last_sight or stick.spell.opened]
    if job.is_reported:
        bounds.append(job.day - unit.settings.notice_days)
    return max(bounds)


def _open_at(unit: Unit, stick: Stick, job: Job, *, last: str | None, was_failed: bool, is_preventive: bool) -> None:
    """Open what this job opens, if exposure begins after it. One spell runs at a time: the one before ends here."""
    kind = _opened_kind(unit, stick, job, last=last, was_failed=was_failed, is_preventive=is_preventive)
    if kind is None or job.scraps or job.leaves:
        return
    _close(unit, stick, job.day)
    stick.is_opened = True
    stick.is_mended = stick.is_mended or kind in ("after_clean", "after_other_repair")
    told = {}
    if kind == "after_clean":
        depth = DEPTHS[job.actions[job.cleans[-1]]]
        told = {"depth": depth, "attempt_number": stick.attempts, "mechanism": _known(job.row["failure_mechanism"])}
    is_buyers = stick.buyer_until is not None
    stick.on_sale = (kind, told) if is_buyers or may_be_sold(job, unit.register) else None
    is_served = job.row["disposition"] == "service" or job.row["returned_to_service_on"] is not None
    if is_served or not is_on_shelf(job, unit.sales, unit.register, is_buyers=is_buyers):
        opening = back_in_service(job, unit.register, is_first_life=stick.life == 0)
        if is_buyers:
            opening = replace(opening, until=max(stick.buyer_until, opening.until or 0))
        _open(unit, stick, kind, opening, **told)


def _known(mechanism: str | None) -> str | None:
    return None if mechanism == "unknown" else mechanism


def _opened_kind(unit: Unit, stick: Stick, job: Job, *, last: str | None, was_failed: bool, is_preventive: bool) -> str | None:
    if job.replaces:
        return "first_life"
    if last == "passed":
        return "after_clean"
    if is_preventive:
        return "after_preventive"
    if (was_failed or job.is_drift) and not stick.is_failed:
        return "after_other_repair"
    is_recorded = stick.life == 0 and _recorded_start(unit, stick.slot) is not None
    is_first_sight = job.is_good_sight and stick.generation == 1 and not stick.is_opened
    return "first_life" if is_first_sight and not is_recorded else None
