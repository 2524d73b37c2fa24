"""The record of a planned study: the JSON contract, word for word. Ages and lives in the answer's clock."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import AskedRecord
from pipelines.answers.study_case import StudyCase
from pipelines.estimates.demonstration import Demonstration
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class StudySize:
    """A study of so many months and what it takes: modules in all with the limits that the record's law sets, those of the new
    batch, the failures that are to be expected if the batch is worse, and what its modules cost (None: no price is given)."""

    months: float
    modules: Estimate
    new_modules: int
    batch_failures: float
    other_failures: float
    cost: float | None


@dataclass(frozen=True)
class RatioPlan:
    """How large and how long a study must be to show one ratio.

    if_known: failures to expect of the batch, were it like the others, if the law of the others were known for sure. sizes: month
    by month. wanted: in the months that were asked for; needed_months: with the modules asked for (None: more than 48);
    shown_chance: with both.
    """

    ratio: float
    if_known: int
    sizes: list[StudySize]
    wanted: StudySize | None
    needed_months: float | None
    shown_chance: Estimate | None


@dataclass(frozen=True)
class StudyGroup:
    """The law of one group of modules, and what it takes to show that a batch is worse than it.

    watched_to: the longest age watched; design_effect: how many times as many modules it takes because two of a controller are
    alike; is_effect_told: whether the record says so.
    """

    by: dict[str, str | None]
    because: Because | None
    sentence: str
    counts: dict[str, int]
    shape: Estimate
    b10: Estimate
    median: Estimate
    watched_to: float | None
    design_effect: float
    is_effect_told: bool
    ratios: list[RatioPlan]


@dataclass(frozen=True)
class LifeTest:
    """Tests that show a life. because: why there are none; shape_from: `given`, `record` or `setting`.

    plans: the fewest modules for each number of failures allowed and time; pass_chance: that the test passes where modules just
    last as long as is to be shown, and where they last `better` times as long. other_shapes: the same without failures, for
    shapes 0.5 less and more. costs: of the modules of each plan.
    """

    because: Because | None
    sentence: str
    shape: float | None
    shape_from: str | None
    plans: list[Demonstration]
    other_shapes: dict[str, list[Demonstration]]
    costs: list[float | None]


@dataclass(frozen=True)
class StudyPlan(AskedRecord):
    """The whole answer. pace_origin: of the hours a week, `given` or `record`; None on the clock of days, or where not known."""

    clock: str
    by: list[str]
    where: dict[str, list[str]]
    level: float
    currency: str | None
    case: StudyCase
    hours_per_week: float | None
    pace_origin: str | None
    groups: list[StudyGroup]
    test: LifeTest
