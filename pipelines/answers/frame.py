"""What every answer carries besides its groups: the window, what was left out, and the warnings."""

from __future__ import annotations

from pipelines.answers.question import Asked
from pipelines.answers.record import Answer, CleaningGroup, LifeGroup
from pipelines.facts.read import Connection, Window, left_out
from pipelines.vocabulary import Clock
from pipelines.wording import verdict

#: Every key of `left_out`, in the order shown. The first four are of the question asked, the others of the whole log.
LEFT_OUT = (
    "no_usable_hours",
    "age_unknown",
    "no_length",
    "grouping_blank",
    "no_outcome",
    "intake_untested",
    "found_bad_at_intake",
    "found_bad_at_first_sight",
    "stick_unknown",
    "return_stick_unknown",
    "unconfirmed_returns",
    "assumed_failures",
    "hours_fell",
    "hours_exceed_calendar",
)


def answer(
    connection: Connection, asked: Asked, *, window: Window, clock: Clock,
    of_question: dict[str, int], settings: dict[str, object], warnings: list[str],
    groups: list[LifeGroup] | list[CleaningGroup],
) -> Answer:  # fmt: skip
    """Put the record together. `of_question` holds the first keys of LEFT_OUT; the rest is read from the log."""
    of_log = left_out(connection)
    counted = {**dict.fromkeys(LEFT_OUT, 0), **{key: of_log[key] for key in LEFT_OUT if key in of_log}, **of_question}
    if window.early_registered_count:
        warnings = [verdict.early_register_warning(window.early_registered_count, window.first_job_on), *warnings]
    return Answer(
        question=asked.question,
        clock=clock,
        by=list(asked.by),
        level=asked.level,
        log_start=window.log_start,
        log_end=window.log_end,
        settings=settings,
        where=asked.where,
        left_out=counted,
        sentence=verdict.overall_sentence(
            [group.sentence for group in groups], is_refused=all(group.because is not None for group in groups)
        ),
        warnings=warnings,
        groups=groups,
    )
