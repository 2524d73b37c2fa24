"""Lives of sticks that share a controller or a site, as sentences. Each function takes a part of the record."""

from __future__ import annotations

from pipelines.vocabulary import Because, Clock
from pipelines.wording.estimate import number_words, time_words
from pipelines.wording.verdict import counted, few_sites_words, level_words, limits_words, reason_words, sites_words

#: Limits by controller are worth a word from this design effect on.
SHARED = 1.2


def controllers_sentence(part, clock: Clock) -> str:
    """Say whether the sticks of a controller share their fate, and the limits that allow for it."""
    if part.because is not None:
        return f"{counted(part.controllers, 'controller')}: {reason_words(part.because)}."
    if part.design_effect is None:
        return f"{counted(part.controllers, 'controller')}: whether their sticks share a fate cannot be told."
    read = part.median if part.median is not None and part.median.estimate is not None else part.b10
    what = "half" if read is part.median else "one in ten"
    limits = f"{what} by {time_words(read, clock)}" if read is not None else ""
    if part.design_effect > SHARED:
        return (
            f"The sticks of one controller share their fate (limits {part.design_effect**0.5:.1f} times as wide, from "
            f"{counted(part.controllers, 'controller')}): {limits}."
        )
    return f"Counted by controller ({counted(part.controllers, 'controller')}) the limits stay about as wide: {limits}."


def sites_sentence(part, clock: Clock) -> str:
    """Say how sure lives are if sites differ, and what few sites cannot tell."""
    if part.because is not None:
        return f"Limits by site are not given ({sites_words(part.sites)}): {reason_words(part.because)}."
    read = part.median if part.median.estimate is not None else part.b10
    what = "half" if read is part.median else "one in ten"
    fit = f" {cluster_fit_sentence(part.weibull, 'site', clock)}" if part.weibull and part.weibull.because is None else ""
    return f"Counted by site ({sites_words(part.sites)}), {what} by {time_words(read, clock)}.{fit}{few_sites_words(part.sites)}"


def cluster_fit_sentence(part, cluster: str, clock: Clock) -> str:
    """Say what the limits of a Weibull fit are by cluster (controller or site), and what sharing one does to them."""
    if part.because is not None:
        return f"A Weibull law with limits by {cluster} is not given: {reason_words(part.because)}."
    shape = number_words(part.shape)
    sharing = ""
    if part.width_ratio is not None:
        ratio = f"{part.width_ratio:.1f}"
        wide = "as wide" if ratio == "1.0" else f"{ratio} times as wide"
        sharing = f"; limits about {wide} as if sticks were independent"
    return (
        f"A Weibull law with limits by {cluster}: shape {shape}, one in ten by {time_words(part.b10, clock)}, half by "
        f"{time_words(part.median, clock)}{sharing}."
    )


def frailty_sentence(part, level: float) -> str:
    """Say how much controllers differ, and what that hides."""
    if part.because is Because.FIT_FAILED:
        return "How much controllers differ cannot be told: no fit of a factor that their sticks share settles."
    if part.because is not None:
        return f"How much controllers differ is not given: {reason_words(part.because)}."
    if not part.variance.low:
        most = "" if part.variance.high is None else f", {level_words(level)} interval at most {part.variance.high:.2f}"
        return f"Controllers are not shown to differ from each other (variance {part.variance.estimate:.2f}{most})."
    limits = limits_words(part.variance.low, part.variance.high, lambda one: f"{one:.2f}")
    shape, ignoring = part.shape.estimate, part.shape_ignoring.estimate
    hidden = (
        f"; allowing for it lifts the Weibull shape from {ignoring:.2f} to {shape:.2f} (failures put at the middle of their "
        "interval)"
        if shape and ignoring and shape > ignoring else ""
    )  # fmt: skip
    return (
        f"Some controllers wear their sticks faster than others (variance {part.variance.estimate:.2f}, {level_words(level)} "
        f"interval {limits}){hidden}."
    )
