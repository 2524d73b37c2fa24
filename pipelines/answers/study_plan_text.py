"""A planned study as text for the terminal, and as tables."""

from __future__ import annotations

from textwrap import fill

import pandas as pd

from pipelines.answers.study_plan_record import RatioPlan, StudyGroup, StudyPlan
from pipelines.answers.table import frame_csv
from pipelines.answers.text import FEW_GROUPS, WIDTH, frame_text
from pipelines.vocabulary import Clock
from pipelines.wording.costs import amount_words
from pipelines.wording.label import label
from pipelines.wording.verdict import level_words, limits_words, log_words, reason_words, share_words

#: The months of which a table tells.
MONTHS = (3, 6, 9, 12, 18, 24, 36, 48)


def study_plan_text(answer: StudyPlan) -> str:
    """Return the whole answer as text."""
    blocks = [
        f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · clock: {Clock(answer.clock)} · "
        f"{level_words(answer.level)} intervals"
    ]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    if 1 < len(answer.groups) <= FEW_GROUPS:
        blocks += [fill(f"{label(one.by)}: {one.sentence}", WIDTH, subsequent_indent="  ") for one in answer.groups]
    frame = shown_table(answer)
    if len(frame):
        blocks.append(frame_text(frame))
    blocks.append(fill(answer.test.sentence, WIDTH))
    tests = shown_tests(answer)
    if len(tests):
        blocks.append(frame_text(tests))
    return "\n\n".join(blocks)


def shown_table(answer: StudyPlan) -> pd.DataFrame:
    """Return one row per group, ratio and length of the study, in words."""
    rows = [
        {
            "group": label(group.by), "times as often": f"{plan.ratio:g}", "months": f"{size.months:g}",
            "modules in all": f"{size.modules.estimate:,.0f}",
            "interval": "–" if size.modules.low is None else limits_words(size.modules.low, size.modules.high, _whole),
            "modules of the batch": f"{size.new_modules:,}", "failures: batch": f"{size.batch_failures:,.0f}",
            "failures: others": f"{size.other_failures:,.0f}",
            "cost of the batch": "–" if size.cost is None else amount_words(size.cost),
        }
        for group, plan in _plans(answer)
        for size in [one for one in plan.sizes if one.months in MONTHS] + ([plan.wanted] if plan.wanted else [])
    ]  # fmt: skip
    frame = pd.DataFrame(rows)
    unused = ["group"] * (len(answer.groups) < 2) + ["cost of the batch"] * (answer.settings["part_cost"] is None)
    return frame.drop(columns=unused) if len(frame) else frame


def shown_tests(answer: StudyPlan) -> pd.DataFrame:
    """Return one row per number of failures allowed and time on test, in words."""
    test, unit = answer.test, "h" if answer.clock == Clock.HOURS else "days"
    others = {
        shape: {one.test_time: one.module_count for one in plans} for shape, plans in test.other_shapes.items()
    }  # fmt: skip
    rows = [
        {
            "failures allowed": f"{one.failures_allowed}", f"on test, {unit}": f"{one.test_time:,.6g}",
            "modules": f"{one.module_count:,}", "passes if they last just so long": share_words(one.pass_chance[0]),
            f"if {answer.case.better:g} times as long": share_words(one.pass_chance[1]),
            **{f"modules, shape {shape}": f"{counts.get(one.test_time, 0):,}" if one.failures_allowed == 0 else "–"
               for shape, counts in others.items()},
        }
        for one in test.plans
    ]  # fmt: skip
    return pd.DataFrame(rows)


def study_table(answer: StudyPlan) -> pd.DataFrame:
    """Return one row per group, ratio and month: all numbers, for files."""
    rows = [
        {
            **group.by, "ratio": plan.ratio, "months": size.months, "modules": size.modules.estimate,
            "modules_low": size.modules.low, "modules_high": size.modules.high, "new_modules": size.new_modules,
            "batch_failures": size.batch_failures, "other_failures": size.other_failures, "if_known": plan.if_known,
            "design_effect": group.design_effect, "cost": size.cost,
        }
        for group, plan in _plans(answer)
        for size in plan.sizes + ([plan.wanted] if plan.wanted else [])
    ]  # fmt: skip
    refused = [{**group.by, "because": reason_words(group.because)} for group in answer.groups if group.because is not None]
    return pd.DataFrame([*rows, *refused])


def tests_table(answer: StudyPlan) -> pd.DataFrame:
    """Return one row per test: all numbers, for files."""
    test = answer.test
    return pd.DataFrame([
        {
            "failures_allowed": one.failures_allowed, "test_time": one.test_time, "module_count": one.module_count,
            "shape": test.shape, "pass_chance": one.pass_chance[0], "pass_chance_if_better": one.pass_chance[1], "cost": cost,
        }
        for one, cost in zip(test.plans, test.costs, strict=True)
    ])  # fmt: skip


def study_plan_csv(answer: StudyPlan) -> str:
    """Return the sizes of the study as CSV; without any the tests."""
    frame = study_table(answer)
    return frame_csv(frame if len(frame) else tests_table(answer))


def _plans(answer: StudyPlan) -> list[tuple[StudyGroup, RatioPlan]]:
    return [(group, plan) for group in answer.groups for plan in group.ratios]


def _whole(value: float) -> str:
    return f"{value:,.0f}"
