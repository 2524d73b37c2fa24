"""The heavier estimates of cleaning success in words: what is said, and what is rather not."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from pipelines.answers.detail import ByController, BySite, Place, PooledShare, Standardised
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because
from pipelines.wording import cleans

SURE = Estimate(0.58, 0.54, 0.62)
LOW = Estimate(0.4, 0.36, 0.44)
ALL = Standardised(None, 1000, 620, 0.62, SURE, LOW, 0.0)


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_a_sentence_says_for_whom_it_holds():
    assert plain(cleans.with_tried("It works.", ALL)) == "It works. Of sticks that were tried: 62 % of all found bad."


@pytest.mark.parametrize("part", [None, Standardised(Because.NO_ATTEMPTS, 3, 0, 0.0, LOW, LOW, None)])
def test_a_sentence_stays_as_it_is_where_that_is_not_known(part):
    assert cleans.with_tried("It works.", part) == "It works."


def test_had_all_been_cleaned_is_said_with_what_it_hangs_on_and_the_lowest():
    said = plain(cleans.standardised_words(ALL))
    assert said.startswith("620 of 1,000 sticks found bad were cleaned at that visit. Had all been, about 58 % would have passed")
    assert "(54 to 62 % by chance alone)" in said
    assert "same severity" in said
    assert said.endswith("40 % if none of them had passed.")
    refused = Estimate.refused(Because.UNTRIED_BANDS)
    said = cleans.standardised_words(Standardised(Because.UNTRIED_BANDS, 9, 3, 1 / 3, refused, refused, 0.5))
    assert said.endswith("cannot be told: too many of its faults are of a severity that was never cleaned.")


def test_where_all_were_cleaned_there_is_nothing_to_suppose():
    assert cleans.standardised_words(Standardised(None, 14, 14, 1.0, SURE, SURE, 0.0)) == ""


def test_what_groups_borrow_is_said_with_the_rank():
    pooled = PooledShare(None, SURE, LOW, Place(3, 2, 6, 0.1))
    assert plain(cleans.pooled_words(pooled, 12)) == (
        "Judged together with the other groups: 58 % (54 to 62 %) passed the same day; 40 % (36 to 44 %) still good at the "
        "horizon; rank 2 to 6 of 12 by the same day."
    )
    assert "told by the others" in cleans.pooled_words(pooled, 12, is_followed=False)
    first = PooledShare(None, SURE, Estimate.refused(Because.CLOCK_REFUSED), Place(1, 1, 1, 0.99))
    said = cleans.pooled_words(first, 12)
    assert "still good" not in said
    assert said.endswith("rank 1 of 12 by the same day.")
    assert "rank" not in cleans.pooled_words(PooledShare(None, SURE, LOW, Place(None, None, None, None)), 2)


def test_attempts_that_go_alike_are_said_from_a_design_effect_of_more_than_1_2():
    part = ByController(None, 90, 1.21, share=Estimate(0.5, 0.4, 0.6))
    said = plain(cleans.by_controller_words(part, 150))
    assert "go alike here (90 controllers)" in said
    assert said.endswith("too narrow: counted by controller it is 40 to 60 %.")
    assert cleans.by_controller_words(ByController(None, 90, 1.2, share=part.share), 150) == ""
    assert cleans.by_controller_words(ByController(None, 90, None, share=part.share), 150) == ""


def test_few_controllers_are_only_worth_a_word_where_some_were_tried_more_than_once():
    few = ByController(Because.TOO_FEW_CLUSTERS, 2, None, share=Estimate(0.5, None, None, Because.TOO_FEW_CLUSTERS))
    assert "All were on 2 controllers" in cleans.by_controller_words(few, 5)
    assert cleans.by_controller_words(few, 2) == ""


def test_a_group_says_what_it_has():
    base = {"durable": SimpleNamespace(n_effective=None), "same_day": SimpleNamespace(n=5)}
    base |= dict.fromkeys(("standardised", "by_controller", "by_site"))
    assert cleans.group_sentences(SimpleNamespace(pooled=None, **base), 1) == []
    pooled = PooledShare(None, SURE, LOW, Place(3, 2, 6, 0.1))
    (said,) = cleans.group_sentences(SimpleNamespace(pooled=pooled, **base), 12)
    assert "told by the others" in said


def test_limits_by_site_say_for_whom_they_hold():
    part = BySite(None, 6, 2.1, share=Estimate(0.5, 0.3, 0.7))
    said = plain(cleans.by_site_words(part))
    assert said == (
        "Counted by site (6 sites) the interval is 30 to 70 %. So few sites cannot tell of a site that is not among them."
    )
    assert plain(cleans.by_site_words(replace(part, sites=10))).endswith("30 to 70 %.")
    few = BySite(Because.TOO_FEW_CLUSTERS, 0, None, share=Estimate.refused(Because.TOO_FEW_CLUSTERS))
    assert cleans.by_site_words(few).startswith("Limits by site are not given (no site is recorded): too few")
    assert cleans.by_site_words(None) == ""
