"""Planned cleaning as text for the terminal, and as one table."""

from __future__ import annotations

from textwrap import fill

import pandas as pd

from pipelines.answers.cleaning_interval_record import CleaningInterval, IntervalGroup
from pipelines.answers.table import frame_csv, named
from pipelines.answers.text import WIDTH, aligned
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Calendar, CalendarWhy, Clock
from pipelines.wording.costs import amount_words, cost_words
from pipelines.wording.label import label
from pipelines.wording.planned import PER, never_sentence, not_own_line, signed_share, slot_words, untold_sentence, verdict_words
from pipelines.wording.verdict import duration_words, level_words, limits_words, log_words, reason_words, share_words

#: Nobody reads more names in one line; the table has them all.
MOST_NAMES = 12


def interval_text(answer: CleaningInterval) -> str:
    """Return the whole answer as text."""
    money = f" · {answer.currency}" if answer.currency else ""
    blocks = [f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · {level_words(answer.level)} intervals{money}"]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    if len({group.sentence for group in answer.groups}) > 1:
        blocks += [fill(f"{name}: {said}", WIDTH, subsequent_indent="  ") for name, said in verdict_lines(answer)]
    if any(group.planned for group in answer.groups):
        blocks += [_intervals(answer), _rests_on(answer)]
    if answer.asked_for:
        wanted = [f"  --set {one.name}=…  [{one.unit}] {one.help}" for one in answer.asked_for]
        blocks.append("\n".join(["To be given:", *(fill(one, WIDTH, subsequent_indent="      ") for one in wanted)]))
    if answer.sources:
        blocks.append(fill(_sources(answer), WIDTH))
    if not_own := answer.left_out["not_own"]:
        blocks.append(fill(not_own_line(not_own), WIDTH))
    return "\n\n".join(blocks)


def verdict_lines(answer: CleaningInterval) -> list[tuple[str, str]]:
    """Return groups and what is said of them; those of the same verdict for the same reason go together, the first by name."""
    found: dict[object, list[IntervalGroup]] = {}
    for group in answer.groups:
        found.setdefault(_reason(group), []).append(group)
    return [(_names(some), _said(some)) for some in found.values()]


def _names(some: list[IntervalGroup]) -> str:
    more = len(some) - MOST_NAMES
    return "; ".join(label(one.by) for one in some[:MOST_NAMES]) + (f" and {more:,} more" if more > 0 else "")


def _reason(group: IntervalGroup) -> object:
    """Return what groups that are told of together have in common."""
    why = group.planned and group.planned.why
    if why is CalendarWhy.RESTORATION_UNTOLD:
        return why, group.restored.share.because
    return why if why in (CalendarWhy.NO_RISE, CalendarWhy.DEAR_CLEAN) else group.sentence


def _said(some: list[IntervalGroup]) -> str:
    first = some[0]
    if len(some) == 1 or first.planned is None:
        return first.sentence
    if first.planned.verdict is Calendar.NEVER:
        return never_sentence(first.planned.why, max(one.planned.most_saving for one in some))
    if first.planned.why is CalendarWhy.RESTORATION_UNTOLD:
        return untold_sentence(first.restored.share.because, max(one.planned.saving.estimate for one in some))
    return first.sentence


def interval_table(answer: CleaningInterval) -> pd.DataFrame:
    """Return one row per group; times in the clock's unit, shares from 0 to 1, money for one stick."""
    return pd.DataFrame([_row(group) for group in answer.groups])


def interval_csv(answer: CleaningInterval) -> str:
    """Return the table as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(interval_table(answer))


def _row(group: IntervalGroup) -> dict[str, object]:
    planned, slot = group.planned, group.slot
    low, high = planned.as_good if planned and planned.as_good else (None, None)
    return {
        **group.by, "failures": group.counts["failures"], "failures_counted": group.counts["failures_counted"],
        "verdict": planned and planned.verdict.value, "why": planned and planned.why.value,
        "is_best_case": planned and planned.is_best_case, "interval": planned and planned.interval, "as_good_from": low,
        "as_good_to": high, "slot_days": slot and slot.days, "slot_interval": slot and slot.interval,
        **named("saving_share", planned.saving if planned else None), "saves_chance": planned and planned.saves_chance,
        **named("waiting_cost", planned.waiting if planned else None), **named("shape", group.shape),
        "depth": group.restored.depth, **named("restored_share", group.restored.share),
        **named("harm_share", group.harm.share), "planned_cost": group.costs and group.costs["planned"],
        "fault_cost": group.costs and group.costs["fault"], "low_h_per_week": group.use.low_h,
        "median_h_per_week": group.use.median_h, "high_h_per_week": group.use.high_h,
        "because": group.because or group.restored.share.because,
    }  # fmt: skip


def _intervals(answer: CleaningInterval) -> str:
    clock = Clock(answer.clock)
    per, unit = PER[clock]
    rows = []
    for group in answer.groups:
        planned = group.planned
        if planned is None:
            rows.append([label(group.by), reason_words(group.because) if group.because else "–", "–", "–", "–", "–"])
            continue
        is_never = planned.interval is None or planned.verdict is Calendar.NEVER
        best = "never" if is_never else duration_words(planned.interval, clock)
        slot = slot_words(group.slot.days) if group.slot and group.slot.is_as_good and not is_never else "–"
        rows.append([
            label(group.by), verdict_words(planned.verdict), best, slot,
            _signed(planned.saving) + (" at most" if planned.is_best_case else ""), amount_words(per * planned.waiting.estimate),
        ])  # fmt: skip
    head = [", ".join(answer.by) or "group", "verdict", "best", "kept as", "saving", f"waiting costs, {unit}"]
    return aligned([head, *rows])


def _signed(saving: Estimate) -> str:
    return f"{signed_share(saving.estimate)} ({limits_words(saving.low, saving.high, signed_share)})"


def _rests_on(answer: CleaningInterval) -> str:
    rows = []
    for group in answer.groups:
        back, harm = group.restored.share, group.harm.share
        ends = ", ".join(f"{count:,} {name.replace('_', ' ')}" for name, count in group.put_right.items())
        rows.append([
            label(group.by), f"{group.counts['failures_counted']:,} of {group.counts['failures']:,}",
            "–" if group.shape.estimate is None else f"{group.shape.estimate:.2f}", _share(back), _share(harm),
            "–" if group.costs is None else amount_words(group.costs["planned"]),
            "–" if group.costs is None else amount_words(group.costs["fault"]), ends,
        ])  # fmt: skip
    head = ["rests on", "failures", "shape", "given back", "harm", "clean costs", "fault costs", "faults put right by"]
    return aligned([head, *rows])


def _share(one: Estimate) -> str:
    if one.estimate is None:
        return "not known"
    said = share_words(one.estimate)
    return said if one.low == one.high else f"{said} ({limits_words(one.low, one.high, share_words)})"


def _sources(answer: CleaningInterval) -> str:
    places: dict[str, dict[str, None]] = {}
    for one in answer.sources:
        places.setdefault(one.origin, {})[cost_words(one.name).lower()] = None
    named = {"setting": "Given by you", "prices": "From the price list", "record": "From the record"}
    return " ".join(f"{named[origin]}: {', '.join(names)}." for origin, names in places.items())
