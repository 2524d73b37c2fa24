"""Parts of the table on lots: how often the advised highest bid loses, and whether ranks of families hold the true ones.

Past lots go by the failures, the scrapped units: 30 of them are 2 to 8 lots, 300 are 9 to 40, 3,000 are 300.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.decisions.bid import Fees, highest_bid
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.family_ranking import family_ranking
from pipelines.estimates.lot_fate import FATES, lot_fates
from pipelines.estimates.lot_inputs import Amount, LotInputs, Portion
from pipelines.estimates.lot_value import lot_values, unit_values
from tests.calibration.score import Kind, Rule, Sample

PAST_LOTS = {30: (2, 8), 300: (9, 40), 3000: (300, 300)}
FAMILIES, SELLERS, CONDITIONS = 8, 5, 3
DRAWS = 4000
#: New lots of one fleet, bought from one listing: their luck, not the fleet's, differs.
NEW_LOTS = 20
FEES = Fees(buyer_premium_share=0.1, tax_share=0.0, inbound_freight=20.0)
#: How the luck of a lot goes together over the three stages, by the words of its rows.
CORRELATIONS = {"luck of stages independent": 0.0, "luck of stages correlated 0.6": 0.6}
LOSS_LIMITS = {"at most 10 % lose": (0.1, Rule.LOSS_10), "at most 20 % lose": (0.2, Rule.LOSS_20)}
NODES, PARTS = np.polynomial.hermite_e.hermegauss(15)
PARTS = PARTS / PARTS.sum()


@dataclass(frozen=True)
class Truth:
    """Logits of the three stages, the stages first: by condition, family, seller; SDs between sellers and lots.

    luck_correlation: between the stages' luck of a lot.
    """

    condition: np.ndarray
    family: np.ndarray
    seller: np.ndarray
    seller_sd: np.ndarray
    lot_sd: np.ndarray
    luck_correlation: float

    @classmethod
    def drawn(cls, rng: np.random.Generator, luck_correlation: float = 0.0) -> Truth:
        sd = np.abs(rng.normal(0, [[0.8], [0.5], [0.6]], (3, 3)))
        level = rng.normal([0.0, 0.7, 1.0], 0.7)
        return cls(
            level[:, None] + rng.normal(0, 0.7, (3, CONDITIONS)),
            sd[0][:, None] * rng.normal(0, 1, (3, FAMILIES)),
            sd[1][:, None] * rng.normal(0, 1, (3, SELLERS)),
            *sd[1:],
            luck_correlation,
        )

    def units(self, rng: np.random.Generator, size: np.ndarray, condition: int, family: np.ndarray, seller: int) -> np.ndarray:
        """Return the units of one lot by family and fate; its luck is that of all its families."""
        together = self.luck_correlation
        luck = self.lot_sd * (np.sqrt(together) * rng.normal() + np.sqrt(1 - together) * rng.normal(0, 1, 3))
        logit = self.condition[:, [condition]] + self.family[:, family] + self.seller[:, [seller]] + luck[:, None]
        left, found = size, []
        for share in 1 / (1 + np.exp(-logit)):
            found.append(rng.binomial(left, share))
            left = left - found[-1]
        return np.stack([*found, left], axis=1)

    def averages(self, condition: int) -> np.ndarray:
        """Return the split of each family, averaged over lots of an unseen seller."""
        sd = np.hypot(self.seller_sd, self.lot_sd)[:, None]
        logit = self.condition[:, [condition]] + self.family
        shares = sum(part / (1 + np.exp(-(logit + sd * z))) for z, part in zip(NODES, PARTS, strict=True))
        left = np.cumprod(np.vstack([np.ones(FAMILIES), 1 - shares]), axis=0)
        return np.stack([*(left[:-1] * shares), left[-1]], axis=1)


def past_lots(rng: np.random.Generator, truth: Truth, lots: int) -> pd.DataFrame:
    rows = []
    for lot in range(lots):
        family = rng.choice(FAMILIES, rng.integers(1, 4), replace=False)
        condition, seller = rng.integers(CONDITIONS), rng.integers(SELLERS)
        units = truth.units(rng, _sizes(rng, len(family)), condition, family, seller)
        rows += [(condition, one, seller, lot, fate, units[i, j]) for i, one in enumerate(family) for j, fate in enumerate(FATES)]
    return pd.DataFrame(rows, columns=["condition", "family", "seller", "lot", "fate", "units"])


def _sizes(rng: np.random.Generator, families: int) -> np.ndarray:
    """Return 8 to 50 units in all, spread over the families."""
    return 1 + rng.multinomial(rng.integers(8, 51) - families, rng.dirichlet(np.ones(families)))


def inputs(
    families: np.ndarray | None = None, *, is_estimated: bool = False, rng: np.random.Generator | None = None
) -> LotInputs:
    """Return what units bring and cost; is_estimated: as means of a few cases, drawn around these."""
    resale = np.linspace(24, 46, FAMILIES)[slice(None) if families is None else families][:, None] * np.array([1, 0.95, 1, 0])
    bench_h, returned = np.array([0.2, 0.5, 0.8, 0.3]), np.array([0.04, 0.08, 0.05, 0])
    given = {
        "labour_per_h": Amount(16.0), "part_cost": Amount(4.0), "consumables": Amount(np.array([0, 0.5, 0.5, 0.1])),
        "parts_per_unit": Amount(np.array([0, 0, 1.2, 0.2]), 0.0, 0.4), "selling_fee": Portion(0.12),
        "freight_out": Amount(3.5), "return_cost": Amount(25.0, 0.0, 6.0), "harvest": Amount(4.0), "other_fault": Portion(0.05),
    }  # fmt: skip
    if not is_estimated:
        return LotInputs(resale=Amount(resale, 0.0, 5.0), bench_h=Amount(bench_h, 0.0, 0.25), returned=Portion(returned), **given)
    price_se, hour_se, cases = 1.2, 0.04, 60
    return LotInputs(
        resale=Amount(np.maximum(rng.normal(resale, price_se * (resale > 0)), 0), price_se * (resale > 0), 5.0),
        bench_h=Amount(np.maximum(rng.normal(bench_h, hour_se), 0.02), hour_se, 0.25),
        returned=Portion(rng.binomial(cases, returned) / cases, np.where(returned > 0, cases, 1e9)),
        **given,
    )


def lot_bid(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """The price of the highest bid is a lower limit of what the lot turns out to be worth; a loss is a miss."""
    found = {}
    for words, correlation in CORRELATIONS.items():
        found |= {f"{name}, {words}": one for name, one in _bids(rng, failures, fleets, correlation).items()}
    return found


def _bids(rng: np.random.Generator, failures: int, fleets: int, luck_correlation: float) -> dict[str, Sample]:
    bids = {name: [] for name in LOSS_LIMITS}
    worth, owner = [], []
    for fleet in range(fleets):
        truth = Truth.drawn(rng, luck_correlation)
        fates = lot_fates(past_lots(rng, truth, rng.integers(*PAST_LOTS[failures], endpoint=True)))
        family = np.sort(rng.choice(FAMILIES, rng.integers(1, 4), replace=False))
        size, condition, seller = _sizes(rng, len(family)), int(rng.integers(CONDITIONS)), int(rng.integers(SELLERS))
        mix = dict(zip(family.tolist(), size.tolist(), strict=True))
        drawn = fates.draws(mix, condition=condition, seller=seller, count=DRAWS, rng=rng)
        values = lot_values(drawn, inputs(family, is_estimated=True, rng=rng), seed=int(rng.integers(2**31)))
        for name, (limit, _) in LOSS_LIMITS.items():
            bid = highest_bid(values, fees=FEES, loss_limit=limit, margin=0.0)
            price = None if bid.highest_bid is None else bid.at.price
            bids[name] += [Estimate(price, price, None)] * NEW_LOTS
        units = np.stack([truth.units(rng, size, condition, family, seller) for _ in range(NEW_LOTS)])
        worth += lot_values(units, inputs(family), seed=int(rng.integers(2**31))).value.tolist()
        owner += [fleet] * NEW_LOTS
    return {name: Sample.of(bids[name], worth, Kind.LIMIT, rule, owner) for name, (_, rule) in LOSS_LIMITS.items()}


def family_ranks(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Rank of each family by profit of a unit, 1 the best, in one condition that was bought before."""
    found, truths, owner = [], [], []
    for fleet in range(fleets):
        truth = Truth.drawn(rng)
        past = past_lots(rng, truth, rng.integers(*PAST_LOTS[failures], endpoint=True))
        condition = int(past["condition"].iloc[0])
        prices = dict(enumerate(np.linspace(9, 17, FAMILIES)))
        ranking = family_ranking(lot_fates(past), prices, inputs(), condition=condition, seed=fleet, count=DRAWS)
        earned = (truth.averages(condition) * unit_values(inputs(), families=FAMILIES)[0][0]).sum(axis=1)
        true_rank = 1 + np.argsort(np.argsort(-(earned - np.array(list(prices.values())))))
        found += [Estimate(one.rank.rank, one.rank.low, one.rank.high) for one in ranking.families]
        truths += [true_rank[one.family] for one in ranking.families]
        owner += [fleet] * FAMILIES
    return {"rank of a family": Sample.of(found, truths, Kind.PLAIN, Rule.AT_LEAST, owner)}
