"""Single sampling plans: test n units of a lot, accept it with at most Ac bad ones among them.

Terms follow ISO 2859-1: lot, sample size n, acceptance number Ac, producer's and consumer's risk. A plan is worked out from the
two shares and the two risks that the user states; of the standard's own tables what is held stands in `standard_plans.py`.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.hypergeometric import ROUNDING, chance_at_most, require_count, require_tested, units_from, units_up_to

#: The risks of most textbooks: a good lot refused, a bad lot taken. Conventions, not findings.
PRODUCER_RISK, CONSUMER_RISK = 0.05, 0.10
#: No plan is sought beyond: two shares that only a larger sample could tell apart are too close.
LARGEST_SAMPLE = 10_000


@dataclass(frozen=True)
class Plan:
    """Test `sample_count` (n) units; accept with up to `acceptance_number` (Ac) bad. lot_count: N, None for a process."""

    sample_count: int
    acceptance_number: int
    lot_count: int | None = None

    def __post_init__(self) -> None:
        lot = max(self.sample_count, 1) if self.lot_count is None else self.lot_count
        require_count(self.acceptance_number)
        require_tested(0, tested_count=self.sample_count, lot_count=lot)
        if self.acceptance_number >= self.sample_count:
            raise InputError(
                f"A plan that accepts with {self.acceptance_number} bad of {self.sample_count} never refuses.",
                "Take an acceptance number under the sample size.",
            )


@dataclass(frozen=True)
class RiskPoints:
    """The shares bad (0–1) at which a plan has the producer's and the consumer's risk; of a finite lot the nearest it can hold.

    producer_share: lots up to it are refused with at most the producer's risk. consumer_share: lots from it on are accepted
    with at most the consumer's.
    """

    producer_share: float
    consumer_share: float


def lot_acceptance(plan: Plan, bad_counts: np.ndarray | int) -> np.ndarray:
    """Return the chance that a lot with so many bad units is accepted (hypergeometric, type A operating curve).

    bad_counts: whole numbers from 0 to the plan's lot_count, of any shape. Raises InputError.
    """
    if plan.lot_count is None:
        raise InputError("The plan does not say how large the lot is.", "Give the plan its lot size, or ask for a process.")
    bad = np.asarray(bad_counts)
    if ((bad < 0) | (bad > plan.lot_count) | (bad != np.floor(bad))).any():
        raise InputError("Bad units that the lot cannot hold.", f"Give whole numbers from 0 to {plan.lot_count}.")
    return _lot_acceptance(plan.lot_count, bad, plan.sample_count, plan.acceptance_number)


def process_acceptance(plan: Plan, bad_shares: np.ndarray | float) -> np.ndarray:
    """Return the chance that a lot from a process with these shares bad (0–1) is accepted (binomial, type B curve)."""
    return _process_acceptance(_shares(bad_shares), plan.sample_count, plan.acceptance_number)


def average_outgoing(plan: Plan, bad_shares: np.ndarray | float) -> np.ndarray:
    """Return the share bad that goes out on average if refused lots are tested whole and bad units replaced.

    Needs the plan's lot_count: P(accept) · p · (N − n) / N. Source: NIST/SEMATECH e-Handbook 6.2.3.2 (from memory).
    """
    if plan.lot_count is None:
        raise InputError("The plan does not say how large the lot is.", "Give the plan its lot size.")
    left = (plan.lot_count - plan.sample_count) / plan.lot_count
    return process_acceptance(plan, bad_shares) * np.asarray(bad_shares, dtype=float) * left


def risk_points(plan: Plan, *, producer_risk: float = PRODUCER_RISK, consumer_risk: float = CONSUMER_RISK) -> RiskPoints:
    """Return the shares bad at which the plan just keeps each risk: binomial, or of the plan's finite lot. Raises InputError."""
    from scipy.special import betaincinv

    _require_risks(producer_risk, consumer_risk)
    if plan.lot_count is None:
        ends = plan.acceptance_number + 1, plan.sample_count - plan.acceptance_number
        return RiskPoints(float(betaincinv(*ends, producer_risk)), float(betaincinv(*ends, 1 - consumer_risk)))
    bad_counts = range(plan.lot_count + 1)
    refused = bisect_left(bad_counts, True, key=lambda bad: lot_acceptance(plan, bad) < 1 - producer_risk - ROUNDING)
    bad = bisect_left(bad_counts, True, key=lambda bad: lot_acceptance(plan, bad) <= consumer_risk + ROUNDING)
    return RiskPoints((refused - 1) / plan.lot_count, bad / plan.lot_count)


def smallest_plan(
    *, producer_share: float, consumer_share: float, producer_risk: float = PRODUCER_RISK,
    consumer_risk: float = CONSUMER_RISK, lot_count: int | None = None,
) -> Plan | None:  # fmt: skip
    """Return the plan with the fewest units that keeps both risks; None where only over 10,000 units would tell the shares apart.

    producer_share: share bad (0–1) of a lot that should pass; consumer_share: of one that should not. Without `lot_count`
    binomial; of a finite lot hypergeometric, where good is up to ⌊N·producer_share⌋ and bad from ⌈N·consumer_share⌉ units on.
    Raises InputError where the shares are not in this order.
    Source: two-point design as in Kiermeier (2008), Journal of Statistical Software 26(6).
    """
    _require_risks(producer_risk, consumer_risk)
    _shares([producer_share, consumer_share])
    if not producer_share < consumer_share:
        raise InputError(
            f"A share bad of {producer_share:g} should pass and {consumer_share:g} should not.",
            "Give a smaller share bad for the lot that should pass.",
        )
    is_bad = _accepting(consumer_share, lot_count, units_from)
    is_good = _accepting(producer_share, lot_count, units_up_to)
    sample, accept, largest = 0, 0, min(LARGEST_SAMPLE, lot_count or LARGEST_SAMPLE)
    while (sample := _smallest_sample(is_bad, accept, consumer_risk, over=sample, largest=largest)) is not None:
        if is_good(sample, accept) >= 1 - producer_risk - ROUNDING:
            return Plan(sample, accept, lot_count)
        accept += 1
    return None


def smallest_sample(
    *, consumer_share: float, consumer_risk: float = CONSUMER_RISK, acceptance_number: int = 0, lot_count: int | None = None
) -> Plan:
    """Return the smallest sample that takes lots with `consumer_share` bad (0–1) with at most the consumer's risk.

    With acceptance number 0 the zero-acceptance plan, for a process the success run: n = ln(risk) / ln(1 − share). To show a
    reliability R with confidence C ask for consumer_share 1 − R, consumer_risk 1 − C.
    Raises InputError where no sample can, because a lot with that share holds no more bad units than are accepted.
    Source: Meeker & Escobar (1998), section 10.6 (from memory).
    """
    _require_risks(consumer_risk)
    require_count(acceptance_number)
    accepted = _accepting(consumer_share, lot_count, units_from)
    if not _shares(consumer_share) > 0:
        raise InputError("A lot without bad units is never refused.", "Give a share bad above 0.")
    found = _smallest_sample(accepted, acceptance_number, consumer_risk, over=acceptance_number, largest=lot_count)
    if found is None:
        raise InputError(
            f"Such a lot holds no more bad units than the {acceptance_number} accepted.",
            "Take a smaller acceptance number or a larger share bad.",
        )
    return Plan(found, acceptance_number, lot_count)


def _accepting(share: float, lot_count: int | None, units: Callable[[float, int], int]) -> Callable[[int, int], float]:
    """Return the function (sample size, acceptance number) → chance that a lot of this share bad is accepted."""
    if lot_count is None:
        return partial(_process_acceptance, share)
    require_tested(0, tested_count=0, lot_count=lot_count)
    return partial(_lot_acceptance, lot_count, np.array(units(share, lot_count)))


def _smallest_sample(
    accepted: Callable[[int, int], float], accept: int, risk: float, *, over: int, largest: int | None
) -> int | None:
    """Return the smallest sample over `over` that accepts with at most the risk; None where even the largest does not."""
    low, step = max(over, accept), 1
    while accepted(high := low + step if largest is None else min(low + step, largest), accept) > risk + ROUNDING:
        if high == largest:
            return None
        low, step = high, 2 * step
    sizes = range(low + 1, high + 1)
    return sizes[bisect_left(sizes, True, key=lambda size: accepted(size, accept) <= risk + ROUNDING)]


def _lot_acceptance(lot_count: int, bad: np.ndarray, sample: int, accept: int) -> np.ndarray:
    return chance_at_most(accept, lot_count=lot_count, held_count=bad, tested_count=sample)


def _process_acceptance(share: np.ndarray | float, sample: int, accept: int) -> np.ndarray:
    from scipy.special import bdtr

    return bdtr(accept, sample, share)


def _shares(shares: np.ndarray | float | list[float]) -> np.ndarray:
    numbers = np.asarray(shares, dtype=float)
    if not ((numbers >= 0) & (numbers <= 1)).all():
        raise InputError("A share bad outside 0 to 1.", "Give shares between 0 and 1, such as 0.1.")
    return numbers


def _require_risks(*risks: float) -> None:
    for risk in risks:
        if not 0 < risk < 1:
            raise InputError(f"A risk of {risk} is not a probability.", "Give a risk between 0 and 1, such as 0.1.")
