"""A figure on the page, and the choice of the group that it shows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import wraps

import streamlit as st

from dashboard.parts import text
from dashboard.parts.filters import Chosen
from pipelines.answers.record import Answer, CleaningGroup, LifeGroup
from pipelines.wording.label import label

Group = LifeGroup | CleaningGroup


def picture(figure, *, key: str, alt: str) -> None:
    """Show a figure; alt: what it says, for those who do not see it."""
    st.plotly_chart(figure, key=key, alt=alt, config={"displayModeBar": False})


def one_of(groups: Sequence[Group], *, key: str) -> Group:
    """Return the only group, or the one that the reader picks; it opens with the one that has most behind it."""
    if len(groups) == 1:
        return groups[0]
    found = {tuple(group.by.values()): group for group in groups}
    first = max(range(len(groups)), key=lambda place: _size(groups[place]))
    picked = st.selectbox("Shown", list(found), index=first, format_func=lambda by: label(found[by].by), key=key)
    return found[picked]


def told(groups: Sequence[Group], part: str) -> list:
    """Return the groups that have this part, refused or not."""
    return [group for group in groups if getattr(group, part)]


def of_one(part: str, *, key: str, otherwise: str) -> Callable[[Callable[[Answer, Group, Chosen], None]], Callable]:
    """Make a section of an answer of one that shows a single group, picked from those with `part`; without any: `otherwise`."""

    def section(show: Callable[[Answer, Group, Chosen], None]) -> Callable[[Answer, Chosen], None]:
        @wraps(show)
        def shown(answer: Answer, chosen: Chosen) -> None:
            groups = told(answer.groups, part)
            if groups:
                show(answer, one_of(groups, key=key), chosen)
            else:
                text.paragraph(otherwise)

        return shown

    return section


def _size(group: Group) -> int:
    return group.counts["attempts" if isinstance(group, CleaningGroup) else "failures"]
