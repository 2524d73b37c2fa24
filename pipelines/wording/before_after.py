"""Before and after a programme, as sentences."""

from __future__ import annotations

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Clock
from pipelines.wording.change import against_words, change_limits, change_words, exposure_words, rate_words, watched_words
from pipelines.wording.verdict import counted, level_words, reason_words, share_words

#: Units whose rate was over that of the others by this factor look as if they were chosen for it.
MUCH_WORSE = 1.2
#: A fall by chance of less than this is not worth a sentence.
_SMALL = 0.02


def sentence(*, case, verdict: str, watched, others, fair, clock: Clock, level: float, mean_counts, left_out) -> str:
    """Say whether there are fewer faults, by how much, and on what that rests. The arguments are parts of the record."""
    if not watched.units:
        return "Cannot tell: no controller of the programme was watched both before and after its start."
    parts = [_head(case, verdict, fair, level), _rates(watched, case, clock)]
    if fair.ratio.estimate is not None and fair.ratio != watched.ratio:
        plain = "" if watched.ratio.estimate is None else f"; the plain change is {change_words(watched.ratio.estimate)}"
        parts.append(f"Expected is what they had before{_taken_off(fair)}{plain}.")
    if verdict == "not_shown":
        parts.append(f"Had faults halved, {_power_words(fair.halving_power)} of such comparisons would have shown it.")
    return " ".join(part for part in parts if part)


def _head(case, verdict: str, fair, level: float) -> str:
    since = f"since {case.start}"
    if fair.ratio.high is None and fair.ratio.low is None:
        return f"Cannot tell whether there are fewer faults {since}: {reason_words(fair.ratio.because)}."
    change = _change(fair.ratio, level)
    if verdict == "fewer":
        return f"Fewer faults {since}: {change}."
    if verdict == "more":
        return f"More faults {since}: {change}."
    if verdict == "not_shown":
        return f"Faults are not shown to differ {since}: {change}."
    power = _power_words(fair.halving_power)
    return (
        f"Cannot tell, too little was watched: {change}. Had faults halved, only {power} of such comparisons would have shown it."
    )


def _change(ratio: Estimate, level: float) -> str:
    limits = f"{level_words(level)} interval {change_limits(ratio)}"
    if ratio.estimate is None:
        return f"none on one side (against what is expected, {limits})"
    return f"{against_words(ratio.estimate, 'expected')} ({limits})"


def _power_words(power: float) -> str:
    return share_words(min(power, 0.999))  # (nothing is ever quite sure to be shown)


def _taken_off(fair) -> str:
    """Return what is taken off the plain comparison."""
    parts = []
    if fair.shrunk_share is not None:
        less = share_words(abs(fair.shrunk_share))
        parts.append(f"less the {less} by which such units fall by chance alone" if fair.shrunk_share > 0 else
                     f"plus the {less} by which such units rise by chance alone")  # fmt: skip
    if fair.others_change is not None:
        parts.append(f"changed as the others were ({change_words(fair.others_change)})")
    return f", {' and '.join(parts)}" if parts else ""


def _rates(watched, case, clock: Clock) -> str:
    sides = (("No fault", watched.after), ("none", watched.before))
    after, before = (rate_words(one.rate.estimate) if one.faults else nothing for nothing, one in sides)
    return (
        f"{after} for {exposure_words(clock)} in the {counted(case.span_days, 'day')} after, {before} in as many days before, "
        f"on the same {counted(watched.units, 'controller')} ({watched_words(watched.after.exposure, clock)} after, "
        f"{watched_words(watched.before.exposure, clock)} before)."
    )


def warnings(
    *, case, verdict: str, watched, others, fair, mean_counts, left_out, clock: Clock, level: float, known_share: float,
    quiet_lag_days: int
) -> list[str]:  # fmt: skip
    """Say what to mind: who was chosen, what there is to compare with, and what was left out."""
    said = []
    if case.unknown:
        named = ", ".join(case.unknown[:5]) + (" …" if len(case.unknown) > 5 else "")
        were = "was" if len(case.unknown) == 1 else "were"
        said.append(f"Of the controllers named {len(case.unknown):,} {were} not among the log's own in that time: {named}.")
    if clock is Clock.DAYS:
        said.append(
            f"Counted in days: play hours are known for only {share_words(known_share)} of the watched days. Controllers "
            "played more than before look worse, and those played less look better."
        )
    said += _chosen(case, watched, others, fair)
    if left_out["one_side_only"]:
        said.append(f"Left out: {counted(left_out['one_side_only'], 'controller')} of the programme watched on one side only.")
    if left_out["faults_without_hours"]:
        said.append(f"Left out with their time: {counted(left_out['faults_without_hours'], 'fault')} outside the meter readings.")
    return said


def _chosen(case, watched, others, fair) -> list[str]:
    """Say what the choice of units does to the comparison: regression to the mean, and what is not taken off."""
    if not watched.units:
        return []
    if others is None:
        return [
            "There is nothing to compare with: whatever else changed on that day, the season and the age of the sticks look "
            "just the same. If it began because of a bad spell, part of any fall is chance (regression to the mean)."
        ]
    said = []
    mine, theirs = watched.before.rate.estimate, others.before.rate.estimate
    is_worse = mine is not None and theirs is not None and mine > MUCH_WORSE * theirs
    if fair.shrunk_share is not None and abs(fair.shrunk_share) >= _SMALL:
        way = "fall" if fair.shrunk_share > 0 else "rise"
        said.append(
            f"Before, these units had {rate_words(mine)}, the others {rate_words(theirs)}. Units picked so far off the others "
            f"{way} by about {share_words(abs(fair.shrunk_share))} by themselves (regression to the mean); that is taken off."
        )
    elif fair.shrunk_share is None and is_worse:
        said.append(
            f"Before, they had {rate_words(mine)}, the others {rate_words(theirs)}. If they were chosen for a bad spell, part "
            "of the fall is chance (regression to the mean), which cannot be taken off for a whole site or family."
        )
    if fair.others_change is None:
        said.append("Too few others were watched on both sides to take off what changed for all.")
    elif case.units is None:
        said.append("Whatever else changed for these on that day and not for the others looks just the same.")
    return said


def mean_count_sentence(counts, clock: Clock | str, level: float) -> str:
    """Say how the mean number of faults of a controller differs by the end of what both sides share."""
    gap = counts.difference
    if gap.estimate is None:
        return ""
    span = f"{counts.compared_at:,.0f} {'play hours' if clock == Clock.HOURS else 'days'}"
    more = "more" if gap.estimate > 0 else "fewer"
    low, high = sorted((abs(gap.low), abs(gap.high)))
    limits = (
        f"{low:.2f} to {high:.2f} {more}" if counts.is_shown else f"{-gap.low:.2f} fewer to {gap.high:.2f} more"
    )  # fmt: skip
    shown = "" if counts.is_shown else ", so no difference is shown"
    return (
        f"Over {span} from the start of each side a controller had {abs(gap.estimate):.2f} {more} faults after than before "
        f"({level_words(level)} interval {limits}{shown}). This is the plain count: neither what changed for "
        "the others nor chance (regression to the mean) is taken off it."
    )
