"""The heavier estimates of cleaning success as sentences. Each function takes a part of the record and may return ""."""

from __future__ import annotations

from pipelines.vocabulary import Because
from pipelines.wording.estimate import interval_words
from pipelines.wording.verdict import counted, few_sites_words, limits_words, reason_words, share_words, sites_words

#: From this on attempts on one controller are said to go alike: limits a tenth too narrow.
DESIGN_EFFECT = 1.2


def with_tried(sentence: str, standardised) -> str:
    """Add to a group's sentence for whom it holds. standardised: the record's part, or None."""
    if standardised is None or not standardised.tried:
        return sentence
    return f"{sentence} Of sticks that were tried: {share_words(standardised.tried_share)} of all found bad."


def group_sentences(group, group_count: int) -> list[str]:
    """Return what the heavier parts of a group of cleaning success say, those that it has."""
    said = (
        standardised_words(group.standardised),
        pooled_words(group.pooled, group_count, is_followed=group.durable.n_effective is not None),
        by_controller_words(group.by_controller, group.same_day.n),
        by_site_words(group.by_site),
    )
    return [one for one in said if one]


def standardised_words(standardised) -> str:
    """Say what cleaning would have done had all sticks found bad been cleaned."""
    if standardised is None:
        return ""
    if standardised.tried == standardised.failures:
        return ""
    tried = f"{standardised.tried:,} of {standardised.failures:,} sticks found bad were cleaned at that visit."
    if standardised.because is not None:
        return f"{tried} Had all been, how many would have passed cannot be told: {reason_words(standardised.because)}."
    one, lowest = standardised.standardised, standardised.lowest
    return (
        f"{tried} Had all been, about {share_words(one.estimate)} would have passed at the first clean "
        f"({limits_words(one.low, one.high, share_words)} by chance alone), if those not tried were like those of the same "
        f"severity that were; {share_words(lowest.estimate)} if none of them had passed."
    )


def pooled_words(pooled, group_count: int, *, is_followed: bool = True) -> str:
    """Say what a group shows together with the others. is_followed: some of its own attempts were, to the horizon."""
    if pooled is None:
        return ""
    if pooled.because is not None:
        return f"Judged together with the other groups, nothing can be said: {reason_words(pooled.because)}."
    parts = [f"{interval_words(pooled.same_day)} passed the same day"]
    if pooled.durable.estimate is not None:
        parts.append(
            f"{interval_words(pooled.durable)} still good at the horizon" + ("" if is_followed else ", told by the others")
        )
    return f"Judged together with the other groups: {'; '.join(parts)}{_place_words(pooled.place, group_count)}."


def by_controller_words(by_controller, attempts: int) -> str:
    """Say so where the attempts on one controller go alike, or may, so that the plain interval is too narrow."""
    if by_controller is None or by_controller.controllers == attempts:
        return ""
    controllers = counted(by_controller.controllers, "controller")
    if by_controller.because is Because.TOO_FEW_CLUSTERS:
        return f"All were on {controllers}, so how far they go alike cannot be told: take the interval as too narrow."
    if by_controller.design_effect is None or by_controller.design_effect <= DESIGN_EFFECT:
        return ""
    share = by_controller.share
    return (
        f"Attempts on one controller go alike here ({controllers}), so the interval above is too narrow: counted by "
        f"controller it is {limits_words(share.low, share.high, share_words)}."
    )


def by_site_words(by_site) -> str:
    """Say how sure the share is if sites differ, and what few sites cannot tell."""
    if by_site is None:
        return ""
    sites, share = sites_words(by_site.sites), by_site.share
    if by_site.because is not None:
        return f"Limits by site are not given ({sites}): {reason_words(by_site.because)}."
    said = f"Counted by site ({sites}) the interval is {limits_words(share.low, share.high, share_words)}."
    return f"{said}{few_sites_words(by_site.sites)}"


def _place_words(place, group_count: int) -> str:
    if place.low is None or place.high is None:
        return ""
    return f"; rank {place.low}{'' if place.low == place.high else f' to {place.high}'} of {group_count:,} by the same day"
