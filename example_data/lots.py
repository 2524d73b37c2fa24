"""The refurbishing bench: lots bought, tested and cleaned, units sold with a warranty, and what came back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from example_data import lives, work
from example_data.arcades import IS_MAGNETIC
from example_data.parts import draw_batch, ratio_of
from example_data.register import LEFT_OUT, STICK_COUNT
from example_data.rows import CHECK, CONFIRMED, INTAKE, INTERMITTENT, NO_FAULT, WARRANTY, Rows
from example_data.scenario import FAMILIES, LAST_DAY, World

CONDITIONS = ("working", "tested", "untested", "customer_return", "for_parts")
CONDITION_SHARES = (0.16, 0.14, 0.36, 0.22, 0.12)
#: Chance that a stick of a lot arrives bad, by what the seller said.
BAD_CHANCE = np.array([0.12, 0.15, 0.38, 0.42, 0.62])
SELLERS = ("Seller Alder", "Seller Birch", "Seller Cedar", "Seller Doum", "Seller Elder")
#: The fourth seller's lots are worse than described: the odds of a bad stick are multiplied by this.
SELLER_ODDS = np.array([1.0, 0.8, 1.0, 1.9, 1.1])
#: What one seller offers in one condition within so many days is one lot of two families.
MIXED_WITHIN_DAYS = 21
RETURN_REASONS = ("drift", "other_fault", "no_fault_found", "buyer_remorse", "damage_in_transit", "unknown")
GRADES = ("A", "B", "C", "parts")
DISPOSITIONS = ("", "grade_a", "grade_b", "grade_c", "scrap", "hold")


@dataclass
class Lots:
    """One row per family of a lot; those of a mixed lot share its number and the day it was bought."""

    number: np.ndarray
    listed_day: np.ndarray
    family: np.ndarray
    seller: np.ndarray
    condition: np.ndarray
    bought_day: np.ndarray
    bought_count: np.ndarray
    received_count: np.ndarray
    price: np.ndarray


@dataclass
class BenchUnits:
    """One row per unit that came in a lot; days are LEFT_OUT where nothing happened."""

    lot: np.ndarray
    family: np.ndarray
    stick_count: np.ndarray
    intake_day: np.ndarray
    frailty: np.ndarray
    scrapped_day: np.ndarray
    sold_day: np.ndarray
    grade: np.ndarray
    price: np.ndarray
    warranty_days: np.ndarray
    returned_day: np.ndarray
    return_reason: np.ndarray


def draw_lots(rng, world: World, job_count: float) -> Lots:
    """Draw enough lots to give about `job_count` bench jobs."""
    n = max(6, round(job_count / 2.02 / 29))
    weights = np.array([f.weights[2] for f in FAMILIES], float)
    family = rng.choice(len(FAMILIES), n, p=weights / weights.sum())
    condition = rng.choice(len(CONDITIONS), n, p=CONDITION_SHARES)
    bought = rng.integers(8, 52, n)
    short = np.where(rng.random(n) < 0.15, rng.integers(1, 3, n), 0)
    resale = np.array([f.resale for f in FAMILIES])[family]
    price = bought * resale * (0.55 - 0.5 * BAD_CHANCE[condition]) * rng.lognormal(0, 0.15, n)
    seller = rng.choice(len(SELLERS), n, p=[0.28, 0.2, 0.22, 0.16, 0.14])
    day = np.sort(rng.integers(3, LAST_DAY - 25, n))
    first = _first_of_lot(family, seller, condition, day)
    return Lots(first, day[first], family, seller, condition, day, bought, bought - short, price.round(2))


def _first_of_lot(family, seller, condition, day) -> np.ndarray:
    """Return for each row the first row of its lot: the row before it where they make a mixed lot, else itself."""
    first = np.arange(len(day))
    for row in range(1, len(day)):
        before = row - 1
        is_alike = seller[row] == seller[before] and condition[row] == condition[before] and family[row] != family[before]
        if is_alike and first[before] == before and day[row] - day[before] <= MIXED_WITHIN_DAYS:
            first[row] = before
    return first


class Bench:
    """Every lot unit from intake to sale and return; rows, latent cleans and part use are kept as it goes."""

    def __init__(self, rng, world: World, lots: Lots) -> None:
        self.rng, self.world, self.lots = rng, world, lots
        lot = np.repeat(np.arange(len(lots.family)), lots.received_count)
        n = len(lot)
        family = lots.family[lot]
        frailty = rng.gamma(1 / world.frailty_variance, world.frailty_variance, n)
        blank = np.full(n, LEFT_OUT)
        self.units = BenchUnits(
            lot, family, STICK_COUNT[family],
            lots.bought_day[lot] + rng.integers(4, 32, n), frailty, blank.copy(), blank.copy(), np.zeros(n, int),
            np.zeros(n), np.zeros(n, int), blank.copy(), np.full(n, -1),
        )  # fmt: skip
        self.exists = np.arange(2) < self.units.stick_count[:, None]
        self.rows = Rows()
        self.next_h = np.full((n, 2), np.inf)
        self.is_cleaned, self.is_new = np.zeros((n, 2), bool), np.zeros((n, 2), bool)
        self.module_no = np.ones((n, 2), int)
        self.batch = np.full((n, 2), -1)
        self.done_day = self.units.intake_day.copy()

    def run(self) -> None:
        """Take every unit from intake to the end of its warranty."""
        unit, slot = np.nonzero(self.exists & (self.units.intake_day <= LAST_DAY)[:, None])
        pending = self._intake(unit, slot)
        unit, slot, mechanism, severity, deepest, day = pending
        self._second_try(unit, slot, mechanism, severity, deepest, day)
        self._sell()
        self._come_back()

    def _intake(self, unit, slot):
        rng, units = self.rng, self.units
        lot, n = units.lot[unit], len(unit)
        odds = BAD_CHANCE[self.lots.condition[lot]]
        odds = odds / (1 - odds) * SELLER_ODDS[self.lots.seller[lot]] * units.frailty[unit]
        is_bad = rng.random(n) < odds / (1 + odds)
        day = units.intake_day[unit]
        good = ~is_bad
        dusted = rng.random(good.sum()) < 0.25
        self.next_h[unit, slot] = self._residual_h(unit)
        self._write(
            unit[good], slot[good], day[good], reason=INTAKE, finding=NO_FAULT, step_1=np.where(dusted, 1, 0),
            final=np.where(dusted, 0, work.TEST_ONLY),
        )  # fmt: skip
        unit, slot, day = unit[is_bad], slot[is_bad], day[is_bad]
        magnetic = IS_MAGNETIC[units.family[unit]]
        is_worn = rng.random(len(unit)) < np.where(magnetic, 0.15, 0.42)
        mechanism = work.draw_mechanism(rng, self.world, is_worn=is_worn, is_magnetic=magnetic)
        severity = rng.beta(2, 2, len(unit))
        none = np.zeros(len(unit), int)
        done = self._treat(unit, slot, day, mechanism, severity, none, False, INTAKE)
        again = done.outcome == work.FAIL
        later = day[again] + rng.integers(5, 21, again.sum())
        return unit[again], slot[again], mechanism[again], severity[again], done.deepest[again], later

    def _second_try(self, unit, slot, mechanism, severity, deepest, day) -> None:
        waiting = day > LAST_DAY
        self.done_day[unit[waiting]] = int(LEFT_OUT)
        keep = ~waiting
        self._treat(unit[keep], slot[keep], day[keep], mechanism[keep], severity[keep], deepest[keep], True, CHECK)

    def _treat(self, unit, slot, day, mechanism, severity, deepest, must_finish, reason, **more) -> work.Repair:
        """Repair bad sticks, write their rows and draw how long each then holds."""
        rng, world, units = self.rng, self.world, self.units
        family, n = units.family[unit], len(unit)
        done = work.repair(
            rng, world, work.BENCH, family=family, mechanism=mechanism, severity=severity, deepest=deepest,
            must_finish=np.full(n, must_finish),
        )  # fmt: skip
        swapped = (done.final == work.REPLACE) | (done.final == work.REPLACE_SENSOR)
        batch = np.full(n, -1)
        batch[swapped] = draw_batch(rng, world, family[swapped], day[swapped])
        finding = np.where(rng.random(n) < world.intermittent_share, INTERMITTENT, CONFIRMED)
        self._write(
            unit, slot, day, reason=reason, finding=finding, mode=work.draw_mode(rng, mechanism), mechanism=mechanism,
            step_1=done.steps[:, 0], step_2=done.steps[:, 1], step_3=done.steps[:, 2], final=done.final,
            outcome=done.outcome, batch_fitted=batch, severity=severity, is_bad_found=1,
            is_bad_left=done.outcome == work.FAIL, **more,
        )  # fmt: skip
        self._hold(unit, slot, day, done, mechanism, swapped, batch)
        return done

    def _hold(self, unit, slot, day, done, mechanism, swapped, batch) -> None:
        rng, world, units = self.rng, self.world, self.units
        family = units.family[unit]
        kept = np.where(done.passed_depth == 0, 0.3, 1 - np.take((1.0, *world.restoration), done.passed_depth))
        ratio = units.frailty[unit] * ratio_of(world, batch)
        wear, dirt = lives.new_module_h(rng, world, family, hazard_ratio=ratio, dust=1.0)
        again = lives.after_clean_h(
            rng, world, family, is_worn=mechanism >= work.TRACK, dirt_age_h=kept * rng.uniform(100, 900, len(unit)),
            hazard_ratio=units.frailty[unit], dust=1.0,
        )  # fmt: skip
        self.next_h[unit, slot] = np.where(swapped, np.minimum(wear, dirt), again)
        self.is_cleaned[unit, slot] |= done.passed_depth > 0
        self.is_new[unit, slot] |= swapped
        self.module_no[unit, slot] += swapped
        self.batch[unit[swapped], slot[swapped]] = batch[swapped]
        scrapped = unit[done.outcome == work.SCRAPPED]
        units.scrapped_day[scrapped] = day[done.outcome == work.SCRAPPED]

    def _residual_h(self, unit) -> np.ndarray:
        wear, dirt = lives.new_module_h(
            self.rng, self.world, self.units.family[unit], hazard_ratio=self.units.frailty[unit], dust=1.0,
            age_h=self.rng.uniform(100, 900, len(unit)),
        )  # fmt: skip
        return np.minimum(wear, dirt)

    def _write(self, unit, slot, day, **columns) -> None:
        closed = day + self.rng.integers(0, 6, len(unit))
        self.done_day[unit] = np.maximum(self.done_day[unit], closed)
        self.rows.add(
            len(unit), unit=unit, slot=slot, family=self.units.family[unit], site=2, module_no=self.module_no[unit, slot],
            day=day, closed_day=closed, batch_found=self.batch[unit, slot], lot=self.lots.number[self.units.lot[unit]],
            **columns,
        )  # fmt: skip

    def _sell(self) -> None:
        rng, units, n = self.rng, self.units, len(self.units.lot)
        whole = (units.scrapped_day == LEFT_OUT) & (units.intake_day <= LAST_DAY)
        sold = self.done_day + 2 + np.ceil(rng.exponential(22, n))
        units.sold_day = np.where(whole & (sold <= LAST_DAY), sold, LEFT_OUT)
        units.grade = np.minimum(rng.choice(3, n, p=[0.35, 0.45, 0.2]) + (self.is_cleaned.any(axis=1) & (rng.random(n) < 0.2)), 2)
        share = np.array([1.0, 0.85, 0.66])[units.grade]
        resale = np.array([f.resale for f in FAMILIES])[units.family]
        units.price = (resale * share * rng.lognormal(0, 0.08, n)).round(2)
        given = np.where(units.sold_day < 365, 30, np.where(units.sold_day < 731, 60, 90))
        units.warranty_days = np.where(rng.random(n) < 0.06, 0, given)

    def _come_back(self) -> None:
        rng, units, n = self.rng, self.units, len(self.units.lot)
        per_day = rng.lognormal(np.log(9 / 7), 0.5, n)
        next_h = np.where(self.exists, self.next_h, np.inf)
        failing = next_h.argmin(axis=1)
        drift = np.ceil(units.sold_day + next_h.min(axis=1) / per_day + rng.uniform(0, 6, n))
        drift = np.where(rng.random(n) < 0.85, drift, LEFT_OUT)
        other = units.sold_day + np.ceil(rng.exponential(90 / 0.06, n))
        reason = np.where(drift <= other, 0, rng.choice([1, 3, 4, 5], n, p=[0.5, 0.25, 0.15, 0.1]))
        back = np.minimum(drift, other)
        counts = (units.sold_day < LEFT_OUT) & (back <= units.sold_day + units.warranty_days) & (back <= LAST_DAY)
        units.returned_day = np.where(counts, back, LEFT_OUT)
        units.return_reason = np.where(counts, reason, -1)
        self._answer_claims(np.flatnonzero(counts & (reason == 0)), failing)

    def _answer_claims(self, unit, failing) -> None:
        """Write the warranty jobs: four drift returns in five get one; of these one in twelve shows no fault."""
        rng, units = self.rng, self.units
        day = (units.returned_day[unit] + rng.integers(0, 4, len(unit))).astype(int)
        kept = (rng.random(len(unit)) < 0.8) & (day <= LAST_DAY)
        unit, day = unit[kept], day[kept]
        slot = failing[unit]
        innocent = rng.random(len(unit)) < 1 / 12
        common = {"warranty_days": 30, "claim_slot_of": slot[innocent]}
        back = day[innocent] + rng.integers(6, 10, innocent.sum())
        self._write(
            unit[innocent], slot[innocent], day[innocent], reason=WARRANTY, finding=NO_FAULT, final=work.TEST_ONLY,
            returned_day=back, **common,
        )  # fmt: skip
        unit, slot, day = unit[~innocent], slot[~innocent], day[~innocent]
        magnetic = IS_MAGNETIC[units.family[unit]]
        worn = rng.random(len(unit)) < np.where(magnetic, 0.15, 0.5)
        mechanism = work.draw_mechanism(rng, self.world, is_worn=worn, is_magnetic=magnetic)
        self._treat(
            unit, slot, day, mechanism, rng.beta(2, 2, len(unit)), np.ones(len(unit), int), True, WARRANTY,
            returned_day=day + rng.integers(6, 10, len(unit)), warranty_days=30, claim_slot_of=slot,
        )  # fmt: skip
