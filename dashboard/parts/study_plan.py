"""A study of modules: what is asked, the verdict, the curves of modules against time, tests of a life, tables and export."""

from __future__ import annotations

import re

import streamlit as st

from dashboard import source
from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import asked_sheet, export_buttons
from dashboard.parts.kept import KEPT
from dashboard.parts.picture import picture
from pipelines.answers.question import BY_OF_A_CASE
from pipelines.answers.study_plan_record import StudyGroup, StudyPlan
from pipelines.answers.study_plan_text import shown_table, shown_tests, study_table, tests_table
from pipelines.answers.text import FEW_GROUPS
from pipelines.charts.study_plan import life_test_figure, study_figure
from pipelines.errors import SettingError
from pipelines.vocabulary import Question
from pipelines.wording.label import label
from pipelines.wording.verdict import column_words

#: Word of the case → label of its box, and what a blank one stands for.
_STUDY = {
    "months": ("It may take, months", "any"),
    "modules": ("Modules in all", "any"),
    "ratio": ("A worse batch fails … times as often", "1.5 and 2"),
    "new_share": ("Of the new batch, share", "0.5"),
    "enrol_months": ("Modules are fitted over, months", "0: all at once"),
    "lost_per_year": ("Lost from view in a year, share", "0"),
    "power": ("Chance to see it", "0.8"),
    "false_alarm": ("Chance of a false alarm", "0.05"),
    "hours_per_week": ("Play hours a week", "as on record"),
}
_TEST = {
    "life": ("Life to be shown", "none"),
    "life_share": ("Share failed by then", "0.1"),
    "confidence": ("Confidence", "0.9"),
    "shape": ("Weibull shape", "as on record"),
    "test_time": ("Time on test", "any"),
    "better": ("If they last … times as long", "2"),
}
_ACROSS = 3


def asked() -> tuple[tuple[str, ...], dict[str, list[str]], dict[str, str]]:
    """Ask for the study; return the splits, the filters and the words of the case."""
    known = source.choices("life")
    with st.sidebar:
        by = st.multiselect(
            "Split by", BY_OF_A_CASE[Question.STUDY_PLAN], format_func=column_words, key="study_by", placeholder="all together",
            select_all=False, **KEPT,
        )  # fmt: skip
        where = {
            column: st.multiselect(
                column_words(column).capitalize(), sorted(known.get(column, []), key=str.casefold), key=f"study_{column}",
                placeholder="all", select_all=False, **KEPT,
            )
            for column in ("family", "site")
        }  # fmt: skip
    with st.container(border=True, key="study"):
        case = _boxes(_STUDY)
        one = st.checkbox("One module in each controller, not two", key="study_single", **KEPT)
    if one:
        case["modules_per_controller"] = "1"
    with st.expander("A test that shows how long modules last", key="life_test", bind="query-params"):
        text.quiet(
            "Such a test needs nothing from the record but the shape of the Weibull law, where you give none. Times are in days "
            "or play hours, whichever the plan is in."
        )
        case |= _boxes(_TEST)
    return tuple(by), {column: values for column, values in where.items() if values}, case


def in_words(error: SettingError) -> SettingError:
    """Return the error with the boxes called as they are on the page."""
    titles = {name: title for name, (title, _) in (_STUDY | _TEST).items()}
    named = re.sub(r"\b([a-z_]+)(?= = |\.$)", lambda one: f"“{titles[one[1]]}”" if one[1] in titles else one[1], error.what)
    return SettingError(named, re.sub(r"\b[a-z_]+=", "", error.remedy))


def verdict(answer: StudyPlan) -> None:
    """Show what it takes, group by group where there are few, then what to mind."""
    text.lead_and_rest(answer.sentence)
    if 1 < len(answer.groups) <= FEW_GROUPS:
        text.listed((label(group.by), group.sentence) for group in answer.groups)
    for warning in answer.warnings:
        text.note(warning)


def study(answer: StudyPlan) -> None:
    """Show the curves of one group, and the table of all."""
    if drawn := [group for group in answer.groups if any(plan.sizes for plan in group.ratios)]:
        group = _one_of(drawn)
        picture(study_figure(group), key="study_sizes", alt=f"Modules by months of a study. {group.sentence}")
        _frame(shown_table(answer), key="sizes")
        export_buttons(answer.question, lambda: {"sizes": study_table(answer), **_tests(answer), "asked": asked_sheet(answer)})


def life_test(answer: StudyPlan) -> None:
    """Show the tests of a life, where one is asked for."""
    if answer.case.life is None:
        return
    st.subheader("A test that shows how long modules last")
    text.paragraph(answer.test.sentence)
    if answer.test.plans:
        picture(life_test_figure(answer), key="life_tests", alt=f"Modules by time on test. {answer.test.sentence}")
        _frame(shown_tests(answer), key="tests")
        export_buttons(f"{answer.question}_test", lambda: {**_tests(answer), "asked": asked_sheet(answer)})


def method(answer: StudyPlan) -> None:
    """Show how the numbers are made."""
    with st.expander("How this is worked out"):
        st.markdown(help_text("study_plan"))
        text.quiet(f"Log watched from {answer.log_start} to {answer.log_end}.")


def _boxes(words: dict[str, tuple[str, str]]) -> dict[str, str]:
    """Show a box for each word of the case; return what was typed."""
    typed: dict[str, str] = {}
    names = list(words)
    for start in range(0, len(names), _ACROSS):
        for column, name in zip(st.columns(_ACROSS), names[start : start + _ACROSS], strict=False):
            title, blank = words[name]
            typed[name] = column.text_input(title, key=f"study_{name}", placeholder=blank, **KEPT).strip()
    return {name: value for name, value in typed.items() if value}


def _one_of(groups: list[StudyGroup]) -> StudyGroup:
    """Return the only group, or the one that the reader picks; it opens with the one that has most failures."""
    if len(groups) == 1:
        return groups[0]
    first = max(range(len(groups)), key=lambda place: groups[place].counts["failures"])
    names = [label(group.by) for group in groups]
    return groups[names.index(st.selectbox("Shown", names, index=first, key="study_of"))]


def _tests(answer: StudyPlan) -> dict:
    return {"tests": tests_table(answer)} if answer.test.plans else {}


def _frame(frame, *, key: str) -> None:
    st.dataframe(frame, hide_index=True, key=key, height="content" if len(frame) <= 16 else 600)
