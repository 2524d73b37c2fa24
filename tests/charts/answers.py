"""Small answer records for the figures and tables to show."""

from __future__ import annotations

from pipelines.answers.record import Answer, CleaningGroup, CurvePoint, Durable, LifeGroup, LifePart, SameDay, WeibullPart
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because

_NONE = Estimate.refused(Because.TOO_FEW_FAILURES)
_WEIBULL = WeibullPart(Because.TOO_FEW_FAILURES, _NONE, _NONE, _NONE, _NONE, None)

#: at, surviving share, low, high, at risk, drawn: a curve of 40 whose last steps rest on too few
STEPS = """
0    1.00  1.00  1.00  40  yes
100  0.90  0.76  0.96  40  yes
200  0.80  0.64  0.90  36  yes
300  0.70  0.53  0.82  31  yes
400  0.55  0.30  0.75   8  no
500  0.00  -     -      2  no
"""


def points(steps: str = STEPS) -> list[CurvePoint]:
    """Return the points of a curve from its text table."""
    rows = [line.split() for line in steps.strip().splitlines()]
    return [
        CurvePoint(
            float(at), float(share), None if low == "-" else float(low), None if high == "-" else float(high),
            int(at_risk), failed=1, censored=0, is_drawn=is_drawn == "yes",
        )
        for at, share, low, high, at_risk, is_drawn in rows
    ]  # fmt: skip


def life_group(
    family: str | None, *, spells: int = 40, failures: int = 12, median: Estimate | None = None, steps: str = STEPS,
    since_first_seen: LifePart | None = None,
) -> LifeGroup:  # fmt: skip
    """Return a group of a life answer."""
    median = median or Estimate(480.0, 320.0, None, Because.LIMIT_NOT_REACHED)
    return LifeGroup(
        by={"family": family}, because=None, sentence=f"{failures} of {spells} stick modules began to drift.",
        counts={"modules": spells, "spells": spells, "failures": failures, "assumed_failures": 0}, curve=points(steps),
        drawn_from=0.0, curve_quantiles={"b10": Estimate(100.0, 60.0, 150.0), "median": median}, weibull=_WEIBULL,
        since_first_seen=since_first_seen,
    )  # fmt: skip


def unknown_age(*, spells: int = 9) -> LifePart:
    """Return the part of modules of unknown age."""
    one = life_group(None, spells=spells)
    return LifePart(None, "9 modules of unknown age.", one.counts, one.curve, 0.0, one.curve_quantiles, _WEIBULL)


def cleaning_group(
    by: dict, *, k: int, n: int, low: float | None = 0.2, high: float | None = 0.8, durable: float | None = 0.4
) -> CleaningGroup:
    """Return a group of a cleaning answer."""
    because = None if n else Because.NO_ATTEMPTS
    share = k / n if n else None
    lasting = Durable(90.0, "days", durable, 0.3, 0.5, 20.0, None)
    if durable is None:
        lasting = Durable(90.0, "days", None, None, None, None, Because.NO_FOLLOW_UP)
    return CleaningGroup(
        by=by, because=because, sentence=f"{k} of {n} cleaning attempts passed.",
        counts={"attempts": n, "passed": k, "followed": k, "failed_again": 1},
        same_day=SameDay(k, n, share, low if n else None, high if n else None, because), durable=lasting,
        worn_track=SameDay(0, 0, None, None, None, Because.NO_ATTEMPTS),
    )  # fmt: skip


def answer(groups: list, *, question: str = "time-to-failure", clock: str = "hours", by: list[str] | None = None) -> Answer:
    """Return an answer around these groups."""
    return Answer(
        question=question, clock=clock, by=["family"] if by is None else by, level=0.95, log_start="2024-01-01",
        log_end="2025-12-31", settings={"horizon": 90.0}, where={}, left_out={"no_usable_hours": 3, "age_unknown": 9},
        sentence="As the groups say.", groups=groups,
    )  # fmt: skip
