"""The advice on a stick as text for the terminal, and as one table."""

from __future__ import annotations

from textwrap import fill

import pandas as pd

from pipelines.answers.clean_or_replace_record import Calibration, CleanOrReplace
from pipelines.answers.table import frame_csv
from pipelines.answers.text import WIDTH, aligned
from pipelines.wording import bench, verdict
from pipelines.wording.lots import money_words


def bench_text(answer: CleanOrReplace) -> str:
    """Return the whole answer as text."""
    money = f" · {answer.currency}" if answer.currency else ""
    level = verdict.level_words(answer.level)
    blocks = [f"{answer.question} · {verdict.log_words(answer.log_start, answer.log_end)} · {level} intervals{money}"]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks += [fill(answer.sentence, WIDTH), _courses(answer), _depths(answer)]
    blocks += [_wanted("To be given:", answer.asked_for), fill(bench.rests_on_sentence(answer.rests_on), WIDTH)]
    if answer.reliability is not None:
        blocks.append(fill(calibration_words(answer.reliability), WIDTH))
    return "\n\n".join(block for block in blocks if block)


def calibration_words(found: Calibration) -> str:
    """Say whether the chances come true."""
    if found.because:
        return f"Whether these chances come true cannot be told: {verdict.reason_words(found.because)}."
    return bench.calibration_sentence(found.attempts, found.brier, found.plain_brier, found.slope)


def course_table(answer: CleanOrReplace) -> pd.DataFrame:
    """Return one row per course that could be weighed, cleaning by depth: course, depth, expected_cost, pass_chance with limits,
    clean_cost, attempt_count, passed_count, is_advised, because.
    """
    rows = [
        {
            "course": "clean_first", "depth": one.depth, "expected_cost": one.expected_cost,
            "pass_chance": one.pass_chance.estimate, "pass_chance_low": one.pass_chance.low,
            "pass_chance_high": one.pass_chance.high, "clean_cost": one.clean_cost,
            "attempt_count": one.attempts, "passed_count": one.passed,
            "is_advised": answer.course == "clean_first" and one.depth == answer.depth, "because": one.because,
        }
        for one in answer.depths
    ]  # fmt: skip
    rows += [
        {"course": course, "expected_cost": cost, "is_advised": course == answer.course}
        for course, cost in answer.expected_cost.items()
        if course != "clean_first"
    ]
    frame = pd.DataFrame(rows)
    return frame.astype({"attempt_count": "Int64", "passed_count": "Int64", "because": object})


def bench_csv(answer: CleanOrReplace) -> str:
    """Return `course_table` as CSV."""
    return frame_csv(course_table(answer))


def _courses(answer: CleanOrReplace) -> str:
    if not answer.expected_cost:
        return ""
    order = sorted(answer.expected_cost, key=answer.expected_cost.get)
    rows = [(bench.course_words(one), money_words(answer.expected_cost[one], answer.currency)) for one in order]
    return aligned([("", "expected cost"), *rows])


def _depths(answer: CleanOrReplace) -> str:
    if len(answer.depths) < 2:
        return ""
    rows = [("first clean", "passes", "interval", "one clean", "expected cost", "this family, any fault")]
    for one in answer.depths:
        chance = one.pass_chance
        rows.append((
            verdict.value_words("depth", one.depth),
            "–" if chance.estimate is None else verdict.share_words(chance.estimate),
            "–" if chance.estimate is None else verdict.limits_words(chance.low, chance.high, verdict.share_words),
            "–" if one.clean_cost is None else money_words(one.clean_cost, answer.currency),
            "–" if one.expected_cost is None else money_words(one.expected_cost, answer.currency),
            f"{one.passed:,} of {one.attempts:,}",
        ))  # fmt: skip
    return aligned(rows)


def _wanted(head: str, missing: list) -> str:
    wanted = [fill(f"  --set {one.name}=…  [{one.unit}] {one.help}", WIDTH, subsequent_indent="      ") for one in missing]
    return "\n".join([head, *wanted]) if wanted else ""
