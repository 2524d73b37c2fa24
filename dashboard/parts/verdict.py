"""The sentence at the top of a screen, and which group stands out."""

from __future__ import annotations

from dashboard.parts import text
from pipelines.answers.record import Answer, CleaningGroup, LifeGroup
from pipelines.decisions.standing_out import Rated, StandingOut, standing_out
from pipelines.vocabulary import Clock
from pipelines.wording import standing_out as words
from pipelines.wording.label import label

#: Fewer failures than this make a lifetime too wide to rank.
LEAST_FAILURES = 10


def verdict(answer: Answer) -> None:
    """Show what the answer says, then its warnings."""
    text.lead(sentence(answer))
    warnings(answer)


def warnings(answer: Answer) -> None:
    """Show what to mind in an answer."""
    for warning in answer.warnings:
        text.note(warning)


def sentence(answer: Answer) -> str:
    """Return the answer's own sentence, or for several groups the contrast between them."""
    if len(answer.groups) < 2 or all(group.because for group in answer.groups):
        return answer.sentence
    return contrast(answer) or answer.sentence


def contrast(answer: Answer) -> str:
    """Say which groups stand at the two ends, and whether their intervals are apart."""
    if answer.groups and isinstance(answer.groups[0], CleaningGroup):
        found = ends(answer)
        if found.highest and found.lowest:
            return words.cleaning_contrast(_named(found.highest), _named(found.lowest), is_apart=found.is_apart)
        return words.cannot_compare(compared=found.compared_count, too_small=found.too_small_count)
    measure, found = lived(answer.groups)
    if found.highest and found.lowest:
        return words.life_contrast(
            _named(found.highest), _named(found.lowest), clock=Clock(answer.clock), measure=measure, is_apart=found.is_apart
        )
    return words.cannot_compare(compared=found.compared_count, too_small=found.too_small_count)


def ends(answer: Answer) -> StandingOut:
    """Return the groups for whom cleaning passes most and least often the same day."""
    return standing_out(_cleaned(answer.groups))


def lived(groups: list[LifeGroup]) -> tuple[str, StandingOut]:
    """Compare by the median, or by B10 where some group's median is not reached; return which, and the two ends."""
    large = [group for group in groups if group.counts["failures"] >= LEAST_FAILURES]
    name, measure = ("median", "half drift by")
    if any(group.curve_quantiles["median"].estimate is None for group in large):
        name, measure = ("b10", "one in ten drift by")
    rated = []
    for group in groups:
        one = group.curve_quantiles[name] if group.curve_quantiles else None
        if one is not None and one.estimate is not None:
            rated.append(Rated(label(group.by), one.estimate, one.low, one.high, group.counts["failures"]))
    return measure, standing_out(rated, least=LEAST_FAILURES)


def _cleaned(groups: list[CleaningGroup]) -> list[Rated]:
    return [
        Rated(label(group.by), group.same_day.share, group.same_day.low, group.same_day.high, group.same_day.n)
        for group in groups
        if group.same_day.share is not None
    ]


def _named(one: Rated) -> words.Named:
    return (one.name, one.estimate, one.low, one.high, one.count)
