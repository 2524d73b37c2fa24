"""`answer fault-rates`: who has more faults than luck explains, by seat, site, side and technician; and which pad to retire."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from pipelines.answers.fault_rates_record import Comparison, FaultRates, Place, Repeated
from pipelines.answers.lot_money import Missing
from pipelines.answers.question import Asked
from pipelines.answers.seat_record import SeatRecord, seat_record
from pipelines.decisions.retire import RetireCosts, retirement
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.place_rates import PlaceRate
from pipelines.facts.read import Connection
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Clock
from pipelines.wording import fault_rates as wording

#: What the user must supply to weigh a controller, and how many faults make it a case.
WANTED, LEAST_FAULTS = ("unit_price", "fault_cost", "keep_weeks"), 3
PER = 1000


def fault_rates(connection: Connection, asked: Asked) -> FaultRates:
    """Answer from the log. Raises InputError on several currencies."""
    return fault_rates_of(seat_record(connection, level=asked.level), asked)


def fault_rates_of(record: SeatRecord, asked: Asked) -> FaultRates:
    """Answer from a record read before, at the same level."""
    settings = asked.settings
    comparisons = [_comparison(record, what) for what in record.rates]
    help_of = {one.name: one.metadata for one in fields(Settings)}
    missing = [
        Missing(name, help_of[name]["unit"], help_of[name]["help"], []) for name in WANTED if getattr(settings, name) is None
    ]
    costs = None if missing else RetireCosts(*(getattr(settings, name) for name in WANTED))
    repeated = _repeated(record, costs)
    because = None if any(one.because is None for one in comparisons) else comparisons[1].because
    return FaultRates(
        question=asked.question.value, clock=record.clock.value, currency=record.currency, level=record.level,
        log_start=record.log_start, log_end=record.log_end, settings=settings.as_plain(), because=because,
        sentence=wording.whole_sentence(comparisons), warnings=wording.warnings(record), asked_for=missing,
        stays=record.stays, overlapping=record.overlapping, untold_spells=record.untold_spells, comparisons=comparisons,
        retire_sentence=wording.retire_sentence(repeated, missing, LEAST_FAULTS), repeated=repeated,
    )  # fmt: skip


def _comparison(record: SeatRecord, what: str) -> Comparison:
    found = record.rates[what]
    places = sorted((_place(record, what, one) for one in found.places), key=_order)
    because = found.because
    if not found.places:
        is_recorded = bool(record.stays) if what == "station" else False
        because = Because.NO_SPELLS if is_recorded else Because.NOT_RECORDED
    worse = [one.name for one in places if one.is_worse]
    return Comparison(
        what, because, wording.comparison_sentence(what, because, places, record.clock, record.level), worse, found.spread,
        record.unplaced[what], places,
    )  # fmt: skip


def _order(place: Place) -> tuple:
    """Sort by what stands out most; places that cannot be compared come last."""
    return (place.p_adjusted is None, place.p_adjusted or 0.0, -(place.ratio or 0.0), place.name)


def _place(record: SeatRecord, what: str, one: PlaceRate) -> Place:
    is_technician = what == "technician"
    back = record.backs.get(one.name) if is_technician else None
    because = one.because
    if because is Because.NO_SPELLS and record.clock is Clock.HOURS and not is_technician:
        because = Because.NO_USABLE_HOURS
    rate = one.rate
    if rate.estimate is not None:
        rate = Estimate(*(PER * value for value in (rate.estimate, rate.low, rate.high)))
    else:
        rate = Estimate.refused(because or rate.because)
    return Place(
        one.name, because, one.units, one.failures, one.exposure, one.expected, None if is_technician else rate,
        back.jobs if back else None, back.share if back else None, one.ratio, one.luck_low, one.luck_high, one.p_adjusted,
        one.is_worse,
    )  # fmt: skip


def _repeated(record: SeatRecord, costs: RetireCosts | None) -> list[Repeated]:
    """Return the controllers in service with LEAST_FAULTS or more, those first that are furthest above the typical."""
    units = record.units
    which = np.flatnonzero(units["is_in_service"].to_numpy(bool) & (units["failures"].to_numpy() >= LEAST_FAULTS))
    if not len(which):
        return []
    rows = units.iloc[which]
    factors, weekly = record.factors.factor(which, level=record.level), rows["faults_per_week"].to_numpy()
    money: list = [None] * len(which)
    if costs is not None:
        chances = record.factors.exceeds(which, np.array([costs.even_factor(one) for one in weekly]))
        money = [
            retirement(factor, float(per_week), costs, saves_chance=float(chance))
            for factor, per_week, chance in zip(factors, weekly, chances, strict=True)
        ]
    found = [
        Repeated(
            row.unit, _known(row.family), _known(row.site), int(row.failures), float(row.expected), factor,
            float(row.faults_per_week), Because.NOT_GIVEN if one is None else None, one,
        )
        for row, factor, one in zip(rows.itertuples(), factors, money, strict=True)
    ]  # fmt: skip
    return sorted(found, key=lambda one: (-_worth(one), one.unit))


def _known(name: object) -> str | None:
    return name if isinstance(name, str) else None


def _worth(one: Repeated) -> float:
    return one.factor.estimate if one.money is None else one.money.saving.estimate
