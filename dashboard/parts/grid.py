"""Tables of estimates on the page: everyday headings over the columns of the exports."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd
import streamlit as st

from pipelines.answers.record import Answer
from pipelines.vocabulary import Because, Clock
from pipelines.wording.verdict import column_words, reason_words, share_words, value_words

_COUNT = st.column_config.NumberColumn
_SHAPE_HELP = "Above 1 drift gets likelier with age (wear); at 1 age makes no difference; below 1 it gets rarer."
#: What stands behind a heading that not everybody knows.
HELP = {
    "shape": _SHAPE_HELP,
    "weibull_shape": _SHAPE_HELP,
    "design_effect": "How many times as much the share or life may vary as if each stick stood for itself.",
}
#: Rows that the page fits the width of a column by.
_FITTED_BY = 8
_FORMAT = {"count": "%,.0f", "time": "%,.0f", "number": "%.2f", "p": "%.3f"}
#: Column → what it holds, and its heading; {unit} is that of the clock. Limits are headed by `from` and `to`.
_HEADING = {
    "failure_count": ("count", "failed"),
    "spell_count": ("count", "of"),
    "passed_count": ("count", "passed"),
    "attempt_count": ("count", "of"),
    "clean_count": ("count", "cleans"),
    "controller_count": ("count", "controllers"),
    "site_count": ("count", "sites"),
    "between_count": ("count", "between visits"),
    "tried_count": ("count", "cleaned"),
    "late_count": ("count", "watched later"),
    "module_count": ("count", "modules"),
    "gap_count": ("count", "stretches"),
    "rank": ("count", "rank"),
    "best_chance": ("share", "chance of being first"),
    "b10": ("time", "one in ten by, {unit}"),
    "median": ("time", "half by, {unit}"),
    "pooled_b10": ("time", "together: one in ten by, {unit}"),
    "pooled_median": ("time", "together: half by, {unit}"),
    "weibull_b10": ("time", "Weibull: one in ten by, {unit}"),
    "lognormal_b10": ("time", "lognormal: one in ten by, {unit}"),
    "weibull_median": ("time", "Weibull: half by, {unit}"),
    "lognormal_median": ("time", "lognormal: half by, {unit}"),
    "drawn_to": ("time", "by, {unit}"),
    "from_at": ("time", "falls from, {unit}"),
    "to_at": ("time", "to, {unit}"),
    "at_risk": ("count", "at risk"),
    "surviving_share": ("share", "still good"),
    "weibull_share": ("share", "Weibull: still good"),
    "lognormal_share": ("share", "lognormal: still good"),
    "failed_share": ("share", "share drifted"),
    "same_day_share": ("share", "same day"),
    "pooled_same_day_share": ("share", "together: same day"),
    "pooled_durable_share": ("share", "together: still good"),
    "tried_share": ("share", "share cleaned"),
    "standardised_share": ("share", "had all been cleaned"),
    "lowest_share": ("share", "at the least"),
    "restoration_share": ("share", "age given back"),
    "holding_share": ("share", "still good"),
    "assumed_shape": ("number", "assumed shape"),
    "design_effect": ("number", "design effect"),
    "variance_between": ("number", "how much controllers differ"),
    "shape": ("number", "Weibull shape"),
    "weibull_shape": ("number", "Weibull: shape"),
    "width_ratio": ("number", "limits: × as wide"),
    "b10_ratio": ("number", "one in ten: × as late"),
    "median_ratio": ("number", "half: × as late"),
    "shape_ratio": ("number", "shape: × as large"),
    "mean_count": ("number", "failures each"),
    "hazard_ratio": ("number", "× as often"),
    "life_ratio": ("number", "lasts × as long"),
    "aic_difference": ("number", "AIC, Weibull less lognormal"),
    "p_value": ("p", "p"),
    "better": ("word", "fits better"),
    "failed_by": ("word", "found"),
    "trend": ("word", "with age"),
    "depth": ("word", "clean"),
    "factor": ("word", "column"),
    "level": ("word", "level"),
    "is_reference": ("word", "compared with"),
    "is_changing": ("word", "changes with age"),
    "because": ("word", "note"),
}
_WORD = {
    "weibull": "Weibull", "too_close": "too close to say", "getting_more_frequent": "more often", "getting_rarer": "more rarely",
    "no_trend_shown": "no trend shown", "too_few": "too few to say",
}  # fmt: skip


def grid(frame: pd.DataFrame, answer: Answer, columns: Sequence[str], *, key: str) -> None:
    """Show these columns of a table behind the grouping columns, each with its limits where the table has them."""
    names = [*answer.by, *(name for column in columns for name in (column, f"{column}_low", f"{column}_high"))]
    shown = frame[[name for name in dict.fromkeys(names) if name in frame.columns and frame[name].notna().any()]].copy()
    unit, config, shares = "h" if answer.clock == Clock.HOURS else "days", {}, []
    for name in shown.columns:
        kind, heading = _kind(name, answer.by)
        said = heading.format(unit=unit)
        if kind == "word":
            shown[name] = [_word(name, value, frame, place) for place, value in enumerate(frame[name])]
            config[name] = st.column_config.Column(said, width=wide_enough(shown[name]))
        else:
            config[name] = st.column_config.Column(said) if kind == "share" else _COUNT(
                said, format=_FORMAT[kind], help=HELP.get(name)
            )  # fmt: skip
            shown[name] = shown[name].astype(float)
            shares += [name] if kind == "share" else []
    st.dataframe(
        shown.style.format(_share, subset=shares) if shares else shown, column_config=config, hide_index=True,
        placeholder="–", height="content" if len(shown) <= 16 else 600, key=key,
    )  # fmt: skip


def wide_enough(words: Sequence[str]) -> int | None:
    """Return the width in pixels of a column of words whose longest is not among the first, by which alone it is fitted."""
    lengths = [len(one) for one in words]
    longest = max(lengths, default=0)
    return 7 * longest + 20 if longest > max(lengths[:_FITTED_BY], default=0) else None


def _kind(name: str, by: Sequence[str]) -> tuple[str, str]:
    if name in by:
        return "word", column_words(name)
    for ending, heading in (("_low", "from"), ("_high", "to")):
        if name.endswith(ending):
            return _HEADING[name.removesuffix(ending)][0], heading
    return _HEADING[name]


def _word(name: str, value: object, frame: pd.DataFrame, place: int) -> str:
    is_blank = pd.isna(value)
    if name == "because":
        return "" if is_blank else reason_words(Because(value))
    if name == "level":
        return value_words(frame["factor"].iloc[place], None if is_blank else value)
    if name == "failed_by":
        return value_words("mechanism", None if value == "not_recorded" else value)
    if name == "factor":
        return column_words(value)
    if name in ("is_reference", "is_changing"):
        return "" if is_blank or not value else "yes"
    if name in _HEADING and name != "depth":
        return "" if is_blank else _WORD.get(value, str(value))
    return value_words(name, None if is_blank else value)


def _share(value: float) -> str:
    return "–" if pd.isna(value) else share_words(value)
