"""The screen of one stick: its form, the advice with its pictures, and a file of many sticks."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import source
from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import XLSX, export_buttons
from dashboard.parts.kept import KEPT
from dashboard.parts.picture import picture
from pipelines.answers.bench_case import DEPTHS, most_of
from pipelines.answers.bench_file import ADVICE_COLUMNS, AdvisedFile, file_bytes
from pipelines.answers.bench_money import BENCH_COSTS
from pipelines.answers.bench_record import BenchRecord
from pipelines.answers.bench_text import calibration_words, course_table
from pipelines.answers.clean_or_replace_record import Calibration, CleanOrReplace
from pipelines.charts.courses import course_bars, course_figure
from pipelines.charts.reliability import reliability_figure
from pipelines.errors import FleetError, InputError
from pipelines.settings import Settings
from pipelines.vocabulary import Because, FailureMechanism, FailureMode, SensorType
from pipelines.wording import bench as words
from pipelines.wording.verdict import reason_words, share_words, value_words

_READINGS = {
    "af_rest_offset_pct": "Rest offset, %", "af_jitter_pct": "Jitter, %", "af_return_spread_pct": "Return spread, %",
    "af_reach_pct": "Reach, %", "af_linearity_pct": "Linearity, %",
}  # fmt: skip
_CHOICES = {
    "mode": ("Fault found", FailureMode),
    "mechanism": ("Mechanism, if seen", FailureMechanism),
    "sensor_type": ("Sensor", SensorType),
}
#: The first columns of a file stand before the advice in what is shown of it; the download holds all.
_FIRST, _MOST_ROWS = 4, 200
_TYPES = ["csv", "tsv", "txt", "xlsx", "xlsm", "xls", "ods", "parquet", "gz"]


def stick(record: BenchRecord) -> dict[str, str]:
    """Show the form of a stick and return the words of the case, as `stickfleet answer clean-or-replace --case` takes them."""
    case: dict[str, object] = {}
    with st.container(border=True, key="stick_form"):
        first = st.columns(4)
        with first[0]:
            known = sorted(record.families, key=str.casefold)
            case["family"] = st.selectbox("Family", known, index=None, key="stick_family", placeholder="not said", **KEPT)
        for column, (name, (label, kind)) in zip(first[1:], _CHOICES.items(), strict=True):
            with column:
                case[name] = _choice(label, [one.value for one in kind if one.value != "unknown"], name)
        for column, (name, label) in zip(st.columns(len(_READINGS)), _READINGS.items(), strict=True):
            case[name] = column.number_input(
                label, value=None, min_value=0.0, max_value=most_of(name), step=0.1, format="%.1f", key=name,
                placeholder="not read", help="As found, of half-scale (linearity: of the span).", **KEPT,
            )  # fmt: skip
        last = st.columns(3)
        with last[0]:
            case["depth"] = st.selectbox(
                "How it would be cleaned", DEPTHS, index=None, key="stick_depth", placeholder="whichever is cheapest",
                format_func=lambda depth: value_words("depth", depth), **KEPT,
            )  # fmt: skip
        before = last[1].number_input("Cleans of this module so far", value=0, min_value=0, max_value=1000, step=1,
                                      key="stick_cleans", **KEPT)  # fmt: skip
        failed = last[2].number_input("Failed since one passed", value=0, min_value=0, max_value=1000, step=1,
                                      key="stick_failed", **KEPT)  # fmt: skip
    if not any(value is not None for value in case.values()):
        return {}
    case |= {"attempt_number": before + 1, "failed_tries": failed}
    return {name: str(value) for name, value in case.items() if value is not None}


def advice(answer: CleanOrReplace) -> None:
    """Show what to do, what it costs against the other courses, and what that rests on."""
    is_sure = answer.course is not None and not answer.is_close and not answer.is_rule_of_thumb
    head, _, rest = answer.sentence.partition(": " if is_sure else ". ")
    (text.answer if answer.course else text.lead)(f"{head.removesuffix('.')}.")
    if rest:
        text.paragraph(f"{rest[0].upper()}{rest[1:]}")
    for warning in answer.warnings:
        text.note(warning)
    if course_bars(answer):
        picture(course_figure(answer), key="courses", alt=f"Expected cost of each course. {answer.sentence}")
    frame = course_table(answer)
    _courses(frame, answer)
    export_buttons(answer.question, lambda: {"courses": frame})
    text.quiet(words.rests_on_sentence(answer.rests_on))


def come_true(calibration: Calibration) -> None:
    """Show whether the chances come true, out of sample."""
    st.subheader("Do these chances come true?")
    said = calibration_words(calibration)
    text.paragraph(said)
    if calibration.because is None:
        picture(reliability_figure(calibration), key="reliability", alt=f"Chances predicted and shares that passed. {said}")


def many(settings: Settings) -> None:
    """Take a file of sticks and give it back with the advice."""
    st.subheader("A file of sticks")
    text.paragraph(
        "One row a stick, under the headings of your job log, or short: mode, mechanism, depth, attempt_number. "
        "You get the same rows in the same order, with the advice beside them; headings not understood "
        "are listed. The costs above count for all. How often a stick was cleaned is looked up by its unit and side."
    )
    given = st.file_uploader("CSV, Excel or Parquet", type=_TYPES, key="sticks_file")
    if given is None:
        return
    try:
        advised = source.advised_file(given.name, given.getvalue(), settings)
    except InputError as error:
        text.note(error.what)
        text.paragraph("Give it as a table of its own, one row a stick, under the headings of your job log.")
        return
    except FleetError as error:
        text.note(error.what)
        text.paragraph(error.remedy)
        return
    text.paragraph(words.batch_sentence(advised.counts, advised.others, advised.not_understood))
    shown = _preview(advised)
    st.dataframe(shown, hide_index=True, placeholder="–", height="content" if len(shown) <= 16 else 600, key="sticks_table")
    if len(advised.table) - advised.heading > _MOST_ROWS:
        text.quiet(f"The first {_MOST_ROWS:,} rows; the files hold all.")
    name = given.name.partition(".")[0]
    with st.container(horizontal=True):
        for label, suffix, mime in (("CSV", ".csv", "text/csv"), ("Excel", ".xlsx", XLSX)):
            st.download_button(
                label, lambda suffix=suffix: file_bytes(advised, suffix), file_name=f"{name} with advice{suffix}", mime=mime,
                key=f"sticks{suffix}", on_click="ignore",
            )  # fmt: skip


def method(record: BenchRecord, settings: Settings) -> None:
    """Show how the advice is worked out, for a statistician, and the settings that count."""
    with st.expander("How this is worked out"):
        st.markdown(help_text("clean_or_replace"))
        used = ", ".join(f"{name} = {_said(value)}" for name, value in settings.as_plain().items() if name in BENCH_COSTS)
        text.quiet(f"Log watched from {record.lots.log_start} to {record.lots.log_end}. Settings: {used}.")


def _said(value: object) -> object:
    return "blank" if value is None else value


def _choice(label: str, options: list[str], name: str) -> str | None:
    return st.selectbox(
        label, options, index=None, key=f"stick_{name}", placeholder="not said",
        format_func=lambda word: word.replace("_", " "), **KEPT,
    )  # fmt: skip


def _courses(frame: pd.DataFrame, answer: CleanOrReplace) -> None:
    cost = f"expected cost, {answer.currency}" if answer.currency else "expected cost"
    shown = pd.DataFrame({
        "course": [words.course_words(one) for one in frame["course"]],
        "clean": ["" if pd.isna(one) else value_words("depth", one) for one in frame["depth"]],
        cost: frame["expected_cost"].astype(float),
        "passes": frame["pass_chance"].astype(float), "from": frame["pass_chance_low"].astype(float),
        "to": frame["pass_chance_high"].astype(float), "one clean": frame["clean_cost"].astype(float),
        "passed, this family, any fault": frame["passed_count"], "of": frame["attempt_count"],
        "note": ["advised" if advised else "" if pd.isna(because) else reason_words(Because(because))
                 for advised, because in zip(frame["is_advised"], frame["because"], strict=True)],
    })  # fmt: skip
    if not shown["note"].any():
        shown = shown.drop(columns="note")
    money = st.column_config.NumberColumn(format="%.2f")
    shares = ["passes", "from", "to"]
    st.dataframe(
        shown.style.format(lambda value: "–" if pd.isna(value) else share_words(value), subset=shares),
        column_config={cost: money, "one clean": money}, hide_index=True, placeholder="–", height="content",
        key="courses_table",
    )  # fmt: skip


def _preview(advised: AdvisedFile) -> pd.DataFrame:
    """Return the first rows with the first columns of the file and the advice."""
    lines = [list(advised.table.columns), *advised.table.head(advised.heading + _MOST_ROWS).to_numpy().tolist()]
    head, body = lines[advised.heading], lines[advised.heading + 1 :]
    own = len(head) - len(ADVICE_COLUMNS)
    places = [*range(min(_FIRST, own)), *range(own, len(head))]
    # a table on the page needs names that differ
    names = [head[at] if head[at] and head.index(head[at]) == at else f"{head[at]} ({at + 1})" for at in places]
    rows = [[_in_words(head[at], row[at]) if at >= own else row[at] for at in places] for row in body]
    frame = pd.DataFrame(rows, columns=[one.replace("_", " ") for one in names])
    return frame.astype(str).replace({"": None}).dropna(axis=1, how="all")


def _in_words(name: str, cell: str) -> str:
    """Return a cell of the advice; in the files its codes stay."""
    if cell and name in ("advice", "after_cleans"):
        return words.course_words(cell)
    return value_words("depth", cell) if cell and name == "advice_depth" else cell
