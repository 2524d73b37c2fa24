"""What no interval holds: wrong findings, faults found late, differences between sites. The sizes are those of the second
calibration table (DEVELOPERS.md): made logs with 10 to 15 % of the findings wrong; of wrong causes: help/restoration.md."""

from __future__ import annotations

from pipelines.vocabulary import Question

_NOTE = {
    Question.TIME_TO_FAILURE: "The intervals hold chance alone. A fault found that was none makes lives look shorter than they "
    "are: in made logs with 10 to 15 % of the findings wrong, one in ten came a fifth too early, half 7 % too early, and the "
    "Weibull shape nearly a third too low.",
    Question.RECURRENCE: "The intervals hold chance alone. A fault found that was none makes cleans look shorter-lived than they "
    "are: in made logs with 10 to 15 % of the findings wrong, 5 in 100 fewer seemed to hold for 90 days.",
    Question.CLEANING_SUCCESS: "The intervals hold chance alone. A fault found that was none counts against the cleans: in made "
    "logs with 10 to 15 % of the findings wrong, 5 in 100 fewer seemed to hold for 90 days.",
    Question.RESTORATION: "The intervals hold chance alone. A wrong cause makes what is given back look smaller: in made logs "
    "with one cause in eight wrong by 7 to 9 points, where 6 to 8 of 10 intervals held the truth instead of 9 to 10; with three "
    "in ten wrong by 6 to 21 points. With 10 to 15 % of the findings wrong, up to 4 in 100 fewer cleans seemed to hold.",
    Question.FACTORS: "The intervals hold chance alone. Wrong findings pull ratios towards 1: in made logs with 10 to 15 % of "
    "them wrong, by about a fifth.",
}  # fmt: skip
#: Of sections that are opened one by one.
MECHANISMS = "With a tenth of the mechanisms sorted wrongly, shares moved by 2 or 3 points in made logs."
TREND = "Wrong findings, which come at an even pace, hide part of a trend."
CLOCK = "Hours a day that are known badly pull the answer from hours towards days."


def note(question: Question | str) -> str:
    """Return what the intervals of an answer do not hold; blank where the answer says so itself."""
    return _NOTE.get(Question(question), "")
