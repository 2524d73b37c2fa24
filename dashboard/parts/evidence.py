"""What stands under a verdict: figure, table, export, what was left out, and the method."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from importlib.resources import files

import pandas as pd
import streamlit as st

from dashboard.parts import text
from dashboard.parts.export import answer_sheets, export_buttons
from dashboard.parts.grid import HELP, grid
from dashboard.parts.picture import picture
from dashboard.parts.verdict import LEAST_FAILURES
from pipelines.answers.factors_record import FactorGroup
from pipelines.answers.record import Answer, CleaningGroup
from pipelines.answers.table import table
from pipelines.charts import factors as compared
from pipelines.charts import restoration as restored
from pipelines.charts import share, survival
from pipelines.vocabulary import Because, Clock, Question
from pipelines.wording import realism
from pipelines.wording.verdict import column_words, left_out_words, reason_words, share_words, value_words

_FEW = "too few to say"
_WHOLE = st.column_config.NumberColumn(format="%,.0f")


def curves(answer: Answer, *, is_age_known: bool = True) -> None:
    """Show the survival curves of an answer, if it has any."""
    if not survival.shown(answer, is_age_known=is_age_known):
        return
    _figure(
        survival.survival_figure(answer, is_age_known=is_age_known), key=f"curves_{is_age_known}",
        alt=f"Survival curves. {answer.sentence}", undrawn=survival.undrawn(answer, is_age_known=is_age_known), what="curves",
    )  # fmt: skip


@st.fragment
def unknown_age(answer: Answer) -> None:
    """Show the modules of unknown age apart, if there are any, once it is opened; they never enter the curves above."""
    if not survival.shown(answer, is_age_known=False):
        return
    count = answer.left_out["age_unknown"]
    box = st.expander(f"Modules of unknown age, since first seen ({count:,})", key="unknown_age", bind="query-params")
    if not box.open:
        return
    with box:
        text.paragraph("Their age is not known, so the time runs from when they were first seen good, and they stand apart.")
        for group in answer.groups:
            if len(answer.groups) == 1 and group.since_first_seen is not None:
                text.paragraph(group.since_first_seen.sentence)
        curves(answer, is_age_known=False)
        _grid(*_life_rows(answer, is_age_known=False), key="groups_unknown_age")


def cautions() -> None:
    """Show what can hurt at the bench."""
    with st.expander("Cautions for the work at the bench"):
        st.markdown(help_text("cautions"))


def shares(answer: Answer) -> None:
    """Show the shares of a cleaning-success answer, if anything was cleaned."""
    if not share.shown(answer):
        return
    _figure(
        share.share_figure(answer), key="shares", alt=f"Shares with their intervals. {answer.sentence}",
        undrawn=share.undrawn(answer), what="groups",
    )  # fmt: skip


def restoration(answer: Answer) -> None:
    """Show what a clean gives back by its depth, and how many hold, with the table and the export."""
    if restored.shown(answer):
        picture(restored.restoration_figure(answer), key="restoration", alt=f"What a clean gives back. {answer.sentence}")
        if restored.undrawn(answer):
            text.quiet(f"Only the first rows are drawn; the table below holds {restored.undrawn(answer):,} more.")
    columns = ("depth", "clean_count", "restoration_share", "holding_share", "because")
    grid(table(answer), answer, columns, key="groups")
    export_buttons(answer.question, lambda: answer_sheets(answer))


def factors(answer: Answer, group: FactorGroup) -> None:
    """Show how the levels of each factor differ, for first lives or after cleans, with the table and the export."""
    st.subheader("First life of a module" if group.of == Question.TIME_TO_FAILURE else "After a clean")
    text.paragraph(group.sentence)
    if not group.ratios:
        return
    picture(compared.factor_figure(group), key=f"factors_{group.of}", alt=f"Times as often each drifts. {group.sentence}")
    one = replace(answer, by=[], groups=[group])
    columns = ["factor", "level", "is_reference", "failure_count", "spell_count", "hazard_ratio", "life_ratio"]
    columns += ["is_changing"] if any(check.is_changing for check in group.checks) else []
    grid(table(one), one, columns, key=f"groups_{group.of}")
    export_buttons(f"{answer.question}_{group.of}", lambda: answer_sheets(one))


def _figure(figure, *, key: str, alt: str, undrawn: int, what: str) -> None:
    picture(figure, key=key, alt=alt)
    if undrawn:
        text.quiet(f"Only the largest {what} are drawn; the table below holds {undrawn:,} more.")


def groups_table(answer: Answer) -> None:
    """Show one row per group, small ones greyed and marked, and the export buttons."""
    if not answer.groups:
        return
    if isinstance(answer.groups[0], CleaningGroup):
        frame, shares = _cleaning_rows(answer)
        _grid(frame, {"passed": _WHOLE, "of": _WHOLE}, key="groups", shares=shares)
    else:
        _grid(*_life_rows(answer, is_age_known=True), key="groups")
    export_buttons(answer.question, lambda: answer_sheets(answer))
    text.quiet(realism.note(answer.question))


def _grid(frame: pd.DataFrame, columns: dict, *, key: str, shares: Sequence[str] = ()) -> None:
    is_small = frame["note"].str.contains(_FEW, regex=False)
    notes = frame.pop("note")
    if notes.any():  # beside the counts, where a phone shows it too
        frame.insert(frame.columns.get_loc("of") + 1, "note", notes)
    styled = frame.style.apply(lambda column: ["color: #808080" if small else "" for small in is_small])
    st.dataframe(
        styled.format(_share, subset=shares, na_rep="–") if shares else styled,
        column_config=columns, hide_index=True, placeholder="–", height="content" if len(frame) <= 16 else 600, key=key,
    )  # fmt: skip


def left_out(answer: Answer) -> None:
    """Say what the answer could not use."""
    counts = [(f"{count:,}", left_out_words(key)) for key, count in answer.left_out.items() if count]
    with st.expander(f"Left out or noted ({len(counts)})"):
        if counts:
            text.listed((f"{count} {words}",) for count, words in counts)
        else:
            text.paragraph("Nothing was left out.")


def method(answer: Answer) -> None:
    """Show how the numbers were made, for a statistician, and the settings that were used."""
    with st.expander("How this is worked out"):
        st.markdown(help_text(answer.question.replace("-", "_")))
        used = ", ".join(f"{name} = {'blank' if value is None else value}" for name, value in answer.settings.items())
        text.quiet(f"Log watched from {answer.log_start} to {answer.log_end}. Settings: {used}.")


def help_text(name: str) -> str:
    """Return one of the help pages (markdown of our own, no text from a log)."""
    return files("pipelines.wording").joinpath("help", f"{name}.md").read_text(encoding="utf-8")


def _named(answer: Answer, flat: pd.DataFrame) -> pd.DataFrame:
    if not answer.by:
        return pd.DataFrame({"group": ["all together"] * len(flat)})
    return pd.DataFrame({
        column_words(column): [value_words(column, None if pd.isna(value) else value) for value in flat[column]]
        for column in answer.by
    })  # fmt: skip


def _share(value: float) -> str:
    return "–" if pd.isna(value) else share_words(value)


def _cleaning_rows(answer: Answer) -> tuple[pd.DataFrame, list[str]]:
    flat, durable = table(answer), answer.groups[0].durable
    held = f"good after {durable.horizon:g} {'h' if durable.unit == Clock.HOURS else 'days'}"
    frame = _named(answer, flat).assign(**{
        "passed": flat["passed_count"], "of": flat["attempt_count"],
        "same day": flat["same_day_share"], "from": flat["same_day_low"], "to": flat["same_day_high"],
        held: flat.iloc[:, flat.columns.get_loc("durable_low") - 1],
        "from ": flat["durable_low"], "to ": flat["durable_high"],
        "note": [
            _note([group.because, group.durable.because], is_small=group.same_day.n < share.FEW_ATTEMPTS)
            for group in answer.groups
        ],
    })  # fmt: skip
    shares = ["same day", "from", "to", held, "from ", "to "]
    return frame.astype(dict.fromkeys(shares, float)), shares


def _life_rows(answer: Answer, *, is_age_known: bool) -> tuple[pd.DataFrame, dict]:
    flat, unit = table(answer), "h" if answer.clock == Clock.HOURS else "days"
    flat = flat[(flat["age"] == "known") == is_age_known].reset_index(drop=True)
    names = {
        "b10": f"one in ten by, {unit}", "b10_low": "from", "b10_high": "to",
        "median": f"half by, {unit}", "median_low": "from ", "median_high": "to ",
        "weibull_shape": "Weibull shape", "weibull_shape_low": "from  ", "weibull_shape_high": "to  ",
    }  # fmt: skip
    frame = _named(answer, flat).assign(**{"failed": flat["failure_count"], "of": flat["spell_count"]})
    frame = frame.assign(**{shown: flat[column].astype(float) for column, shown in names.items()})
    frame["note"] = [
        _note([row.because, row.median_because], is_small=row.failure_count < LEAST_FAILURES) for row in flat.itertuples()
    ]
    formats = {
        name: st.column_config.NumberColumn(format="%.2f", help=HELP.get(column)) if column.startswith("weibull") else _WHOLE
        for column, name in names.items()
    }
    return frame, {"failed": _WHOLE, "of": _WHOLE, **formats}


def _note(reasons: list[Because | None], *, is_small: bool) -> str:
    # a limit that is not reached shows as a dash already
    given = [Because(reason) for reason in dict.fromkeys(reasons) if reason and not pd.isna(reason)]
    said = [reason_words(reason) for reason in given if reason is not Because.LIMIT_NOT_REACHED]
    return "; ".join([_FEW, *said] if is_small else said)
