"""Clean first, fit a new part, or scrap: the cheapest course in expected cost, how sure that is, and when to stop cleaning."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.coming_cleans import ComingCleans
from pipelines.vocabulary import WORN, Because, Course

#: Under this probability of being the cheapest a course is called close.
SURE = 0.8


@dataclass(frozen=True)
class Costs:
    """Money in the user's currency, per stick; None is not given, and then asked for.

    clean_cost: one clean, labour and consumables. replace_cost: a new part with its labour. return_cost: what a return under
    warranty costs beyond the new part. working_value, scrap_value: what the thing is worth once it works, and as scrap; both
    are needed to weigh scrapping, which is left out otherwise.
    """

    clean_cost: float | None = None
    replace_cost: float | None = None
    return_cost: float | None = None
    working_value: float | None = None
    scrap_value: float | None = None

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if value is not None and not 0 <= value < math.inf:
                raise InputError(f"{name} = {value} is no amount of money.", "Give a number from 0, or leave it out.")

    @property
    def missing(self) -> tuple[str, ...]:
        """The names of those without which nothing can be advised."""
        return tuple(name for name in ("clean_cost", "replace_cost", "return_cost") if getattr(self, name) is None)


@dataclass(frozen=True)
class Advice:
    """The advice for one stick, with its reasons.

    course: the cheapest in expected cost. expected_cost: by course, of those that could be weighed; the cost of scrapping is
    the value forgone. margin: by how much the next course is dearer. sure_share: the probability that the course is the
    cheapest; is_close: it is under SURE. clean_until: the last how-many-th clean still worth trying, None where none is.
    after_cleans: what to do when that fails. Where nothing is advised on figures `because` says why, `missing` which
    settings are wanted, and `course` is None or, with is_rule_of_thumb, what common practice says.
    """

    course: Course | None
    expected_cost: dict[Course, float]
    margin: float | None
    sure_share: float | None
    is_close: bool
    clean_until: int | None
    after_cleans: Course | None
    because: Because | None = None
    missing: tuple[str, ...] = ()
    is_rule_of_thumb: bool = False


def clean_or_replace(
    coming: ComingCleans | Because, costs: Costs, *, mechanism: str | None = None, part_holds: np.ndarray | None = None
) -> Advice:
    """Advise on one stick.

    coming: draws, or why the record tells nothing of such a stick. A worn track or wiper then gets the rule of thumb: cleaning
    does not give it back, fit a new part. part_holds: draws of the chance that a new part holds, as many as those of `coming`;
    None: it is taken to hold every time.
    A new part costs N = c_replace + (1 − h_new) (c_back + c_replace), one clean more c_clean + p (1 − h) (c_back + c_replace)
    + (1 − p) · what comes after. So one clean is worth it where p [N − (1 − h)(c_back + c_replace)] > c_clean. Of several, the
    number of cleans with the least expected cost over the draws is taken; after the last comes the cheaper of new part and scrap.
    Where nothing tells whether cleans hold, they are taken to: a clean that does not pay even so is not advised, and one that
    would is refused as `no_follow_up`.
    Raises InputError on part_holds that are no shares, or of another number.
    """
    if isinstance(coming, Because):
        return _by_thumb(coming, mechanism)
    if costs.missing:
        return _refused(Because.NOT_GIVEN, costs.missing)
    size = len(coming.passes)
    holds = np.ones(size) if part_holds is None else part_holds
    if np.shape(holds) != (size,) or not ((holds >= 0) & (holds <= 1)).all():
        raise InputError("The draws of what new parts hold do not fit.", "Give one share for each draw of the cleans.")
    others = {Course.NEW_PART: costs.replace_cost + (1 - holds) * (costs.return_cost + costs.replace_cost)}
    if costs.working_value is not None and costs.scrap_value is not None:
        others[Course.SCRAP] = np.full(size, max(costs.working_value - costs.scrap_value, 0.0))
    last = min(others, key=lambda course: others[course].mean())
    by_cleans = _cost_of_cleaning(coming, costs, others[last])
    count = int(np.argmin([one.mean() for one in by_cleans]))
    drawn = {Course.CLEAN_FIRST: by_cleans[count]} | others
    expected = {course: float(cost.mean()) for course, cost in drawn.items()}
    course, second = sorted(expected, key=expected.get)[:2]
    if course is Course.CLEAN_FIRST and not coming.is_hold_known:
        return _by_thumb(Because.NO_FOLLOW_UP, mechanism)
    rest = np.min([cost for other, cost in drawn.items() if other is not course], axis=0)
    sure = float((drawn[course] < rest).mean())
    until = coming.first_number + count if course is Course.CLEAN_FIRST else None
    return Advice(course, expected, expected[second] - expected[course], sure, sure < SURE, until, last)


def _cost_of_cleaning(coming: ComingCleans, costs: Costs, otherwise: np.ndarray) -> list[np.ndarray]:
    """Return the cost of up to 1, 2, … cleans and then the other course, by draw."""
    found = []
    spent, reached = np.zeros(len(coming.passes)), np.ones(len(coming.passes))
    for passes, holds in zip(coming.passes.T, coming.holds.T, strict=True):
        spent = spent + reached * (costs.clean_cost + passes * (1 - holds) * (costs.return_cost + costs.replace_cost))
        reached = reached * (1 - passes)
        found.append(spent + reached * otherwise)
    return found


def _by_thumb(because: Because, mechanism: str | None) -> Advice:
    if mechanism in WORN:
        return Advice(Course.NEW_PART, {}, None, None, False, None, None, because, is_rule_of_thumb=True)
    return _refused(because, ())


def _refused(because: Because, missing: tuple[str, ...]) -> Advice:
    return Advice(None, {}, None, None, False, None, None, because, missing)
