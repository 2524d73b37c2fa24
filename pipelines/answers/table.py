"""The answer as a flat table, one row a group: what the command line prints as CSV and the screens show and export."""

from __future__ import annotations

import pandas as pd

from pipelines.answers.factors_record import FactorGroup
from pipelines.answers.record import Answer, CleaningGroup, LifeGroup, LifePart
from pipelines.answers.restoration_record import RestorationGroup
from pipelines.estimates.estimate import Estimate


def table(answer: Answer) -> pd.DataFrame:
    """Return one row per group: its grouping columns, then counts and estimates with limits; times in the clock's unit.

    Modules of unknown age follow as rows of their own with `age` = `since_first_seen`. Restoration has one row per depth
    of clean (one without a depth where nothing can be said), factors one per level.
    """
    rows = []
    for group in answer.groups:
        if isinstance(group, CleaningGroup):
            rows.append({**group.by, **_cleaning(group)})
            continue
        if isinstance(group, RestorationGroup | FactorGroup):
            rows += _restoration(group) if isinstance(group, RestorationGroup) else _factors(group)
            continue
        rows.append({**group.by, "age": "known", **_life(group), **_survivors(group)})
        if group.since_first_seen is not None:
            rows.append({**group.by, "age": "since_first_seen", **_life(group.since_first_seen)})
    return pd.DataFrame(rows)


def csv_text(answer: Answer) -> str:
    """Return the table as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(table(answer))


def frame_csv(frame: pd.DataFrame) -> str:
    """Return a table as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame.map(harmless).to_csv(index=False)


def harmless(value: object) -> object:
    """Return a cell that no spreadsheet runs as a formula."""
    return f"'{value}" if isinstance(value, str) and value.startswith(("=", "+", "-", "@", "\t", "\r")) else value


def named(name: str, one: Estimate | None) -> dict[str, float | None]:
    """Return the cells of an estimate and its limits: name, name_low, name_high."""
    return {name: one and one.estimate, f"{name}_low": one and one.low, f"{name}_high": one and one.high}


def _cleaning(group: CleaningGroup) -> dict[str, object]:
    same_day, durable = group.same_day, group.durable
    return {
        "passed_count": same_day.k,
        "attempt_count": same_day.n,
        "same_day_share": same_day.share,
        "same_day_low": same_day.low,
        "same_day_high": same_day.high,
        f"durable_share_{durable.horizon:g}_{durable.unit}": durable.share,
        "durable_low": durable.low,
        "durable_high": durable.high,
        "durable_n_effective": durable.n_effective,
        "durable_because": durable.because,
        "followed_count": group.counts["followed"],
        "because": group.because,
    }


def _life(part: LifeGroup | LifePart) -> dict[str, object]:
    return {
        "module_count": part.counts["modules"],
        "spell_count": part.counts["spells"],
        "failure_count": part.counts["failures"],
        **_named("b10", part.curve_quantiles["b10"]),
        **_named("median", part.curve_quantiles["median"]),
        **_named("weibull_shape", part.weibull.shape),
        **_named("weibull_scale", part.weibull.scale),
        **_named("weibull_b10", part.weibull.b10),
        **_named("weibull_median", part.weibull.median),
        "because": part.because or part.weibull.because,
    }


def _survivors(group: LifeGroup) -> dict[str, object]:
    part = group.surviving_at
    if part is None:
        return {}
    at = f"{part.age:g}_{part.unit}"
    shares = (("", part.curve), ("weibull_", part.weibull), ("lognormal_", part.lognormal))
    return {key: value for law, one in shares for key, value in _named(f"{law}surviving_share_{at}", one).items()}


def _restoration(group: RestorationGroup) -> list[dict[str, object]]:
    counts = {f"{name.removesuffix('s')}_count": group.counts[name] for name in ("modules", "gaps", "failures")}
    head = {**group.by, **counts, **_named("shape", group.shape), "because": group.because}
    return [
        {**head, "depth": one.depth, "clean_count": one.cleans, **_named("restoration_share", one.restoration_share),
         **_named("holding_share", one.holding_share)}
        for one in group.effects
    ] or [head]  # fmt: skip


def _factors(group: FactorGroup) -> list[dict[str, object]]:
    head = {"of": group.of, "because": group.because}
    changing = {one.factor: one.is_changing for one in group.checks}
    return [
        {**head, "factor": one.factor, "level": one.level, "is_reference": one.is_reference, "spell_count": one.spells,
         "failure_count": one.failures, **_named("hazard_ratio", one.hazard_ratio), **_named("life_ratio", one.life_ratio),
         "is_changing": changing.get(one.factor)}
        for one in group.ratios
    ] or [{**head, "spell_count": group.counts["spells"], "failure_count": group.counts["failures"]}]  # fmt: skip


def _named(name: str, one: Estimate) -> dict[str, object]:
    return {**named(name, one), f"{name}_because": one.because}
