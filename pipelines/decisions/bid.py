"""The highest bid for a lot at which both the chance of a loss and the margin are kept, and what drives it."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, fields, replace
from enum import StrEnum
from math import sqrt

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.lot_fate import STAGES, LotFates, split
from pipelines.estimates.lot_inputs import VARIED, Amount, LotInputs
from pipelines.estimates.lot_value import SCRAP, LotValues, Valuing
from pipelines.estimates.weighted import mean, quantile

#: Draws for what drives the bid: fewer than for the bid itself, with the same luck in all of them.
SENSITIVITY_DRAWS = 2000
#: A loss of less than this share of the price is a rounding error.
ROUNDING = 1e-12
#: The middle of profits that is shown holds this share of them.
SHOWN = 0.8


class Binding(StrEnum):
    """Which of the two demands keeps the bid from being higher."""

    LOSS_LIMIT = "loss_limit"
    MARGIN = "margin"


class Even(StrEnum):
    """Whether some share of good units makes a lot earn nothing and lose nothing."""

    REACHED = "reached"
    ALWAYS_EARNS = "always_earns"
    NEVER_EARNS = "never_earns"


@dataclass(frozen=True)
class Fees:
    """What comes on top of a bid: shares of it (0–1), and money.

    buyer_premium_share: of the bid; tax_share: tax that cannot be recovered, of bid and premium; inbound_freight: for the lot.
    """

    buyer_premium_share: float
    tax_share: float
    inbound_freight: float

    def __post_init__(self) -> None:
        for one in fields(self):
            value = getattr(self, one.name)
            if not 0 <= value < np.inf:
                raise InputError(f"`{one.name}` of {value} cannot be.", "Give a number from 0.")

    @property
    def factor(self) -> float:
        return (1 + self.buyer_premium_share) * (1 + self.tax_share)

    def price(self, bid: float) -> float:
        """Return what the lot costs at a bid."""
        return bid * self.factor + self.inbound_freight

    def bid(self, price: float) -> float:
        """Return the bid at which the lot costs so much."""
        return (price - self.inbound_freight) / self.factor


@dataclass(frozen=True)
class AtBid:
    """What a bid brings. price: bid and fees; outlay: price and the expected cost of the work; loss_chance: of a profit under 0;
    low, high: the middle 80 % of profits. All money for the whole lot."""

    bid: float
    price: float
    outlay: float
    expected_profit: float
    low_profit: float
    high_profit: float
    loss_chance: float


@dataclass(frozen=True)
class Bid:
    """The highest bid, or None: do not bid, even at 0 one of the demands fails. binding: the stricter one.

    at: what it brings, at a bid of 0 where there is none. bid_error: by so much the bid may be off because draws are
    finite (95 %).
    """

    highest_bid: float | None
    binding: Binding
    at: AtBid
    bid_error: float


@dataclass(frozen=True)
class BreakEven:
    """The share of good units (works, cleaned or new part) at which the lot is expected to earn 0; None unless reached."""

    good_share: float | None
    even: Even


@dataclass(frozen=True)
class Swing:
    """What one input does to the highest bid, all else left as it is; a bid of 0 stands for none.

    is_estimated: from its 10th to its 90th percentile, else 20 % down and up. low, high: the input there, None where it is more
    than one number.
    """

    name: str
    is_estimated: bool
    low: float | None
    high: float | None
    bid_at_low: float
    bid_at_high: float

    @property
    def size(self) -> float:
        return abs(self.bid_at_high - self.bid_at_low)


def at_bid(values: LotValues, bid: float, *, fees: Fees, weights: np.ndarray | None = None) -> AtBid:
    """Say what a bid >= 0 brings; weights: of the draws, where a test has changed them. Raises InputError on another bid."""
    if not 0 <= bid < np.inf:
        raise InputError(f"A bid of {bid} is none.", "Give an amount from 0.")
    price = fees.price(bid)
    profit, tail = values.value - price, (1 - SHOWN) / 2
    low, high = (float(quantile(profit, one, weights=weights)) for one in (tail, 1 - tail))
    loss_chance = float(mean((profit < -ROUNDING * price).astype(float), weights=weights))
    outlay = price + float(mean(values.cost, weights=weights))
    return AtBid(bid, price, outlay, float(mean(profit, weights=weights)), low, high, loss_chance)


def highest_bid(values: LotValues, *, fees: Fees, loss_limit: float, margin: float, weights: np.ndarray | None = None) -> Bid:
    """Return the highest bid with a chance of a loss of at most `loss_limit` and an expected profit of `margin` × outlay.

    loss_limit: 0–1, both excluded; margin: from 0; weights: of the draws, where a test has changed them.
    The value at the loss limit is that of a draw, so at most that share of draws lies below it.
    Raises InputError on an impossible limit or margin.
    """
    if not 0 < loss_limit < 1:
        raise InputError(f"A chance of a loss of {loss_limit} is no limit.", "Give a number between 0 and 1, such as 0.1.")
    if not 0 <= margin < np.inf:
        raise InputError(f"A margin of {margin} cannot be.", "Give a share of the outlay from 0, such as 0.15.")
    by_loss, by_margin = _prices(values, loss_limit, margin, weights)
    binding = Binding.LOSS_LIMIT if by_loss <= by_margin else Binding.MARGIN
    bid = fees.bid(min(by_loss, by_margin))
    count = len(values.cost) if weights is None else weights.sum() ** 2 / (weights**2).sum()
    if binding is Binding.LOSS_LIMIT:
        away = 1.96 * sqrt(loss_limit * (1 - loss_limit) / count)
        low, high = (quantile(values.value, min(max(loss_limit + one, 0), 1), weights=weights) for one in (-away, away))
        error = float(high - low) / 2
    else:
        margins = values.value - margin * values.cost
        centre = mean(margins, weights=weights)
        error = 1.96 * sqrt(float(mean((margins - centre) ** 2, weights=weights)) / count) / (1 + margin)
    found = at_bid(values, max(bid, 0.0), fees=fees, weights=weights)
    return Bid(bid if bid >= 0 else None, binding, found, error / fees.factor)


def break_even(units: np.ndarray, earned: np.ndarray, *, price: float) -> BreakEven:
    """Return the share of good units at which a lot bought at `price` (fees included) is expected to earn 0.

    units: expected ones, (families, fates); earned: by a unit of each, as `unit_values` gives it. Good units keep their
    mix of families and fates, and so do those that are scrap.
    """
    whole, good = units.sum(), units[:, :SCRAP]
    if not good.sum():
        return BreakEven(None, Even.NEVER_EARNS)
    by_good = float((good * earned[:, :SCRAP]).sum() / good.sum())
    by_scrap = float((units.sum(axis=1) * earned[:, SCRAP]).sum() / whole)
    needed = price / whole
    if min(by_good, by_scrap) >= needed:
        return BreakEven(None, Even.ALWAYS_EARNS)
    if max(by_good, by_scrap) < needed:
        return BreakEven(None, Even.NEVER_EARNS)
    return BreakEven(float((needed - by_scrap) / (by_good - by_scrap)), Even.REACHED)


def sensitivity(
    fates: LotFates,
    mix: Mapping[Hashable, int],
    inputs: LotInputs,
    *,
    condition: Hashable,
    seller: Hashable | None,
    fees: Fees,
    loss_limit: float,
    margin: float,
    seed: int,
    count: int = SENSITIVITY_DRAWS,
) -> list[Swing]:
    """Return what each input does to the highest bid, the greatest swing first; all of them with the same luck.

    An input of several numbers (by family or fate) moves as one. Arguments as `LotFates.draws` and `highest_bid`.
    """
    rng = np.random.default_rng(seed)
    shares = fates.shares(list(mix), condition=condition, seller=seller, count=count, rng=rng)
    luck = int(rng.integers(2**31))

    def valued(shares: np.ndarray) -> Valuing:
        return Valuing(split(mix, shares, np.random.default_rng(luck)), seed=seed)

    def prices(lot: Valuing, inputs: LotInputs = inputs) -> tuple[float, float]:
        return _prices(lot.of(inputs), loss_limit, margin, None)

    def bid(prices: tuple[float, float], fees: Fees = fees) -> float:
        return max(fees.bid(min(prices)), 0.0)

    def held(at: int, share: float) -> np.ndarray:
        """Return the shares with those of one stage held at a quantile of their draws."""
        one = shares.copy()
        one[:, :, at] = np.quantile(shares[:, :, at], share, axis=0)
        return one

    drawn = valued(shares)
    at_given = prices(drawn)
    swings = [
        Swing(f"{stage}_share", True, None, None, *(bid(prices(valued(held(at, one)))) for one in (0.1, 0.9)))
        for at, stage in enumerate(STAGES)
    ]
    for one in fields(inputs):
        given = getattr(inputs, one.name)
        ends = given.low_high()
        shown = (_one_number(end.mean if isinstance(end, Amount) else end.share) for end in ends)
        bids = (bid(prices(drawn, replace(inputs, **{one.name: end}))) for end in ends)
        swings.append(Swing(one.name, given.is_estimated, *shown, *bids))
    for one in fields(fees):
        ends = [getattr(fees, one.name) * factor for factor in (1 - VARIED, 1 + VARIED)]
        swings.append(Swing(one.name, False, *ends, *(bid(at_given, replace(fees, **{one.name: end})) for end in ends)))
    return sorted(swings, key=lambda swing: -swing.size)


def _prices(values: LotValues, loss_limit: float, margin: float, weights: np.ndarray | None) -> tuple[float, float]:
    """Return the highest prices, fees included, that the loss limit and the margin allow."""
    by_margin = (mean(values.value, weights=weights) - margin * mean(values.cost, weights=weights)) / (1 + margin)
    return float(quantile(values.value, loss_limit, weights=weights)), float(by_margin)


def _one_number(value: float | np.ndarray) -> float | None:
    return float(np.ravel(value)[0]) if np.size(value) == 1 else None
