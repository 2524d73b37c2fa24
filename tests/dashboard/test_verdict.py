"""The sentence at the top says what stands out, or why nothing does."""

from dashboard.parts import verdict
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because
from tests.charts.answers import answer, cleaning_group, life_group


def sentence(said) -> str:
    """The sentence with ordinary spaces: the one before % must not break, and looks alike in a test."""
    return verdict.sentence(said).replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")


def cleaning(*groups):
    return answer(list(groups), question="cleaning-success", clock="days")


def test_one_group_speaks_for_itself():
    assert sentence(cleaning(cleaning_group({"family": "A"}, k=3, n=9))) == "As the groups say."


def test_families_apart_are_named_with_their_counts():
    said = sentence(cleaning(
        cleaning_group({"family": "Corvath"}, k=20, n=100, low=0.13, high=0.29),
        cleaning_group({"family": "Dunmarl"}, k=60, n=100, low=0.5, high=0.69),
    ))  # fmt: skip
    assert said == (
        "Cleaning passes clearly most often for Dunmarl (60 % of 100 attempts; 50 to 69 %), least often for Corvath "
        "(20 % of 100 attempts; 13 to 29 %)."
    )


def test_overlapping_families_are_not_ranked():
    said = sentence(cleaning(
        cleaning_group({"family": "Corvath"}, k=4, n=10, low=0.17, high=0.69),
        cleaning_group({"family": "Dunmarl"}, k=6, n=10, low=0.31, high=0.83),
    ))  # fmt: skip
    assert said == (
        "Passed the same day: 40 % (Corvath) to 60 % (Dunmarl), but their intervals overlap: no one clearly stands out."
    )


def test_groups_too_small_are_not_ranked():
    said = sentence(cleaning(cleaning_group({"family": "A"}, k=1, n=2), cleaning_group({"family": "B"}, k=0, n=3)))
    assert said == "Too few to compare: 2 groups with too little behind them."


def test_lifetimes_compare_by_the_median_when_all_reach_it():
    said = sentence(answer([
        life_group("Corvath", median=Estimate(200.0, 150.0, 250.0)),
        life_group("Hobbrel", median=Estimate(800.0, 600.0, None, Because.LIMIT_NOT_REACHED)),
    ]))  # fmt: skip
    assert said == (
        "Clearly shortest is Corvath: half drift by 200 play hours (150 to 250 play hours; 12 failures). Longest is Hobbrel: "
        "half drift by 800 play hours (at least 600 play hours; 12 failures)."
    )


def test_lifetimes_compare_by_b10_when_a_median_is_not_reached():
    said = sentence(answer([
        life_group("Corvath", median=Estimate(200.0, 150.0, 250.0)),
        life_group("Hobbrel", median=Estimate.refused(Because.NOT_REACHED)),
    ]))  # fmt: skip
    assert said.startswith("One in ten drift by 100 play hours")


def test_a_group_of_hardly_any_failures_does_not_move_the_comparison_to_b10():
    said = sentence(answer([
        life_group("Corvath", median=Estimate(200.0, 150.0, 250.0)),
        life_group("Dunmarl", median=Estimate(300.0, 260.0, 350.0)),
        life_group("Rare", failures=1, median=Estimate.refused(Because.NOT_REACHED)),
    ]))  # fmt: skip
    assert said.startswith("Clearly shortest is Corvath: half drift by")
