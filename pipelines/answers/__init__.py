"""One file per question: facts → estimates → the answer record that command line, report and screens share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from pipelines.answers.question import BY, DATES, asked
from pipelines.settings import Settings
from pipelines.vocabulary import OF_A_CASE, Question

if TYPE_CHECKING:
    from pipelines.answers.asked_record import AskedRecord
    from pipelines.answers.question import Asked
    from pipelines.answers.record import Answer
    from pipelines.facts.read import Connection

__all__ = ["BY", "DATES", "ask"]


def ask(
    question: str, connection: Connection, *, by: Sequence[str] = (), clock: str | None = None,
    where: Mapping[str, Sequence[str]] | None = None, level: float | None = None, settings: Settings | None = None,
    is_brief: bool = False, case: Mapping[str, str] | None = None,
) -> Answer | AskedRecord:  # fmt: skip
    """Answer one question from an opened warehouse.

    by, where: grouping columns of BY[question], filters column → values (and from_on, to_on as ISO dates).
    clock: 'hours', 'days' or None for hours unless refused. is_brief: without the heavier estimates of detail.py.
    level: None for that of the question. case: what a question of `OF_A_CASE` is about, name → value (see case.py).
    Raises SettingError for words it does not know.
    """
    words = asked(question, by=by, where=where or {}, clock=clock, level=level, settings=settings or Settings(),
                  is_brief=is_brief, case=case)  # fmt: skip
    if words.question in OF_A_CASE:
        return _of_a_case(connection, words)
    from pipelines.answers import cleaning_success, factors, recurrence, restoration, time_to_failure
    from pipelines.facts.read import standing

    answer = {
        Question.CLEANING_SUCCESS: cleaning_success.cleaning_success,
        Question.TIME_TO_FAILURE: time_to_failure.time_to_failure,
        Question.RECURRENCE: recurrence.recurrence,
        Question.RESTORATION: restoration.restoration,
        Question.FACTORS: factors.factors,
    }[words.question]
    histories = standing(connection, words.settings)
    return _warned(answer(histories, words), histories, words)


def _warned(given: Answer | AskedRecord, histories: Connection, words: Asked) -> Answer | AskedRecord:
    """Return the answer with a word on each value of a filter that the log does not have."""
    from pipelines.facts.read import choices, holds
    from pipelines.wording import verdict

    unknown = [
        verdict.unknown_value_warning(column, value, known)
        for column, values in words.where.items() if column not in DATES
        for value in values if not holds(histories, words.question, column, value)
        for known in [choices(histories, words.question).get(column, [])]
    ]  # fmt: skip
    return replace(given, warnings=[*unknown, *given.warnings]) if unknown else given


def _of_a_case(connection: Connection, words: Asked) -> AskedRecord:
    """Answer a question of `OF_A_CASE`; each is a function of a connection and what was asked."""
    from pipelines.answers import (
        clean_or_replace,
        cleaning_interval,
        cleaning_plan,
        family_ranking,
        lot_bid,
        next_failures,
        past_lots,
        shelf,
        warranty,
    )
    from pipelines.answers.batch_alarm import batch_alarm
    from pipelines.answers.batch_containment import batch_containment
    from pipelines.answers.batch_exhibit import batch_exhibit
    from pipelines.answers.batch_inspection import batch_inspection
    from pipelines.answers.batch_pattern import batch_pattern
    from pipelines.answers.batch_verdict import batch_verdict
    from pipelines.answers.before_after import before_after
    from pipelines.answers.fault_rates import fault_rates
    from pipelines.answers.monthly import monthly
    from pipelines.answers.study_plan import study_plan
    from pipelines.answers.tester_study import tester_study
    from pipelines.facts.read import standing

    if words.question is Question.BATCH_EXHIBIT:  # its histories are its own
        return batch_exhibit(connection, words)
    answer = {
        Question.LOT_BID: lot_bid.lot_bid,
        Question.FAMILY_RANKING: family_ranking.rank_families,
        Question.PAST_LOTS: past_lots.past_lots,
        Question.WARRANTY: warranty.warranty,
        Question.CLEAN_OR_REPLACE: clean_or_replace.clean_or_replace_answer,
        Question.FAULT_RATES: fault_rates,
        Question.CLEANING_INTERVAL: cleaning_interval.cleaning_interval,
        Question.CLEANING_PLAN: cleaning_plan.cleaning_plan,
        Question.NEXT_FAILURES: next_failures.next_failures,
        Question.SHELF: shelf.shelf,
        Question.BEFORE_AFTER: before_after,
        Question.MONTHLY: monthly,
        Question.BATCH_ALARM: batch_alarm,
        Question.STUDY_PLAN: study_plan,
        Question.BATCH_CONTAINMENT: batch_containment,
        Question.BATCH_VERDICT: batch_verdict,
        Question.BATCH_PATTERN: batch_pattern,
        Question.TESTER_STUDY: tester_study,
        Question.BATCH_INSPECTION: batch_inspection,
    }[words.question]
    histories = standing(connection, words.settings)
    return _warned(answer(histories, words), histories, words)
