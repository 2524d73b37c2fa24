"""A planned study as sentences: how many modules and how long, what it rests on, and tests that show a life."""

from __future__ import annotations

from collections.abc import Sequence

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, Clock
from pipelines.wording.label import label
from pipelines.wording.verdict import counted, duration_words, level_words, limits_words, reason_words, share_words

#: The study that is told of where no length and no number of modules was asked for.
USUAL_MONTHS = 12
#: A record of fewer failures tells the law of the others only roughly.
FEW_FAILURES = 30


def months_words(months: float) -> str:
    """Return '12 months' or '7.5 months'."""
    return f"{months:.0f} month{'' if months == 1 else 's'}" if months == int(months) else f"{months:.1f} months"


def modules_words(count: Estimate) -> str:
    """Return '191 modules (158 to 240)', or without what is not known."""
    if count.low is None:
        return f"{count.estimate:,.0f} modules"
    return f"{count.estimate:,.0f} modules ({limits_words(count.low, count.high, lambda value: f'{value:,.0f}')})"


def times_words(ratio: float) -> str:
    """Return '1.5 times'."""
    return f"{ratio:g} times"


def whole_sentence(groups: Sequence, because: Because | None, refusal: str) -> str:
    """Return the sentence of the only group, or which group needs most and fewest modules."""
    if refusal or because is not None:
        return refusal or f"No study can be planned from this log: {reason_words(because)}."
    if len(groups) == 1:
        return groups[0].sentence
    told = [(one.ratios[-1].wanted or _usual(one.ratios[-1]), one) for one in groups if one.because is None]
    told = sorted(((size, one) for size, one in told if size is not None), key=lambda pair: pair[0].modules.estimate)
    if len(told) < 2:
        return f"{counted(len(groups), 'group')}, each with its own plan below."
    (least, first), (most, last) = told[0], told[-1]
    return (
        f"To see a batch that fails {times_words(first.ratios[-1].ratio)} as often in {months_words(least.months)} takes "
        f"{modules_words(least.modules)} for {label(first.by)}, up to {modules_words(most.modules)} for {label(last.by)}."
    )


def group_sentence(group, case, clock: Clock, level: float) -> str:
    """Say what it takes to show each ratio, and how many failures that rests on."""
    if group.because is not None:
        return f"No study can be planned: {reason_words(group.because)}."
    return " ".join(
        [*(_ratio_sentence(plan, case, level, is_first=not place) for place, plan in enumerate(reversed(group.ratios))),
         _law(group, clock)]
    )  # fmt: skip


def _ratio_sentence(plan, case, level: float, *, is_first: bool) -> str:
    batch = f"a batch that fails {times_words(plan.ratio)} as often as the others"
    if case.modules is not None and case.months is not None:
        chance = plan.shown_chance
        return (
            f"{counted(case.modules, 'module')} in {months_words(case.months)} show {batch} with a chance of "
            f"{share_words(chance.estimate)} ({limits_words(chance.low, chance.high, share_words)})."
        )
    if case.modules is not None:
        long = "more than 48 months" if plan.needed_months is None else months_words(round(plan.needed_months, 1))
        return f"With {counted(case.modules, 'module')} it takes {long} to see {batch}."
    size = plan.wanted or _usual(plan)
    if size is None:
        return f"No study of up to 48 months with up to 100,000 modules shows {batch}."
    in_time = f"in {months_words(size.months)}"
    new = f"{size.new_modules:,} of them of that batch"
    if is_first:
        limits = "" if size.modules.low is None else f" ({level_words(level)} interval of what the record leaves open)"
        return (
            f"To see {batch}, with a chance of {share_words(case.power)}, takes {modules_words(size.modules)} {in_time}, {new}: "
            f"about {size.batch_failures + size.other_failures:,.0f} failures{limits}. Were it known for sure how the others "
            f"fail, it would take a batch of which {plan.if_known:,} failures are expected."
        )
    return (
        f"For {times_words(plan.ratio)} as often it takes {modules_words(size.modules)} {in_time}, {new}: about "
        f"{size.batch_failures + size.other_failures:,.0f} failures."
    )


def _usual(plan):
    return next((one for one in plan.sizes if one.months >= USUAL_MONTHS), plan.sizes[-1] if plan.sizes else None)


def _law(group, clock: Clock) -> str:
    b10 = group.b10

    def time(value: float) -> str:
        return duration_words(value, clock)

    return (
        f"The others are taken to fail as the record has it: {group.counts['failures']:,} of "
        f"{counted(group.counts['spells'], 'module')} failed, one in ten by {time(b10.estimate)} "
        f"({limits_words(b10.low, b10.high, time)})."
    )


def no_pace_sentence() -> str:
    """Say what is missing to turn play hours into months."""
    return (
        "Say the play hours a week: nothing on record tells how much controllers are played, so hours cannot be told in months."
    )


def warnings(groups: Sequence, case, clock: Clock, hours: float | None, origin: str | None) -> list[str]:
    """Say what a plan assumes and what it does not hold."""
    said = []
    if hours is not None:
        who = "as you say" if origin == "given" else "as half of the metered controllers at least are"
        said.append(f"Counts on {hours:,.1f} play hours a week for each controller, {who}.")
    effects = [one.design_effect for one in groups]
    if case.modules_per_controller > 1:
        untold = [one for one in groups if not one.is_effect_told]
        if max(effects, default=1.0) > 1.005:
            said.append(
                "Two modules of a controller are alike, so they tell less than two of different ones: taken to need "
                f"{limits_words(min(effects), max(effects), lambda value: f'{value:.2f}')} times as many. With one module in "
                "each controller it takes fewer."
            )
        if untold:
            said.append("How alike two modules of a controller are cannot be told from so few controllers: taken as not at all.")
    if not case.lost_per_year:
        said.append("No module is taken to be lost from view (sold, stored, scrapped for another reason); say how many are.")
    few = [one for one in groups if one.counts["failures"] < FEW_FAILURES]
    if few:
        said.append(f"Rests on few failures ({min(one.counts['failures'] for one in few):,}): the law of the others is rough.")
    if clock is Clock.DAYS or hours is not None:
        pace = 1.0 if clock is Clock.DAYS else hours / 7
        reached = min((one.watched_to for one in groups), default=None)
        wanted = (case.months or USUAL_MONTHS) * 365.25 / 12 * pace
        if reached is not None and wanted > reached:
            said.append(
                f"The record watched modules up to {duration_words(reached, clock)} only; what a longer study brings rests on "
                "the Weibull law beyond that age."
            )
    return said


def no_test_sentence(because: Because) -> str:
    """Say what a test that shows a life needs."""
    if because is Because.NOT_GIVEN:
        return "For tests that show how long modules last, say the life that is to be shown."
    return f"No test can be laid out: {reason_words(because)}; say the Weibull shape."


def test_sentence(case, shape: float, origin: str, plans: Sequence, clock: Clock) -> str:
    """Say what the shortest list of tests is: as long as the life, without and with one failure."""
    life = duration_words(case.life, clock)
    same = [one for one in plans if one.test_time == (case.test_time or case.life)]
    long = duration_words(case.test_time or case.life, clock)
    ways = [
        f"{one.module_count:,} on test for {long}, {_allowed(one.failures_allowed)} (passed with a chance of "
        f"{share_words(one.pass_chance[1])} if modules last {case.better:g} times as long)"
        for one in same[:2]
    ]
    known = {"given": "as you say", "record": "as in the record", "setting": "as the settings assume"}[origin]
    is_shapeless = (case.test_time or case.life) == case.life
    shapeless = " Tested for just that long the shape does not matter." if is_shapeless else ""
    if not ways:
        return f"No test of {long} with up to a million modules shows a life of {life}."
    return (
        f"To show with {level_words(case.confidence)} confidence that at most {share_words(case.life_share)} fail by {life}: "
        f"{'; or '.join(ways)}. Weibull shape {shape:.2f}, {known}.{shapeless}"
    )


def _allowed(count: int) -> str:
    return "none may fail" if count == 0 else f"up to {count:,} may fail"
