"""How much of the spread is the tester, as sentences. Records are those of `answers.tester_study_record`."""

from __future__ import annotations

from collections.abc import Sequence

from pipelines.vocabulary import Because, StudyVerdict
from pipelines.wording.verdict import SPACE, counted, level_words, limits_words, share_words

#: With fewer persons the study tells little of how persons differ; the usual study has so many sticks.
USUAL_PERSONS, USUAL_STICKS = 3, 10
_PART = {
    "repeat": "one person, again",
    "person": "persons, on all sticks",
    "interaction": "persons, by stick",
    "between_persons": "between persons",
    "tester": "tester, all told",
    "stick": "between sticks",
    "total": "all readings",
}
_VERDICT = {
    StudyVerdict.GOOD_ENOUGH: "The tester is good enough for {measure}",
    StudyVerdict.TOO_COARSE: "The tester is too coarse for {measure}",
    StudyVerdict.CANNOT_TELL: "Whether the tester is good enough for {measure} cannot be told yet",
}
_HOW = "Let two persons or more read the same ten sticks two or three times each"


def part_words(name: str) -> str:
    """Return the everyday name of a part of the spread."""
    return _PART[name]


def measure_words(measure: str) -> str:
    """Return 'rest offset' of `rest_offset`."""
    return measure.replace("_", " ")


def unit_words(measure: str) -> str:
    """Return what readings of a measure are percent of."""
    return "% of span" if measure == "linearity" else "% of half-scale"


def reading_words(value: float) -> str:
    """Return a reading or a standard deviation of readings with as many digits as it bears."""
    size = abs(value)
    if size < 0.0005:
        return "0"
    return f"{value:.2g}" if size < 0.1 else f"{value:.2f}" if size < 10 else f"{value:.1f}"


def estimate_words(one, say=reading_words) -> str:
    """Return an estimate with its limits: '0.30 (0.24 to 0.68)'."""
    if one.estimate is None:
        return "–"
    said, limits = say(one.estimate), limits_words(one.low, one.high, say)
    return said if limits == said else f"{said} ({limits})"


def whole_sentence(answer) -> str:
    """Say whether the tester is good enough, what it rests on, what the spread is of, and what that does at the limit."""
    if answer.because is not None:
        return _refused(answer)
    share = next(one.spread_share for one in answer.components if one.name == "tester")
    head = (
        f"{_VERDICT[answer.verdict].format(measure=measure_words(answer.case.measure))}: it makes {share_words(share.estimate)} "
        f"of the spread of readings ({level_words(answer.level)} interval {limits_words(share.low, share.high, share_words)}), "
        f"where up to {share_words(answer.allowed_share)} is allowed."
    )
    size = answer.size
    body = f"{counted(size.persons, 'person')} read {counted(size.sticks, 'stick')} {size.repeats} times each."
    return " ".join([head, body, _driver(answer), *([] if answer.at_limit is None else [limit_sentence(answer)])])


def limit_sentence(answer) -> str:
    """Say what the tester's error does at the limit."""
    at, case = answer.at_limit, answer.case
    return (
        f"By the tester alone a reading from {reading_words(at.unsure_from)} to {reading_words(at.unsure_to)} may lie on either "
        f"side of the limit of {case.limit:g}{SPACE}%. Of sticks spread like these {_share(at.good_fails)} of the "
        f"good ones would fail and {_share(at.bad_passes)} of the bad ones pass."
    )


def warnings(answer, limits: Sequence[float]) -> list[str]:
    """Say what to mind. limits: those that the table of limits has for the measure."""
    said, size = [], answer.size
    if answer.because is None:
        if size.left_out_sticks or size.left_out_persons or size.left_out_readings:
            said.append(
                f"Left out, so that every person has read every stick equally often: {counted(size.left_out_sticks, 'stick')}, "
                f"{counted(size.left_out_persons, 'person')}, {counted(size.left_out_readings, 'reading')} in all."
            )
        if size.persons <= USUAL_PERSONS and answer.verdict is StudyVerdict.CANNOT_TELL:
            said.append(
                f"{counted(size.persons, 'person')} tell little of how persons differ. More persons would narrow the limits; "
                "more readings by the same ones would not."
            )
        if size.sticks < USUAL_STICKS:
            said.append(f"{counted(size.sticks, 'stick')} tell little of how sticks differ; {USUAL_STICKS} are usual.")
        inter = next(one for one in answer.analysis if one.name == "interaction")
        if inter.p_value is not None and inter.p_value < 0.05:
            said.append("Persons differ more on some sticks than on others: look at how they hold or release those.")
        if answer.case.limit is None:
            name = measure_words(answer.case.measure)
            has = f"has several: {', '.join(f'{one:g}' for one in limits)}" if limits else "has none"
            said.append(f"What it does to pass and fail is not told: the table of limits {has} for {name}. Give the pass limit.")
    return said


def _refused(answer) -> str:
    if answer.because is Because.NO_SPREAD:
        return (
            f"All repeats of {measure_words(answer.case.measure)} are the same to the last digit, so nothing can be told of the "
            "tester: they look copied, or written with too few digits."
        )
    if not answer.measures:
        return (
            "The log has no repeat readings (a table repeat_readings), so how much of the spread is the tester cannot be told. "
            f"{_HOW} and load that."
        )
    name = measure_words(answer.case.measure)
    if answer.size is None:
        other = ", ".join(measure_words(one) for one in answer.measures)
        return f"The log has no repeat readings of {name}; it has those of {other}."
    if answer.size.persons == 1:
        return f"Too few readings of {name} to say: only one person read, so what lies between persons is not known. {_HOW}."
    if answer.size.repeats == 1:
        return f"Too few readings of {name} to say: nobody read a stick twice, so repeats are not known. {_HOW}."
    if answer.size.sticks == 1:
        return f"Too few readings of {name} to say: only one stick was read. {_HOW}."
    return f"Too few readings of {name} to say: no two persons read the same two sticks twice. {_HOW}."


def _driver(answer) -> str:
    sd = {one.name: one.sd for one in answer.components}
    repeat, between = (sd[name].estimate for name in ("repeat", "between_persons"))
    names = (("one person, reading again", repeat), ("between persons", between))
    (first, larger), (second, smaller) = names if repeat >= between else names[::-1]
    how = "Most of it is" if larger >= 2**0.5 * smaller else "It is about as much"
    if larger >= 2**0.5 * smaller:
        return f"{how} {first} (standard deviation {reading_words(larger)} against {reading_words(smaller)} {second})."
    return f"{how} {first} as {second} (standard deviations {reading_words(larger)} and {reading_words(smaller)})."


def _share(one) -> str:
    return f"{share_words(one.estimate)} ({limits_words(one.low, one.high, share_words)})"
