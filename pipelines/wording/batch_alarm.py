"""The early alarm over supplier batches, as sentences. Records are those of `answers.batch_alarm_record`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipelines.vocabulary import AlarmLevel, Because
from pipelines.wording.verdict import counted, listed, share_words

#: More than this are not named one by one.
_NAMED = 4
_LEVEL = {
    "stop": "stop buying", "watch": "watch it", "quiet": "no alarm", "too_early": "too early", "unwatched": "cannot be watched",
}  # fmt: skip
_AGAINST = {
    "period": "others fitted in the same period", "any": "others, whenever fitted",
    "same_time": "only others in service in the same look", "other_suppliers": "only batches of other suppliers",
}  # fmt: skip


def level_words(level: AlarmLevel) -> str:
    """Return what an alarm says to do."""
    return _LEVEL[level]


def against_words(against: str) -> str:
    """Return which others a batch is held against."""
    return _AGAINST[against]


def evidence_words(evidence: float) -> str:
    """Return evidence with as many digits as it bears."""
    if evidence >= 1e6:
        return "over 1,000,000"
    return f"{evidence:,.0f}" if evidence >= 10 else f"{evidence:.2f}" if evidence >= 0.01 else "under 0.01"


def refused_sentence(because: Because) -> str:
    """Say why no batch can be watched."""
    if because is Because.ONE_BATCH:
        return "Only one batch is on record, so there is no other to hold it against."
    return "No batch can be watched: the log does not say of which batch the modules were that jobs fitted (part_batch_fitted)."


def batch_sentence(facts: Mapping[str, object]) -> str:
    """Say when the alarm over one batch would have come, or that none came and what that means."""
    name, level = f"Batch {facts['batch']}", facts["level"]
    if level is AlarmLevel.UNWATCHED:
        return f"{name} cannot be watched: no module of another batch was like it in family, use, site, time fitted and age."
    counts = _counts(facts["failures"], facts["expected"])
    if level is AlarmLevel.TOO_EARLY:
        return f"{name} is too young to tell: {counts}. No alarm does not mean that it is good."
    if level is AlarmLevel.QUIET:
        return f"{name} raised no alarm: {counts}. That does not show that it is good; the batch verdict says what is known."
    at, stop = facts["watch"], facts["stop"]
    said = (
        f"{name} would have raised the alarm on {at.on}, {counted(at.days, 'day')} after its first module was fitted: by then "
        f"{_counts(at.failures, at.expected)}. {counted(at.fitted, 'module')} of it had been fitted, {at.fitted_since:,} since."
    )
    if stop is None:
        said += " The evidence never sufficed to say “stop buying it”."
    else:
        said += f" {'The same day' if stop.on == at.on else f'On {stop.on}'} the evidence sufficed to say “stop buying it”."
    if facts["evidence"] < 1:
        said += f" It has since fallen to {evidence_words(facts['evidence'])}: what came later does not bear the alarm out."
    return said


def whole_sentence(*, shown: str | None, batches: Sequence, watched_to: str) -> str:
    """Say which batches raised an alarm, the one asked for first. batches: those of the answer, the most urgent first."""
    raised = [one for one in batches if one.watch is not None]
    early = sum(one.level is AlarmLevel.TOO_EARLY for one in batches)
    silent = sum(one.level is AlarmLevel.UNWATCHED for one in batches)
    if shown is not None:
        return next(one.sentence for one in batches if one.batch == shown)
    rest = [f"{early:,} are too young to tell" if early != 1 else "1 is too young to tell"] if early else []
    rest += [f"{silent:,} cannot be watched" if silent else ""]
    tail = "; ".join(part for part in rest if part)
    if batches and silent == len(batches):
        return (
            f"None of {counted(len(batches), 'batch', 'batches')} can be watched: no module of another batch was like theirs in "
            "family, use, site, time fitted and age."
        )
    if not raised:
        head = f"No alarm over any of {counted(len(batches), 'batch', 'batches')} up to {watched_to}"
        return f"{head}{f'; {tail}' if tail else ''}."
    names = ", ".join(one.batch for one in raised[1 : 1 + _NAMED]) + (" …" if len(raised) > 1 + _NAMED else "")
    more = f" So would {names}." if names else ""
    has = "has" if len(raised) == 1 else "have"
    head = f"{len(raised):,} of {len(batches):,} batches {has} raised an alarm up to {watched_to}"
    return f"{raised[0].sentence}{more} {head}{f'; {tail}' if tail else ''}."


def warnings(*, batches: Sequence, limits, settings, watched_to: str, look_days: int, only_found: Sequence[str]) -> list[str]:
    """Say what an alarm means, and what to mind."""
    watched = sum(one.level is not AlarmLevel.UNWATCHED for one in batches)
    said = [
        f"Evidence of {evidence_words(limits.watch)} says watch it, {evidence_words(limits.stop)} says stop buying it: a batch "
        f"{_within(settings.batch_tolerance)} would ever get that far, in its whole life, with a chance of at most "
        f"{share_words(1 / limits.watch)} and {share_words(1 / limits.stop)}."
    ]
    if watched > 1:
        sure = [one.batch for one in batches if one.is_beyond_all]
        also = f": {listed(sure)} reached it" if sure else ""
        said.append(
            f"Among {watched:,} batches watched, up to {watched * settings.false_alarm:.1f} may raise a false alarm. Evidence of "
            f"{evidence_words(limits.watch * watched)} allows for all of them together{also}."
        )
    mixed = [one.batch for one in batches if one.is_mixed]
    if mixed:
        said.append(f"Bins were mixed before use of {listed(mixed)}: some modules are of others, so differences look smaller.")
    if only_found:
        said.append(
            f"{listed(only_found)}: on record only on modules that came in, so nobody knows of how many. Note the batch when a "
            "module is fitted (part_batch_fitted)."
        )
    if settings.quiet_lag_days:
        said.append(
            f"Watched up to {watched_to}: the last {settings.quiet_lag_days} days are not used. A failure counts on the day it "
            "was found, so this watch could use them too, and be sooner."
        )
    if look_days > 7:
        said.append(f"The log is large, so it is looked at every {look_days} days.")
    return said


def _counts(failures: int, expected: float) -> str:
    share = "under 0.1" if expected < 0.05 else f"{expected:,.1f}"
    return f"{counted(failures, 'failure')} where its share would be {share} were it like the others"


def _within(tolerance: float) -> str:
    often = "no more often than" if tolerance == 1 else f"at most {tolerance:g} times as often as"
    return f"that fails {often} the others"
