"""How many units to test, and what to do with a lot that has come: each verdict, its reason, and the risks it keeps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pipelines.decisions.lot_test import LotAction, LotReason, SampleReason, Terms, on_arrival, sample_advice
from pipelines.errors import InputError
from pipelines.estimates.value_of_testing import value_of_testing
from pipelines.vocabulary import Because

TERMS = Terms(stated_good_share=0.9, needed_good_share=0.6, price_per_unit=12.0)


def arrived(terms: Terms = TERMS, *, tested: int, good: int, bought: int = 40, received: int = 40, **risks):
    return on_arrival(terms, bought_count=bought, received_count=received, tested_count=tested, good_found=good, **risks)


def verdict(advice) -> tuple[LotAction, LotReason]:
    return advice.action, advice.why


def lots(*, price: float, seed: int = 1, draws: int = 20_000) -> tuple[np.ndarray, np.ndarray]:
    """Return gains of buying, at 10 a good unit, and numbers good of lots of 30."""
    good = np.random.default_rng(seed).binomial(30, np.random.default_rng(seed + 1).beta(3, 2, draws))
    return 10.0 * good - price, good


def test_a_test_that_pays_is_advised_with_the_number_good_to_act_from():
    found = value_of_testing(*lots(price=180), lot_count=30, cost_per_unit=0.5)
    advice = sample_advice(found)
    assert advice.why is SampleReason.WORTH_IT
    assert (advice.sample_count, advice.act_from) == (found.best_count, found.act_from)
    assert 0 < advice.act_from <= advice.sample_count
    assert advice.net > 0


@pytest.mark.parametrize(
    ("price", "cost", "draws", "why", "is_acting"),
    [
        (-1, 0.5, 20_000, SampleReason.CHANGES_NOTHING, True),
        (310, 0.5, 20_000, SampleReason.CHANGES_NOTHING, False),
        (150, 60.0, 20_000, SampleReason.COSTS_MORE, True),
        (180, 6.9, 30, SampleReason.TOO_CLOSE, None),
    ],
)
def test_no_test_is_advised_where_none_pays(price, cost, draws, why, is_acting):
    found = value_of_testing(*lots(price=price, draws=draws), lot_count=30, cost_per_unit=cost)
    advice = sample_advice(found)
    assert (advice.sample_count, advice.why, advice.act_from, advice.net) == (0, why, None, 0.0)
    assert is_acting is None or advice.is_acting is is_acting


def test_a_lot_that_shows_too_few_good_is_claimed_for():
    from scipy.stats import hypergeom

    advice = arrived(tested=10, good=5)
    assert verdict(advice) == (LotAction.CLAIM, LotReason.WORSE_THAN_STATED)
    assert advice.stated_p == pytest.approx(hypergeom.cdf(5, 40, 36, 10))
    # The most good that the lot may hold, at 5 %, and by how many that falls short of 36.
    held = np.arange(41)
    most = held[hypergeom.cdf(5, 40, held, 10) > 0.05].max()
    assert (advice.good_count.high, advice.shortfall_count) == (most, 36 - most)


def test_it_goes_back_only_where_that_brings_more_than_keeping_it():
    back = replace(TERMS, value_if_kept=300.0, refund_if_returned=420.0)
    assert verdict(arrived(back, tested=10, good=5)) == (LotAction.RETURN, LotReason.WORSE_THAN_STATED)
    assert arrived(back, tested=10, good=5).return_gain == 120
    assert arrived(replace(back, value_if_kept=420.0), tested=10, good=5).action is LotAction.CLAIM
    assert arrived(replace(back, refund_if_returned=None), tested=10, good=5).return_gain is None
    assert arrived(back, tested=10, good=9).action is LotAction.KEEP


def test_a_lot_shown_to_be_worth_keeping_is_kept():
    from scipy.stats import hypergeom

    advice = arrived(tested=10, good=9)
    assert verdict(advice) == (LotAction.KEEP, LotReason.WORTH_KEEPING)
    assert advice.needed_p == pytest.approx(hypergeom.sf(8, 40, 23, 10))
    assert advice.shortfall_count == 0
    assert verdict(arrived(replace(TERMS, needed_good_share=0.0), tested=1, good=0)) == (LotAction.KEEP, LotReason.WORTH_KEEPING)


def test_between_the_two_it_cannot_be_said_and_the_plan_says_how_many_would_do():
    advice = arrived(tested=5, good=4)
    assert verdict(advice) == (LotAction.CANNOT_SAY, LotReason.TOO_FEW_TESTED)
    assert 5 < advice.plan.sample_count < 40


@pytest.mark.parametrize(("size", "stated", "needed"), [(40, 0.9, 0.6), (12, 0.75, 0.5), (100, 0.8, 0.7), (25, 1.0, 0.8)])
def test_a_test_of_the_plans_size_always_decides_and_keeps_both_risks(size, stated, needed):
    from scipy.stats import hypergeom

    terms = Terms(stated_good_share=stated, needed_good_share=needed)
    plan = arrived(terms, tested=0, good=0, bought=size, received=size).plan
    n = plan.sample_count
    found = [arrived(terms, tested=n, good=k, bought=size, received=size).action for k in range(n + 1)]
    assert set(found) == {LotAction.CLAIM, LotAction.KEEP}
    as_stated, too_bad = int(np.ceil(size * stated - 1e-9)), int(np.ceil(size * needed - 1e-9)) - 1
    chance_claimed = sum(
        hypergeom.pmf(k, size, as_stated, n) for k, action in enumerate(found) if action is LotAction.CLAIM
    )  # fmt: skip
    chance_kept = sum(hypergeom.pmf(k, size, too_bad, n) for k, action in enumerate(found) if action is LotAction.KEEP)
    assert chance_claimed <= 0.05 + 1e-8
    assert chance_kept <= 0.10 + 1e-8


@pytest.mark.parametrize("held", range(0, 31, 3))
@pytest.mark.parametrize("tested", [3, 8, 15, 30])
def test_the_risks_hold_for_every_lot_and_every_size_of_test(held, tested):
    from scipy.stats import hypergeom

    terms = Terms(stated_good_share=0.8, needed_good_share=0.5)
    found = [arrived(terms, tested=tested, good=k, bought=30, received=30).action for k in range(tested + 1)]
    chances = hypergeom.pmf(np.arange(tested + 1), 30, held, tested)
    if held >= 24:
        assert sum(p for p, one in zip(chances, found, strict=True) if one is LotAction.CLAIM) <= 0.05 + 1e-8
    if held < 15:
        assert sum(p for p, one in zip(chances, found, strict=True) if one is LotAction.KEEP) <= 0.10 + 1e-8


def test_without_a_needed_share_a_lot_is_kept_where_it_is_as_stated_and_might_have_been_refuted():
    plain = replace(TERMS, needed_good_share=None)
    assert verdict(arrived(plain, tested=10, good=9)) == (LotAction.KEEP, LotReason.AS_STATED)
    assert verdict(arrived(plain, tested=10, good=8)) == (LotAction.CANNOT_SAY, LotReason.TOO_FEW_TESTED)
    # One unit cannot refute four in five.
    modest = replace(plain, stated_good_share=0.8)
    assert verdict(arrived(modest, tested=1, good=1)) == (LotAction.CANNOT_SAY, LotReason.TOO_FEW_TESTED)
    assert arrived(plain, tested=10, good=9).plan is None


def test_a_lot_whose_seller_promised_less_than_is_needed_is_judged_by_what_was_promised():
    poor = replace(TERMS, stated_good_share=0.5)
    assert verdict(arrived(poor, tested=10, good=5)) == (LotAction.KEEP, LotReason.AS_STATED)
    assert verdict(arrived(poor, tested=10, good=1)) == (LotAction.CLAIM, LotReason.WORSE_THAN_STATED)
    assert arrived(poor, tested=10, good=5).needed_p is None


def test_where_the_seller_stated_nothing_there_is_nothing_to_claim():
    silent = replace(TERMS, stated_good_share=None)
    assert verdict(arrived(silent, tested=10, good=2)) == (LotAction.CANNOT_SAY, LotReason.NOTHING_STATED)
    assert verdict(arrived(silent, tested=10, good=9)) == (LotAction.KEEP, LotReason.WORTH_KEEPING)
    advice = arrived(Terms(), tested=10, good=2)
    assert verdict(advice) == (LotAction.CANNOT_SAY, LotReason.NOTHING_STATED)
    assert (advice.stated_p, advice.needed_p, advice.shortfall_count, advice.plan) == (None, None, None, None)
    assert advice.good_count.estimate == 8


def test_a_lot_tested_whole_is_known():
    assert verdict(arrived(tested=40, good=36)) == (LotAction.KEEP, LotReason.WORTH_KEEPING)
    advice = arrived(tested=40, good=35)
    assert verdict(advice) == (LotAction.CLAIM, LotReason.WORSE_THAN_STATED)
    assert advice.shortfall_count == 1


def test_none_tested_says_nothing_of_the_lot_but_counts_what_is_missing():
    advice = arrived(tested=0, good=0, received=37)
    assert verdict(advice) == (LotAction.CANNOT_SAY, LotReason.NONE_TESTED)
    assert advice.good_count.because is Because.NO_ATTEMPTS
    assert (advice.missing_count, advice.missing_claim, advice.missing_because) == (3, 36.0, None)


def test_missing_units_without_a_price_ask_for_one():
    advice = arrived(replace(TERMS, price_per_unit=None), tested=10, good=9, received=37)
    assert (advice.missing_count, advice.missing_claim, advice.missing_because) == (3, None, Because.NOT_GIVEN)
    whole = arrived(replace(TERMS, price_per_unit=None), tested=10, good=9, received=41)
    assert (whole.missing_count, whole.missing_claim, whole.missing_because) == (0, 0.0, None)


def test_a_lot_of_which_nothing_came_is_missing_whole():
    advice = arrived(tested=0, good=0, received=0)
    assert verdict(advice) == (LotAction.CANNOT_SAY, LotReason.NONE_TESTED)
    assert (advice.missing_count, advice.missing_claim, advice.plan) == (40, 480.0, None)


def test_stricter_risks_ask_for_more():
    assert arrived(tested=10, good=7).action is LotAction.CLAIM
    assert arrived(tested=10, good=7, producer_risk=0.01).action is LotAction.CANNOT_SAY
    assert arrived(tested=5, good=4, consumer_risk=0.01).plan.sample_count > arrived(tested=5, good=4).plan.sample_count


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"tested": 3, "good": 4}, "4 good of 3"),
        ({"tested": 41, "good": 4}, "41 units tested of a lot of 40"),
        ({"tested": 1, "good": 0, "received": 0}, "1 units tested of 0 received"),
        ({"tested": 3, "good": 1, "received": 12.5}, "12.5 is not a number of units"),
        ({"tested": 3, "good": 1, "bought": -1}, "-1 is not a number of units"),
        ({"tested": 3, "good": 1, "producer_risk": 0.5}, "A risk of 0.5"),
        ({"tested": 3, "good": 1, "consumer_risk": float("nan")}, "A risk of nan"),
        ({"tested": 3, "good": 1, "terms": replace(TERMS, stated_good_share=80)}, "A share good of 80"),
        ({"tested": 3, "good": 1, "terms": replace(TERMS, needed_good_share=float("nan"))}, "A share good of nan"),
        ({"tested": 3, "good": 1, "terms": replace(TERMS, price_per_unit=-2)}, "A price of -2"),
        ({"tested": 3, "good": 1, "terms": replace(TERMS, value_if_kept=float("inf"))}, "An amount of inf"),
    ],
)
def test_bad_input_is_refused_in_words(change, said):
    with pytest.raises(InputError, match=said):
        arrived(**change)
