"""Planned cleaning as sentences."""

from __future__ import annotations

from collections.abc import Sequence

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, Calendar, CalendarWhy, Clock
from pipelines.wording.costs import cost_words
from pipelines.wording.lots import money_words
from pipelines.wording.verdict import counted, duration_words, level_words, limits_words, reason_words, share_words

_SLOT = {
    7.0: "every week", 14.0: "every 2 weeks", 21.0: "every 3 weeks", 30.4: "every month", 42.0: "every 6 weeks",
    61.0: "every 2 months", 91.0: "every 3 months", 122.0: "every 4 months", 183.0: "twice a year", 365.0: "once a year",
}  # fmt: skip
_VERDICT = {
    Calendar.CLEAN: "clean on a calendar", Calendar.NEVER: "do not clean on a calendar", Calendar.TOO_CLOSE: "too close to call",
}  # fmt: skip
_NEVER = "Do not clean on a calendar: it would buy nothing."
#: Costs are told for so much time.
PER = {Clock.HOURS: (1000.0, "1,000 play hours"), Clock.DAYS: (100.0, "100 days in service")}


def verdict_words(verdict: Calendar) -> str:
    """Return the verdict in a few words."""
    return _VERDICT[verdict]


def slot_words(days: float) -> str:
    """Return 'every 2 weeks' for an interval that people keep."""
    return _SLOT[days]


def days_warning() -> str:
    """Say what is lost where there are no play hours."""
    return (
        "Worked out in days, for lack of play hours: a stick that is played much gets the same date as one that is played "
        "little, so the first is cleaned late and the second early. Split by usage where it is recorded."
    )


def many_warning(*, used: int, of: int) -> str:
    """Say that the smallest groups were left out, and how to learn of them."""
    return (
        f"Worked out for the {used} of {of} groups with the most stretches in service; to learn of the others, split by fewer "
        "columns."
    )


def not_own_line(count: int) -> str:
    """Say how many controllers were left out."""
    return f"Left out: {counted(count, 'controller')} not your own, as sold or not in the register."


def clock_hours_warning(sources: Sequence, fault_costs: Sequence[float]) -> str | None:
    """Say that hours out of use taken from the table of downtime run day and night, and what part of a fault's cost they make.

    sources: `answers.lot_money.Source`; fault_costs: of the groups that have one. None where the hours are not from the record.
    """
    hours = next((one for one in sources if one.name == "downtime_hours" and one.origin == "record"), None)
    if hours is None:
        return None
    per_hour = next((one.amount for one in sources if one.name == "downtime_per_hour"), None)
    share = ""
    if per_hour and fault_costs:
        ends = [share_words(hours.amount * per_hour / cost) for cost in (max(fault_costs), min(fault_costs))]
        share = f", which makes {' to '.join(dict.fromkeys(ends))} of what a fault costs"
    return (
        "Hours out of use come from the table of downtime and are those of the clock, nights and closed days too: "
        f"{hours.amount:,.1f} hours for each fault{share}. Give "
        f"'{cost_words('downtime_hours').lower()}' in hours open for play where that is less."
    )


def asked_for_sentence(names: Sequence[str]) -> str:
    """Say what must be given."""
    return f"Before an interval can be told, give: {'; '.join(cost_words(name).lower() for name in names)}."


def refused_sentence(because: Because, *, failures: int, gaps: int) -> str:
    """Say why nothing can be told."""
    if not gaps:
        return "Nothing to say: no module was watched from its start on this clock."
    seen = f"{failures:,} of {counted(gaps, 'stretch', 'stretches')} in service ended in drift."
    return f"{seen} Whether to clean on a calendar cannot be told: {reason_words(because)}."


def overall_sentence(sentences: Sequence[str], verdicts: Sequence[Calendar | None]) -> str:
    """Return the only sentence, or how many groups have which verdict."""
    if len(set(sentences)) == 1:
        return sentences[0]
    said = [(words, verdicts.count(one)) for one, words in (*_VERDICT.items(), (None, "nothing to tell")) if one in verdicts]
    if len(said) == 1:
        return f"{'Both' if len(sentences) == 2 else f'All {len(sentences)}'} groups: {said[0][0]}."
    return f"{len(sentences)} groups: {', '.join(f'{words} for {count}' for words, count in said)}."


def never_sentence(why: CalendarWhy, most_saving: float) -> str:
    """Say of several groups why a calendar would buy nothing; most_saving: of the best interval of any."""
    if why is CalendarWhy.DEAR_CLEAN:
        return f"{_NEVER} A fault costs no more than a planned clean."
    rise = "Faults do not come so much more often with age that a clean ahead of them pays"
    return f"{_NEVER} {rise}: even the best interval of any of these saves {_at_most(most_saving)}."


def untold_sentence(untold: Because | None, most_saving: float) -> str:
    """Say of several groups why it is too close to call; most_saving: the largest expected of any, were all age given back."""
    return (
        f"Too close to call: how much of the age a clean gives back is not known here ({reason_words(untold)}). If it gave all "
        f"of it back, a calendar would save up to {share_words(max(most_saving, 0.0))} (the table says it of each); if it gave "
        "nothing back, it would only cost the cleans."
    )


def interval_sentence(
    planned, slot, *, clock: Clock, use, costs: dict[str, float], shape: Estimate, level: float,
    untold: Because | None, failures: int, bars: tuple[float, float, int], currency: str | None,
) -> str:  # fmt: skip
    """Say whether to clean on a calendar, and why.

    planned, slot, use: those of the group's record; untold: why no share given back; bars: the chance, the saving and the
    failures that advice needs.
    """
    if planned.verdict is Calendar.CLEAN:
        return " ".join([_when(planned, slot, clock, use), _saves(planned, slot, level), _as_good(planned, clock)])
    if planned.verdict is Calendar.NEVER:
        head = _NEVER
        if planned.why is CalendarWhy.DEAR_CLEAN:
            amounts = (money_words(costs[name], currency) for name in ("planned", "fault"))
            return f"{head} A planned clean costs {{}}, a fault no more than that: {{}}.".format(*amounts)
        rise = f"Faults do not come so much more often with age (shape {_shape(shape)}) that a clean ahead of them pays"
        most = f"even the best interval saves {_at_most(planned.most_saving)}"
        best_case = ", were a clean to give all of the age back" if planned.is_best_case else ""
        return f"{head} {rise}: {most}{best_case}."
    return f"Too close to call: {_doubt(planned, slot, clock, level, untold, failures, bars)}"


def _doubt(
    planned, slot, clock: Clock, level: float, untold: Because | None, failures: int, bars: tuple[float, float, int]
) -> str:  # fmt: skip
    least_chance, least_saving, least_failures = bars
    guess = _guess(planned, slot, clock, level)
    if planned.why is CalendarWhy.RESTORATION_UNTOLD:
        least = "If it gave nothing back, a calendar would only cost the cleans."
        return f"how much of the age a clean gives back is not known here ({reason_words(untold)}). {guess} {least}"
    if planned.why is CalendarWhy.TOO_FEW_FAILURES:
        return f"{counted(failures, 'failure')} tell too little, {least_failures} are needed to advise a calendar. {guess}"
    if planned.why is CalendarWhy.UNSURE:
        chance = chance_words(planned.saves_chance)
        return f"the chance that a calendar saves anything is {chance}, under {share_words(least_chance)}. {guess}"
    return f"a calendar saves too little to be worth keeping, under {share_words(least_saving)} expected. {guess}"


def _guess(planned, slot, clock: Clock, level: float) -> str:
    if planned.interval is None:
        return "By the best guess waiting for faults costs least."
    said = f"{duration_words(planned.interval, clock)} after the last clean"
    when = f"{slot_words(slot.days)} ({said})" if slot is not None and slot.is_as_good else said
    if planned.is_best_case:
        return f"If it gave all of it back, cleaning {when} would save {share_words(max(planned.saving.estimate, 0.0))}."
    return (
        f"The best guess is to clean {when}, which saves {signed_share(planned.saving.estimate)} ({level_words(level)} interval "
        f"{limits_words(planned.saving.low, planned.saving.high, signed_share)})."
    )


def _when(planned, slot, clock: Clock, use) -> str:
    best = f"{duration_words(planned.interval, clock)} after its last clean"
    if slot is None or not slot.is_as_good:
        if clock is Clock.HOURS and use.median_h:
            best = f"{best}, about {_weeks(7 * planned.interval / use.median_h)} at the usual {use.median_h:,.0f} h a week"
        return f"Clean each stick {best}."
    if clock is Clock.DAYS:
        return f"Clean each stick {slot_words(slot.days)} after its last clean."
    return (
        f"Clean each stick {slot_words(slot.days)} after its last clean: {duration_words(slot.interval, clock)} at the usual "
        f"{use.median_h:,.0f} h a week; where it is played much after {_weeks(slot.low_days)}, where little after "
        f"{_weeks(slot.high_days)}."
    )


def _weeks(days: float) -> str:
    weeks = days / 7
    return f"{days:,.0f} days" if weeks < 2 else f"{weeks:,.0f} weeks"


def _saves(planned, slot, level: float) -> str:
    saving = slot.saving if slot is not None and slot.is_as_good else planned.saving
    return (
        f"It saves {share_words(saving.estimate)} of what waiting for faults costs ({level_words(level)} interval "
        f"{limits_words(saving.low, saving.high, signed_share)}); that it saves "
        f"anything at all has a chance of {chance_words(planned.saves_chance)}."
    )


def _as_good(planned, clock: Clock) -> str:
    low, high = planned.as_good
    edge = " Shorter ones were not looked at; check what a planned clean costs." if planned.is_edge else ""
    return f"Anything from {duration_words(low, clock)} to {duration_words(high, clock)} is about as good.{edge}"


def chance_words(chance: float) -> str:
    """Return a chance that so many draws tell of: never none, never sure."""
    return share_words(min(max(chance, 0.001), 0.999))


def signed_share(share: float) -> str:
    """Return '21 %' or '−4 %' of what may be a loss."""
    rounded = round(share, 2)
    return share_words(share) if rounded > 0 else f"\u2212{share_words(-rounded)}" if rounded else share_words(0)


def _at_most(share: float) -> str:
    return f"at most {share_words(share)}" if share >= 0.005 else "next to nothing"


def _shape(shape: Estimate) -> str:
    return f"{shape.estimate:.2f}, {shape.low:.2f} to {shape.high:.2f}"
