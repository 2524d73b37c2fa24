"""The two rental arcades, simulated visit by visit for all units at once.

Each round takes every unit to its next visit (a report, a check, a false report or another fault), looks at its
sticks, works on the bad ones, and draws what happens next. Play hours stop while a unit is on the bench.
"""

from __future__ import annotations

import numpy as np

from example_data import lives, work
from example_data.parts import draw_batch, ratio_of
from example_data.register import LEFT_OUT, Register
from example_data.rows import CHECK, CONFIRMED, INTERMITTENT, NO_FAULT, NOT_TESTED, PREVENTIVE, REPORT, Rows
from example_data.scenario import FAMILIES, LAST_DAY, World
from example_data.sticks_seen import StickRow

LATENT_CLEAN = {"unit": 0, "slot": 0, "family": 0, "depth": 0, "mechanism": 0, "day": 0, "hold_h": 0.0, "hold_days": 0.0}
LATENT_MODULE = {"unit": 0, "slot": 0, "family": 0, "site": 0, "module_no": 0, "batch": -1, "life_h": 0.0, "age_h": 0.0}
LATENT_TRY = {"family": 0, "depth": 0, "mechanism": 0, "is_passed": 0}
IS_MAGNETIC = np.array([f.sensor_type in ("hall", "tmr") for f in FAMILIES])


class Arcades:
    """The state of every unit and stick slot between visits, and the rows written so far."""

    def __init__(self, rng, world: World, register: Register) -> None:
        self.rng, self.world, self.register = rng, world, register
        self.season = lives.Season(world.season_swing)
        n = register.count
        self.now = register.start_day.astype(float)
        self.hours = register.start_h.copy()
        self.end_day = np.minimum(register.out_day, LAST_DAY).astype(int)
        every = np.array(world.check_every_days)[register.site]
        self.check_every = every * rng.uniform(0.9, 1.1, n)
        self.next_check = np.ceil(self.now + self.check_every * rng.uniform(0.3, 1.0, n))
        self.check_turn = np.zeros(n, int)
        self.next_false = self.now + self._wait_days(n, world.false_reports_per_year)
        self.next_other = self.now + self._wait_days(n, world.other_faults_per_year)
        shape = (n, 2)
        self.exists = np.arange(2) < register.stick_count[:, None]
        self.fitted_h = np.zeros(shape)
        self.fitted_day = np.repeat(register.start_day[:, None], 2, axis=1)
        self.module_no = np.ones(shape, int)
        self.batch = np.full(shape, -1)
        self.wear_at_h, self.dirt_at_h = np.full(shape, np.inf), np.full(shape, np.inf)
        self.dirt_age_h, self.dirt_since_h = np.zeros(shape), np.zeros(shape)
        self.report_day = np.full(shape, np.inf)
        self.is_noticed = rng.random(shape) >= world.unseen_share
        self.lag_days = rng.uniform(0, 13, shape)
        self.deepest = np.zeros(shape, int)
        self.rows, self.cleans, self.modules, self.tries = (
            Rows(), Rows(LATENT_CLEAN), Rows(LATENT_MODULE), Rows(LATENT_TRY),
        )  # fmt: skip
        self.trips = Rows({"unit": 0, "day": 0, "returned_day": 0, "hours": 0.0})
        unit, slot = np.nonzero(self.exists)
        self.dirt_age_h[unit, slot] = self.hours[unit]
        self._draw_module(unit, slot)
        self._redraw_reports(unit, slot)

    def run(self) -> None:
        """Take every unit through all its visits."""
        alive = np.arange(self.register.count)
        while len(alive):
            day, kind, slot = self._next_visit(alive)
            due = day <= self.end_day[alive]
            alive = alive[due]
            if len(alive):
                self._visit(alive, day[due].astype(int), kind[due], slot[due])
        retired = self.register.out_day <= LAST_DAY
        self.register.out_day = np.where(retired, np.maximum(self.register.out_day, self.now), self.register.out_day)

    # what comes next

    def _wait_days(self, n: int, per_year: float) -> np.ndarray:
        return np.full(n, LEFT_OUT) if per_year == 0 else self.rng.exponential(365 / per_year, n)

    def _fail_at_h(self, unit, slot) -> np.ndarray:
        return np.minimum(self.wear_at_h[unit, slot], self.dirt_at_h[unit, slot])

    def _day_at_h(self, unit, hours) -> np.ndarray:
        ahead = (hours - self.hours[unit]) / self.register.hours_per_day[unit]
        return self.season.day_of(self.season.play_days(self.now[unit]) + ahead)

    def _redraw_reports(self, unit, slot) -> None:
        """Date the report of failures still ahead; those already behind keep the date they have."""
        fail_h = self._fail_at_h(unit, slot)
        ahead = fail_h > self.hours[unit]
        unit, slot, fail_h = unit[ahead], slot[ahead], fail_h[ahead]
        reported = np.ceil(self._day_at_h(unit, fail_h) + self.lag_days[unit, slot])
        self.report_day[unit, slot] = np.where(self.is_noticed[unit, slot], reported, np.inf)

    def _next_visit(self, unit):
        reports = np.where(self.exists[unit], self.report_day[unit], np.inf)
        days = np.column_stack([reports, self.next_check[unit], self.next_false[unit], self.next_other[unit]])
        kind = days.argmin(axis=1)
        day = np.maximum(np.ceil(days[np.arange(len(unit)), kind]), np.floor(self.now[unit]) + 1)
        slot = np.where(kind < 2, kind, self.rng.integers(0, 2, len(unit)) % self.register.stick_count[unit])
        return day, np.maximum(kind - 1, 0), slot  # kind: 0 report, 1 check, 2 false report, 3 other fault

    # a visit

    def _visit(self, unit, day, kind, slot) -> None:
        register, rng = self.register, self.rng
        played = self.season.play_days(day) - self.season.play_days(self.now[unit])
        self.hours[unit] += played * register.hours_per_day[unit]
        stay = np.where(kind == 1, 0, rng.integers(0, self.world.bench_days + 1, len(unit)))
        back = day + stay
        self.trips.add(len(unit), unit=unit, day=day, returned_day=back, hours=self.hours[unit])
        self.now[unit] = back
        looked = self._who_is_looked_at(unit, day, kind, slot)
        which, side = np.nonzero(looked)
        self._work_on(unit[which], side, day[which], back[which], kind[which], side == slot[which])
        self._plan_on(unit, kind, back)
        here, sides = np.repeat(unit, 2), np.tile([0, 1], len(unit))
        self._redraw_reports(here, sides)
        overdue = self.report_day[here, sides] <= self.now[here]
        self.report_day[here[overdue], sides[overdue]] = np.floor(self.now[here[overdue]]) + 1

    def _who_is_looked_at(self, unit, day, kind, slot) -> np.ndarray:
        asked = np.arange(2) == slot[:, None]
        also = self.rng.random((len(unit), 2)) < self.world.look_at_other_share
        due = self.report_day[unit] <= day[:, None]
        return self.exists[unit] & (asked | also | due | (kind == 1)[:, None])

    def _plan_on(self, unit, kind, back) -> None:
        self.check_turn[unit] += kind == 1
        late = self.next_check[unit] <= back
        self.next_check[unit[late]] = np.ceil(back[late] + self.check_every[unit[late]])
        for number, clock, rate in (
            (2, self.next_false, self.world.false_reports_per_year), (3, self.next_other, self.world.other_faults_per_year),
        ):  # fmt: skip
            fired = unit[(kind == number) | (clock[unit] <= back)]
            clock[fired] = self.now[fired] + self._wait_days(len(fired), rate)

    def _work_on(self, unit, slot, day, back, kind, is_asked) -> None:
        """Test, treat and write one row for each stick that is looked at."""
        rng, world, register = self.rng, self.world, self.register
        n = len(unit)
        is_bad = self._fail_at_h(unit, slot) <= self.hours[unit]
        scheduled_clean = (kind == 1) & (register.site[unit] == 1) & (self.check_turn[unit] % 2 == 1) & (not world.is_easy)
        other_fault = (kind == 3) & is_asked & ~is_bad
        missed = is_bad & ~scheduled_clean & (rng.random(n) < world.missed_fault_share)
        found = is_bad & ~missed & ~scheduled_clean
        reported = (self.is_noticed[unit, slot] & is_bad) | (is_asked & (kind != 1) & ~is_bad)
        reason = np.where(scheduled_clean, PREVENTIVE, np.where(reported, REPORT, CHECK))
        finding = np.where(found, np.where(rng.random(n) < world.intermittent_share, INTERMITTENT, CONFIRMED), NO_FAULT)
        finding = np.where(scheduled_clean | (found & (rng.random(n) < world.not_tested_share)), NOT_TESTED, finding)
        finding = np.where(other_fault, CONFIRMED, finding)
        row = StickRow(unit, slot, day, back, reason, finding, self.hours[unit].copy(), is_bad)
        for chosen, write in (
            (found, self._mend), (scheduled_clean, self._clean_on_schedule), (other_fault, self._mend_other),
            (~(found | scheduled_clean | other_fault), self._leave_alone),
        ):  # fmt: skip
            if chosen.any():
                write(row.at(chosen))

    # the four things that can happen to a stick

    def _mend(self, row: StickRow) -> None:
        rng, world, register = self.rng, self.world, self.register
        unit, slot, n = row.unit, row.slot, len(row.unit)
        family = register.family[unit]
        is_worn = (self.wear_at_h[unit, slot] <= self.dirt_at_h[unit, slot]) | (self.wear_at_h[unit, slot] <= row.hours)
        mechanism = work.draw_mechanism(rng, world, is_worn=is_worn, is_magnetic=IS_MAGNETIC[family])
        severity = rng.beta(2, 2, n)
        done = _joined_repairs(self, family, mechanism, severity, unit, slot)
        falsely = (done.passed_depth > 0) & (rng.random(n) < world.false_pass_share)
        fitted_day, module_no, batch_found = self._fitted(unit, slot)
        batch = np.full(n, -1)
        swapped = (done.final == work.REPLACE) | (done.final == work.REPLACE_SENSOR)
        batch[swapped] = draw_batch(rng, world, family[swapped], row.day[swapped])
        self.rows.add(
            n, **row.columns(register), module_no=module_no, fitted_day=fitted_day, mode=work.draw_mode(rng, mechanism),
            mechanism=mechanism, step_1=done.steps[:, 0], step_2=done.steps[:, 1], step_3=done.steps[:, 2], final=done.final,
            outcome=done.outcome, batch_found=batch_found, batch_fitted=batch, severity=severity,
            is_bad_left=(done.outcome == work.FAIL) | falsely, is_start_known=self._start_known(unit, module_no),
        )  # fmt: skip
        self._after_mending(row, done, mechanism, is_worn, falsely)
        self._fit(unit[swapped], slot[swapped], row.back[swapped], batch[swapped])
        self.end_day[unit[done.outcome == work.SCRAPPED]] = -LEFT_OUT
        register.out_day[unit[done.outcome == work.SCRAPPED]] = row.day[done.outcome == work.SCRAPPED]

    def _after_mending(self, row, done, mechanism, is_worn, falsely) -> None:
        rng, world = self.rng, self.world
        self.deepest[row.unit, row.slot] = np.where(done.is_mended, 0, done.deepest)
        good = done.is_mended & ~falsely
        unit, slot, hours, worn = row.unit[good], row.slot[good], row.hours[good], is_worn[good]
        kept = np.where(done.passed_depth == 0, 0.3, 1 - np.take((1.0, *world.restoration), done.passed_depth))[good]
        age = self.dirt_age_h[unit, slot] + hours - self.dirt_since_h[unit, slot]
        age = np.where(worn, age, kept * age)
        self.dirt_age_h[unit, slot], self.dirt_since_h[unit, slot] = age, hours
        again = lives.after_clean_h(
            rng, world, self.register.family[unit], is_worn=worn, dirt_age_h=age,
            hazard_ratio=self._ratio(unit, slot), dust=self.register.dust[unit],
        )  # fmt: skip
        self.wear_at_h[unit[worn], slot[worn]] = hours[worn] + again[worn]
        self.dirt_at_h[unit[~worn], slot[~worn]] = hours[~worn] + again[~worn]
        self._draw_notice(unit, slot)
        still = ~good & (done.outcome != work.SCRAPPED)
        self.report_day[row.unit[still], row.slot[still]] = row.back[still] + rng.integers(4, 19, still.sum())
        self._note_cleans(row, done, mechanism)

    def _note_cleans(self, row, done, mechanism) -> None:
        family = self.register.family[row.unit]
        for depth in done.steps.T:
            tried = depth > 0
            self.tries.add(
                tried.sum(), family=family[tried], depth=depth[tried], mechanism=mechanism[tried],
                is_passed=(done.passed_depth == depth)[tried],
            )  # fmt: skip
        passed = done.passed_depth > 0
        unit, slot = row.unit[passed], row.slot[passed]
        fail_h = self._fail_at_h(unit, slot)
        self.cleans.add(
            len(unit), unit=unit, slot=slot, family=self.register.family[unit], depth=done.passed_depth[passed],
            mechanism=mechanism[passed], day=row.back[passed], hold_h=np.maximum(fail_h - row.hours[passed], 0.0),
            hold_days=np.minimum(np.maximum(self._day_at_h(unit, fail_h) - row.back[passed], 0.0), LEFT_OUT),
        )  # fmt: skip

    def _clean_on_schedule(self, row: StickRow) -> None:
        """Blow out a stick without a test. A contaminated one may come right unseen."""
        unit, slot, n = row.unit, row.slot, len(row.unit)
        fitted_day, module_no, batch_found = self._fitted(unit, slot)
        self.rows.add(
            n, **row.columns(self.register), module_no=module_no, fitted_day=fitted_day, step_1=1, batch_found=batch_found,
            is_start_known=self._start_known(unit, module_no),
        )  # fmt: skip
        is_worn = self.wear_at_h[unit, slot] <= row.hours
        mends = ~row.is_bad | (~is_worn & (self.rng.random(n) < work.PASS_CHANCE[self.register.family[unit], 0]))
        unit, slot, hours = unit[mends & ~is_worn], slot[mends & ~is_worn], row.hours[mends & ~is_worn]
        age = self.dirt_age_h[unit, slot] + hours - self.dirt_since_h[unit, slot]
        age = age * (1 - self.world.restoration[0])
        self.dirt_age_h[unit, slot], self.dirt_since_h[unit, slot] = age, hours
        again = lives.after_clean_h(
            self.rng, self.world, self.register.family[unit], is_worn=np.zeros(len(unit), bool), dirt_age_h=age,
            hazard_ratio=self._ratio(unit, slot), dust=self.register.dust[unit],
        )  # fmt: skip
        self.dirt_at_h[unit, slot] = hours + again

    def _mend_other(self, row: StickRow) -> None:
        """A fault that is no drift: a click, a cap, a joint. One in six gets a new module all the same."""
        unit, slot, n = row.unit, row.slot, len(row.unit)
        fitted_day, module_no, batch_found = self._fitted(unit, slot)
        swapped = self.rng.random(n) < 1 / 6
        batch = np.full(n, -1)
        batch[swapped] = draw_batch(self.rng, self.world, self.register.family[unit[swapped]], row.day[swapped])
        self.rows.add(
            n, **row.columns(self.register), module_no=module_no, fitted_day=fitted_day, mode=self.rng.integers(6, 8, n),
            final=np.where(swapped, work.REPLACE, self.rng.choice([work.ADJUST, work.RESOLDER], n)), batch_found=batch_found,
            batch_fitted=batch, is_start_known=self._start_known(unit, module_no),
        )  # fmt: skip
        self._fit(unit[swapped], slot[swapped], row.back[swapped], batch[swapped])

    def _leave_alone(self, row: StickRow) -> None:
        """Nothing found (rightly, or the fault was missed and comes back)."""
        unit, slot, n = row.unit, row.slot, len(row.unit)
        fitted_day, module_no, batch_found = self._fitted(unit, slot)
        dusted = (self.rng.random(n) < 0.08) & ~row.is_bad & (not self.world.is_easy)
        self.rows.add(
            n, **row.columns(self.register), module_no=module_no, fitted_day=fitted_day, batch_found=batch_found,
            step_1=np.where(dusted, 1, 0), final=np.where(dusted, 0, work.TEST_ONLY), is_bad_left=row.is_bad,
            is_start_known=self._start_known(unit, module_no),
        )  # fmt: skip
        missed = row.is_bad & self.is_noticed[unit, slot]
        self.report_day[unit[missed], slot[missed]] = row.back[missed] + self.rng.integers(3, 15, missed.sum())

    # modules

    def _ratio(self, unit, slot) -> np.ndarray:
        return self.register.frailty[unit] * ratio_of(self.world, self.batch[unit, slot])

    def _fitted(self, unit, slot):
        return self.fitted_day[unit, slot], self.module_no[unit, slot], self.batch[unit, slot]

    def _start_known(self, unit, module_no) -> np.ndarray:
        return (self.register.origin[unit] == 0) | (module_no > 1)

    def _draw_notice(self, unit, slot) -> None:
        self.is_noticed[unit, slot] = self.rng.random(len(unit)) >= self.world.unseen_share
        self.lag_days[unit, slot] = self.rng.uniform(0, 13, len(unit))

    def _fit(self, unit, slot, day, batch) -> None:
        self.fitted_h[unit, slot], self.fitted_day[unit, slot] = self.hours[unit], day
        self.module_no[unit, slot] += 1
        self.batch[unit, slot] = batch
        self.dirt_age_h[unit, slot], self.dirt_since_h[unit, slot] = 0.0, self.hours[unit]
        self.deepest[unit, slot] = 0
        self._draw_module(unit, slot)
        self._draw_notice(unit, slot)

    def _draw_module(self, unit, slot) -> None:
        register = self.register
        family, age = register.family[unit], self.hours[unit] - self.fitted_h[unit, slot]
        wear, dirt = lives.new_module_h(
            self.rng, self.world, family, hazard_ratio=self._ratio(unit, slot), dust=register.dust[unit], age_h=age
        )
        self.wear_at_h[unit, slot], self.dirt_at_h[unit, slot] = self.hours[unit] + wear, self.hours[unit] + dirt
        self.dirt_since_h[unit, slot] = self.hours[unit]
        self.modules.add(
            len(unit), unit=unit, slot=slot, family=family, site=register.site[unit], age_h=age,
            module_no=self.module_no[unit, slot], batch=self.batch[unit, slot], life_h=age + np.minimum(wear, dirt),
        )  # fmt: skip


def _joined_repairs(arcades: Arcades, family, mechanism, severity, unit, slot) -> work.Repair:
    """Repair each stick by its own site's policy, and join the results in order."""
    world = arcades.world
    policies = (work.PLAIN, work.PLAIN) if world.is_easy else (work.NORTH, work.SOUTH)
    deepest = arcades.deepest[unit, slot]
    parts, order = [], []
    for number, policy in enumerate(policies):
        here = np.flatnonzero(arcades.register.site[unit] == number)
        order.append(here)
        sticks = {"family": family[here], "mechanism": mechanism[here], "severity": severity[here], "deepest": deepest[here]}
        parts.append(work.repair(arcades.rng, world, policy, **sticks, must_finish=np.zeros(len(here), bool)))
    back = np.argsort(np.concatenate(order), kind="stable")
    fields = work.Repair.__dataclass_fields__
    return work.Repair(*(np.concatenate([getattr(p, name) for p in parts])[back] for name in fields))
