"""Crossed shares of lots: against the posterior found by brute force, at their edges, and rows permuted and renamed."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.crossed_share import CrossedShares, crossed_share
from pipelines.estimates.crossed_share_grid import FAMILY_SD, LOT_SD, SELLER_SD
from pipelines.estimates.crossed_share_modes import CONDITION_SD, LEVEL_SD
from pipelines.vocabulary import Because
from tests.estimates.lots import lines, made_lines

TAILS = [0.1, 0.5, 0.9]


def brute(rows: list[tuple], ask: tuple, *, count: int = 600_000) -> np.ndarray:
    """Return quantiles of a new lot's share: draws of the whole prior, weighted by the likelihood. No mode, no grid."""
    rng = np.random.default_rng(0)
    family_sd, seller_sd, lot_sd = np.abs(rng.normal(0, 1, (3, count))) * np.array([[FAMILY_SD], [SELLER_SD], [LOT_SD]])
    sds = {"condition": CONDITION_SD, "family": family_sd, "seller": seller_sd, "lot": lot_sd}
    level, effects = rng.normal(0, LEVEL_SD, count), {}

    def logit(condition, family, seller, lot):
        total = level.copy()
        for of, name in (("condition", condition), ("family", family), ("seller", seller), ("lot", (seller, lot))):
            if (of, name) not in effects:
                effects[of, name] = rng.normal(0, 1, count) * sds[of]
            total += effects[of, name]
        return total

    log_weight = np.zeros(count)
    for condition, family, seller, lot, k, n in rows:
        one = logit(condition, family, seller, lot)
        log_weight += k * one - n * np.logaddexp(0, one)
    share = 1 / (1 + np.exp(-logit(*ask, "new")))
    weight = np.exp(log_weight - log_weight.max())
    order = np.argsort(share)
    below = np.cumsum(weight[order]) / weight.sum()
    return share[order][np.searchsorted(below, TAILS)]


def drawn(found: CrossedShares, ask: tuple, *, count: int = 40_000) -> np.ndarray:
    condition, family, seller = ask
    listing = {"condition": condition, "families": [family], "seller": seller}
    return found.draws(**listing, count=count, rng=np.random.default_rng(1))[:, 0]


@pytest.mark.parametrize(
    ("rows", "ask", "within"),
    [
        ([("c", "F", "s", 1, 6, 8)], ("c", "F", "t"), 0.015),
        ([("c", "F", "s", 1, 8, 8)], ("c", "F", "s"), 0.025),
        ([("c", "F", "s", 1, 6, 8), ("c", "G", "t", 1, 18, 20)], ("c", "F", "s"), 0.015),
        ([("c", "F", "s", 1, 3, 10), ("c", "F", "s", 2, 18, 20)], ("c", "F", "s"), 0.015),
        ([("c", "F", "s", 1, 3, 10), ("c", "G", "s", 1, 8, 12), ("d", "F", "t", 2, 10, 20)], ("c", "G", "s"), 0.015),
        ([("c", "F", "s", 1, 3, 10), ("c", "F", "s", 2, 9, 20), ("d", "G", "t", 1, 10, 12)], ("e", "H", "new"), 0.015),
    ],
    ids=["one lot", "one lot, all good", "two lots", "one seller", "a mixed lot", "all unseen"],
)
def test_a_new_lot_is_as_the_whole_posterior_says(rows, ask, within):
    ours = np.quantile(drawn(crossed_share(lines(*rows)), ask), TAILS)
    assert ours == pytest.approx(brute(rows, ask), abs=within)


def test_families_of_one_lot_share_its_luck_and_two_lots_do_not():
    found = crossed_share(made_lines(np.random.default_rng(2), lots=60))
    listing = {"condition": 0, "families": [0, 1], "seller": 0, "count": 20_000}
    together = found.draws(**listing, rng=np.random.default_rng(1))
    apart = found.draws(**listing, rng=np.random.default_rng(2))
    assert np.corrcoef(together.T)[0, 1] > 0.4
    assert abs(np.corrcoef(together[:, 0], apart[:, 1])[0, 1]) < 0.03


def test_a_typical_lot_leaves_out_the_luck_of_lots_and_sellers():
    found = crossed_share(made_lines(np.random.default_rng(3), lots=200))
    listing = {"condition": 0, "families": [0, 1], "count": 20_000}
    drawn = found.draws(**listing, seller=None, rng=np.random.default_rng(1))
    logit, seller_sd, lot_sd = found.typical(**listing, rng=np.random.default_rng(1))
    lots = 1 / (1 + np.exp(-(logit + np.hypot(seller_sd, lot_sd) * np.random.default_rng(2).standard_normal((20_000, 1)))))
    assert lots.mean(axis=0) == pytest.approx(drawn.mean(axis=0), abs=0.006)
    assert lots.std(axis=0) == pytest.approx(drawn.std(axis=0), rel=0.03)
    assert (logit.std(axis=0) < 0.6 * np.log(drawn / (1 - drawn)).std(axis=0)).all()


def test_luck_given_from_outside_is_the_lots_own():
    found = crossed_share(made_lines(np.random.default_rng(2), lots=60))
    listing = {"condition": 0, "families": [0, 1], "seller": 0, "count": 20_000}
    bad, any_lot, good = (
        found.draws(**listing, luck=one, rng=np.random.default_rng(1))
        for one in (np.full(20_000, -1.0), None, np.full(20_000, 1.0))
    )
    assert (bad < good).all()
    assert (bad.mean(axis=0) < any_lot.mean(axis=0)).all()
    assert (any_lot.mean(axis=0) < good.mean(axis=0)).all()


def test_the_luck_of_past_lots_is_that_of_the_whole_posterior():
    # Node by node against the inverse of all the effects' precision, lots and sellers not eliminated by hand.
    found = crossed_share(made_lines(np.random.default_rng(5), lots=12, sellers=8))
    lines, spread, weight = found._lines, found._spread, found._weight
    first = np.zeros((2, lines.lots))
    for node, part in enumerate(weight):
        single = lines.seller_of_lot < 0
        singles = np.eye(lines.lots)[:, single]
        lots = lines.by_lot.T.toarray()
        design = np.hstack([lines.dense, lines.by_seller.T.toarray(), lots @ singles, lots])
        sellers = np.full(lines.sellers + single.sum(), spread.seller_sd[node] ** -2)
        prior = [spread.precision(lines)[:, node], sellers, np.full(lines.lots, spread.lot_sd[node] ** -2)]
        each = found._modes.system.weight[:, [node]]
        covariance = np.linalg.inv(design.T @ (each * design) + np.diag(np.concatenate(prior)))
        variance = np.diag(covariance)[-lines.lots :] / spread.lot_sd[node] ** 2
        effect = found._modes.effects[-lines.lots :, node] / spread.lot_sd[node]
        both = spread.seller_sd[node] ** 2 + spread.lot_sd[node] ** 2
        mean = np.where(single, spread.lot_sd[node] ** 2 / both, 1) * effect
        first += part * np.stack([mean, variance + mean**2])
    assert found.luck.mean == pytest.approx(first[0])
    assert found.luck.variance == pytest.approx(first[1] - first[0] ** 2)
    assert (found.luck.variance < 1).all()


def test_very_many_units_tell_odds_ratios_of_families_and_sellers():
    rows = [
        ("c", family, seller, f"{family}{seller}{lot}", round(1e5 / (1 + np.exp(-u - s))), 1e5)
        for family, u in (("F", 0.5), ("G", -0.5), ("H", 0.0))
        for seller, s in (("s", 0.4), ("t", -0.4))
        for lot in range(8)
    ]
    found = crossed_share(lines(*rows))
    families, sellers = found.families(), found.sellers()
    assert [one.name for one in families + sellers] == ["F", "G", "H", "s", "t"]
    assert families[0].odds_ratio.estimate / families[1].odds_ratio.estimate == pytest.approx(np.exp(1.0), rel=0.06)
    assert sellers[0].odds_ratio.estimate / sellers[1].odds_ratio.estimate == pytest.approx(np.exp(0.8), rel=0.12)
    assert (families[0].lots, families[0].n, sellers[0].lots) == (16, 16e5, 24)


def test_a_seller_of_one_lot_is_shrunk_more_than_one_of_many():
    rows = [("c", "F", "many", lot, 8, 20) for lot in range(12)] + [("c", "F", "once", 0, 8, 20)]
    rows += [("c", "F", f"x{one}", one, 12, 20) for one in range(12)]
    ratio = {one.name: one.odds_ratio for one in crossed_share(lines(*rows)).sellers()}
    assert ratio["many"].estimate < ratio["once"].estimate < 1
    assert ratio["many"].low < ratio["many"].estimate < ratio["many"].high


def test_lots_without_a_seller_are_those_of_sellers_of_their_own():
    made = made_lines(np.random.default_rng(4), lots=20)
    unnamed, named = made.assign(seller=None), made.assign(seller=[f"only {lot}" for lot in made["lot"]])
    assert drawn(crossed_share(unnamed), (0, 1, None)) == pytest.approx(drawn(crossed_share(named), (0, 1, None)), abs=1e-9)
    assert crossed_share(unnamed).sellers() == []


def test_blank_sellers_among_named_ones_and_coded_columns_change_nothing():
    made = made_lines(np.random.default_rng(8), lots=20)
    some = made.assign(seller=made["seller"].map(lambda one: None if one == 3 else f"s{one}"), family=made["family"].astype(str))
    found = crossed_share(some)
    assert [one.name for one in found.sellers()] == ["s0", "s1", "s2", "s4", "s5"]
    assert sum(one.lots for one in found.sellers()) == some.dropna(subset="seller")["lot"].nunique()
    coded = crossed_share(some.astype({"seller": "category", "family": "category"}))
    assert drawn(coded, (0, "1", "s2")) == pytest.approx(drawn(found, (0, "1", "s2")), abs=1e-9)
    assert [one.name for one in coded.sellers()] == ["s0", "s1", "s2", "s4", "s5"]


def test_permuted_split_and_renamed_rows_give_the_same_draws():
    made = made_lines(np.random.default_rng(5), lots=30)
    plain = drawn(crossed_share(made), (0, 1, 2))
    halves = made.assign(k=made["k"] / 2, n=made["n"] / 2)
    for same in (made.sample(frac=1, random_state=1), pd.concat([halves, halves]), made.assign(lot=-made["lot"])):
        assert drawn(crossed_share(same), (0, 1, 2)) == pytest.approx(plain, abs=1e-6)
    turned = made.assign(family="F" + (99 - made["family"]).astype(str))
    assert drawn(crossed_share(turned), (0, "F98", 2)) == pytest.approx(plain, abs=1e-6)
    mirrored = drawn(crossed_share(made.assign(k=made["n"] - made["k"])), (0, 1, 2))
    assert np.quantile(1 - mirrored, TAILS) == pytest.approx(np.quantile(plain, TAILS), abs=0.01)


def test_what_was_never_seen_is_said_and_drawn_wider():
    found = crossed_share(made_lines(np.random.default_rng(6), lots=150))
    assert not found.is_borrowed(condition=0, family=1, seller=None)
    assert found.is_borrowed(condition=0, family=99, seller=None)
    assert found.is_borrowed(condition=7, family=1, seller=None)
    assert found.is_borrowed(condition=0, family=1, seller=99)
    known = drawn(found, (0, 1, 2)).std()
    assert all(drawn(found, ask).std() > known for ask in ((0, 99, 2), (7, 1, 2), (0, 1, 99)))


def test_no_lots_are_refused_and_one_is_led_by_the_prior():
    none = crossed_share(lines(("c", "F", "s", 1, 0, 0)))
    assert (none.because, none.lots, none.families(), none.sellers()) == (Because.NO_PAST_LOTS, 0, [], [])
    assert np.quantile(drawn(none, ("c", "F", "s")), 0.5) == pytest.approx(0.5, abs=0.02)
    one = crossed_share(lines(("c", "F", "s", 1, 3, 9)))
    assert one.because is None
    assert one.is_prior_led
    assert not crossed_share(lines(("c", "F", "s", 1, 3, 9), ("c", "F", "s", 2, 3, 9))).is_prior_led


def test_all_and_none_good_and_blanks_give_shares():
    rows = [("c", "F", "s", 1, 0, 40), (None, "G", None, 2, 40, 40), ("c", None, "s", None, 5, 9)]
    found = crossed_share(lines(*rows))
    assert all(((d > 0) & (d < 1)).all() for d in (drawn(found, ("c", "F", "s")), drawn(found, (None, "G", None))))


@pytest.mark.parametrize(("k", "n"), [(3, 2), (-1, 2), (np.nan, 2), (1, np.nan), (1, np.inf)])
def test_an_impossible_share_is_refused(k, n):
    with pytest.raises(InputError, match="is not a share"):
        crossed_share(lines(("c", "F", "s", 1, 1, 2), ("c", "F", "s", 2, k, n)))


def test_a_missing_column_is_refused_and_a_thousand_families_are_too_large():
    with pytest.raises(InputError, match="lack the column seller"):
        crossed_share(lines(("c", "F", "s", 1, 1, 2)).drop(columns="seller"))
    assert crossed_share(lines(*(("c", one, "s", one, 3, 9) for one in range(1000)))) is Because.TOO_LARGE


def test_a_thousand_sellers_and_lots_get_their_numbers():
    found = crossed_share(lines(*(("c", one % 5, f"{one:03d}", one, 3 + one % 5, 9) for one in range(1000))))
    assert found.lots == 1000
    assert len(found.sellers()) == 1000
