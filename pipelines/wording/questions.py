"""What each question answers, for the help of the command line."""

from __future__ import annotations

from collections.abc import Mapping
from textwrap import fill

from pipelines.vocabulary import Question

_WIDTH = 100
#: What a question answers.
ANSWERS = {
    Question.CLEANING_SUCCESS: "how often a clean puts a stick right, and how often that holds",
    Question.TIME_TO_FAILURE: "how long sticks last until they drift or fail",
    Question.RECURRENCE: "how soon a cleaned stick fails again",
    Question.RESTORATION: "how much of its age a clean gives back to a stick",
    Question.FACTORS: "what goes with early failure, all columns at once",
    Question.LOT_BID: "how much to bid for a lot, and what to do with it when it comes",
    Question.FAMILY_RANKING: "which families pay when bought to repair and sell",
    Question.PAST_LOTS: "how past lots turned out against what was to be expected, and sellers against others",
    Question.WARRANTY: "how many sold units come back by when, and how long a warranty can be given",
    Question.CLEAN_OR_REPLACE: "whether to clean the stick on the bench, fit a new part or scrap it",
    Question.FAULT_RATES: "which seats, sites and technicians have more faults than luck explains; which controllers to retire",
    Question.CLEANING_INTERVAL: "whether to clean ahead of faults, and how often",
    Question.NEXT_FAILURES: "how many faults are to come, and which sticks are the likeliest",
    Question.SHELF: "how many spare parts and controllers to keep",
    Question.BEFORE_AFTER: "whether there are fewer faults since a programme began",
    Question.MONTHLY: "a month of the floor: faults, work, time out of use and cost",
    Question.CLEANING_PLAN: "which controllers to clean on which day",
    Question.BATCH_ALARM: "when a watch would have raised the alarm over a supplier batch",
    Question.BATCH_VERDICT: "which supplier batches fail more often than others of the same age, and whether it is the supplier",
    Question.BATCH_PATTERN: "what kind of worse a supplier batch is: early or worn out sooner, from which age and mechanism",
    Question.TESTER_STUDY: "how much of the spread of readings is the tester, and what that does to pass and fail",
    Question.BATCH_INSPECTION: "what incoming inspection found in batches, against its plan and against the field; plans",
    Question.BATCH_CONTAINMENT: "where the modules of a batch are, what is left in stock, and what its excess failures cost",
    Question.BATCH_EXHIBIT: "all of it about one supplier batch, to be given away and worked out anew from the raw files",
    Question.STUDY_PLAN: "how many modules and how long to see that a batch is worse, and tests that show a life",
}


def questions_text(cases: Mapping[Question, Mapping[str, str]]) -> str:
    """Return a list of the questions, what each answers, and the names it takes for --case with what is given for them."""
    lines = ["questions, and what each takes for --case:"]
    for question in Question:
        lines.append(_filled(f"{question.value}: {ANSWERS[question]}", 2))
        lines += [_filled(f"{name}=  {help}", 6) for name, help in cases.get(question, {}).items()]
    return "\n".join(lines) + "\n"


def _filled(text: str, by: int) -> str:
    return fill(text, _WIDTH, initial_indent=" " * by, subsequent_indent=" " * (by + 4), break_on_hyphens=False)
