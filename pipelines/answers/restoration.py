"""What a clean gives back: the share of a stick's age that each depth takes off, from whole module lives."""

from __future__ import annotations

import pandas as pd

from pipelines.answers.frame import answer
from pipelines.answers.groups import group_keys, group_numbers
from pipelines.answers.question import Asked
from pipelines.answers.record import Answer
from pipelines.answers.restoration_record import CleanEffect, RestorationGroup
from pipelines.answers.sample import sampled
from pipelines.answers.spells import Read, clock_warnings, hours_refusal, read_spells, without_denominator
from pipelines.answers.time_to_failure import is_truncated
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.restoration import RestorationFit
from pipelines.estimates.restoration import restoration as fits_of
from pipelines.facts.read import Connection, Window, window
from pipelines.facts.spells import Gaps
from pipelines.vocabulary import CLEANABLE, Because, Clock, SpellKind
from pipelines.wording import restoration as wording
from pipelines.wording import verdict

#: Of more gaps than this a sample is taken.
MOST_GAPS = 20_000
#: Fewer failures than this, or than `min_failures` where that is more, are too few.
LEAST_FAILURES = 10
#: Of more groups than this those with the most gaps are worked out: each takes up to a third of a second.
MOST_GROUPS = 12


def restoration(connection: Connection, asked: Asked) -> Answer:
    """Answer what cleans give back and how long they hold; the histories must stand under the asked settings.

    Refused for a log of failures only, as time to failure is: first gaps would be truncated on the right.
    """
    seen = window(connection)
    read = read_spells(connection, asked, None)
    rows = Gaps(connection, is_hours=read.clock is Clock.HOURS, by=asked.by, where=asked.where).rows()
    used = sampled(rows, most=MOST_GAPS)
    warnings = clock_warnings(read, asked)
    if len(used) < len(rows):
        warnings.append(wording.sampled_warning(used=len(used), of=len(rows)))
    keys = group_keys([read.numbers], asked.by) or [dict.fromkeys(asked.by)]
    groups = _groups(used, keys, read, asked, refusal(read, seen, asked))
    if any(group.because is Because.TOO_LARGE for group in groups):
        warnings.append(wording.many_warning(used=MOST_GROUPS, of=len(groups)))
    if any(effect.restoration_share.estimate is not None for group in groups for effect in group.effects):
        warnings.append(wording.named_warning())
    return answer(
        connection, asked, window=seen, clock=read.clock, groups=groups, warnings=warnings,
        of_question={**read.left_out, "age_unknown": read.unknown_age_count}, settings={**read.settings_used, "grid": 0},
    )  # fmt: skip


def chained_gaps(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the gaps as `estimates.restoration` takes them: times since each gap opened.

    What happened before the first gap is known only where it is the first life of a module whose age is known. In
    another module no gap has the number 1, and the estimate leaves all of them out, with their number; so it does with
    those that follow a clean without a depth (`facts.spells.Gaps`).
    """
    is_start = rows["is_age_known"].astype(bool) & (rows["place"] == 1) & (rows["kind"] == SpellKind.FIRST_LIFE)
    has_start = is_start.groupby(rows["module"]).transform("max").astype(bool)
    since_opened = {name: rows[name] - rows["opened"] for name in ("entry", "lower", "upper")}
    return rows.assign(gap_number=rows["place"] + ~has_start, depth=rows["depth_before"], **since_opened)


def is_cleanable(rows: pd.DataFrame) -> pd.Series:
    """Return for each gap whether its failure was of a mechanism that cleans reach; blank where that is not recorded.

    Where all mechanisms are of one kind, none is taken for recorded: the log does not tell dirt from wear.
    """
    is_named = rows["failed_by"].notna() & (rows["failed_by"] != "not_recorded")
    told = rows["failed_by"].isin(CLEANABLE).astype(object).where(is_named, None)
    return told if told.nunique() == 2 else told.where(told.isna(), None)


def refusal(read: Read, seen: Window, asked: Asked) -> tuple[Because, str] | None:
    """Return why whole module lives tell nothing here, and the sentence, else None."""
    blank = without_denominator(read.numbers, asked.by)
    if is_truncated(seen):
        return Because.FAILURES_ONLY, verdict.failures_only_sentence()
    if blank and not read.is_hours_refused:
        return Because.NO_DENOMINATOR, verdict.no_denominator_sentence(blank)
    return hours_refusal(read)


def _groups(
    rows: pd.DataFrame, keys: list[dict], read: Read, asked: Asked, refused: tuple[Because, str] | None
) -> list[RestorationGroup]:
    number = group_numbers(rows, keys, asked.by)
    if refused:
        return [_refused(by, rows[number == place], *refused) for place, by in enumerate(keys)]
    gaps = chained_gaps(rows).assign(group_no=number, is_counted=is_cleanable(rows))
    size = gaps["group_no"].value_counts()
    largest = size.sort_index().nlargest(MOST_GROUPS).index
    gaps = gaps[gaps["group_no"].isin(largest)]
    fits = {fit.by[0]: fit for fit in fits_of(
        gaps, by=["group_no"], horizon=asked.settings.horizon, level=asked.level,
        min_failures=max(asked.settings.min_failures, LEAST_FAILURES),
    )}  # fmt: skip
    return [
        _group(by, fits[place], read.clock, asked) if place in fits else _not_fitted(by, rows[number == place])
        for place, by in enumerate(keys)
    ]  # fmt: skip


def _group(by: dict, fit: RestorationFit, clock: Clock, asked: Asked) -> RestorationGroup:
    is_by_cause = fit.because is None and fit.shape.because is not Because.NO_CAUSES
    effects = [CleanEffect(one.depth, one.cleans, one.restoration_share, one.holding_share) for one in fit.effects]
    counts = {
        "modules": fit.modules, "gaps": fit.gaps, "failures": fit.failures, "failures_counted": fit.failures_counted,
        "failures_unnamed": fit.failures_unnamed, "gaps_left_out": fit.gaps_left_out,
    }  # fmt: skip
    if fit.because:
        sentence = wording.refused_sentence(fit.because, failures=fit.failures, gaps=fit.gaps)
    else:
        sentence = wording.restoration_sentence(
            counts=counts, is_by_cause=is_by_cause, level=asked.level,
            horizon=verdict.duration_words(asked.settings.horizon, clock), memory=fit.memory, is_memory_told=fit.is_memory_told,
            given_back={one.depth: (_limits(one.restoration_share), one.restoration_share.because) for one in effects},
            holding={one.depth: _limits(one.holding_share) for one in effects},
        )  # fmt: skip
    return RestorationGroup(
        by=by, because=fit.because, sentence=sentence, counts=counts, memory=fit.memory, is_memory_told=fit.is_memory_told,
        shape=fit.shape, variance_between=fit.variance_between, log_likelihood=fit.log_likelihood, effects=effects,
        is_by_cause=is_by_cause, fit_p=fit.fit_p,
    )  # fmt: skip


def _not_fitted(by: dict, rows: pd.DataFrame) -> RestorationGroup:
    because = Because.TOO_LARGE if len(rows) else Because.NO_SPELLS
    failures = int((rows["ended_by"] == "failure").sum())
    return _refused(by, rows, because, wording.refused_sentence(because, failures=failures, gaps=len(rows)))


def _refused(by: dict, rows: pd.DataFrame, because: Because, sentence: str) -> RestorationGroup:
    failures = int((rows["ended_by"] == "failure").sum())
    counts = {
        "modules": int(rows["module"].nunique()), "gaps": len(rows), "failures": failures, "failures_counted": failures,
        "failures_unnamed": 0, "gaps_left_out": 0,
    }  # fmt: skip
    return RestorationGroup(by, because, sentence, counts, None, False, Estimate.refused(because), None, None, [])


def _limits(one: Estimate) -> tuple[float | None, float | None, float | None]:
    return one.estimate, one.low, one.high
