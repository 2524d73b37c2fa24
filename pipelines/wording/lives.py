"""What the heavier estimates of lives say of a group and of a whole answer, as `answers/detail.py` names their parts."""

from __future__ import annotations

from pipelines.vocabulary import Clock
from pipelines.wording.between import dated_sentence, dating_sentence, interval_sentence
from pipelines.wording.clock import clock_sentence
from pipelines.wording.clusters import cluster_fit_sentence, controllers_sentence, frailty_sentence, sites_sentence
from pipelines.wording.estimate import times_words
from pipelines.wording.laws import assumed_sentence, laws_sentence
from pipelines.wording.mechanisms import mechanism_tests_sentence, mechanisms_sentence
from pipelines.wording.pooling import (
    common_shape_sentence,
    doubt_words,
    is_doubtful,
    place_words,
    pooled_doubt_sentence,
    pooled_sentence,
)

#: A B10 that another law moves by less than this share is not worth a word in the verdict.
MOVES = 0.10


def group_clause(group, common, *, ranked: int) -> str:
    """Return the one thing that matters most beside the verdict of a group, or nothing. ranked: groups with a rank."""
    laws, pooled = group.laws, group.pooled
    if laws is not None and laws.better == "lognormal" and laws.b10_ratio is not None and abs(laws.b10_ratio - 1) > MOVES:
        return f"A lognormal law fits clearly better than a Weibull, and puts one in ten {times_words(laws.b10_ratio)}."
    if pooled is not None and pooled.place.rank is not None and common is not None and not is_doubtful(common):
        return f"Judged with the other groups: {place_words(pooled.place, ranked)}."
    return ""


def group_sentences(group, common, clock: Clock, level: float, *, ranked: int) -> list[str]:
    """Return what the heavier parts of a group say, those that it has.

    common: the answer's common shape, or None; ranked: groups of the answer with a rank.
    """
    failures = group.counts["failures"]
    parts = (
        (group.laws, lambda one: laws_sentence(one, clock)),
        (group.assumed_shape, lambda one: assumed_sentence(one, clock, level, failures)),
        (group.dating, dating_sentence),
        (group.interval_curve, lambda one: interval_sentence(one, clock)),
        (group.by_mechanism, mechanisms_sentence),
        (group.pooled, lambda one: pooled_sentence(one, clock, ranked=ranked, doubt=doubt_words(group, common))),
        (group.by_controller, lambda one: controllers_sentence(one, clock)),
        (group.by_controller and group.by_controller.weibull, lambda one: cluster_fit_sentence(one, "controller", clock)),
        (group.by_site, lambda one: sites_sentence(one, clock)),
        (group.frailty, lambda one: frailty_sentence(one, level)),
    )
    return [say(part) for part, say in parts if part]


def answer_sentences(answer) -> list[str]:
    """Return what the heavier parts of the whole answer say, those that it has."""
    parts = (
        (answer.common_shape, lambda one: common_shape_sentence(one, Clock(answer.clock))),
        (answer.mechanism_tests, lambda one: mechanism_tests_sentence(one, answer.level)),
        (answer.clock_question, lambda one: clock_sentence(one, answer.level)),
    )
    groups = [one for one in answer.groups if hasattr(one, "laws")]  # those of lives
    said = [dated_sentence(groups), pooled_doubt_sentence(groups)]
    return [*(say(part) for part, say in parts if part), *(one for one in said if one)]
