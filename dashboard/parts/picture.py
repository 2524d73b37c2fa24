"""A figure on the page, and the choice of the group that it shows."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from pipelines.answers.record import CleaningGroup, LifeGroup
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


def _size(group: Group) -> int:
    return group.counts["attempts" if isinstance(group, CleaningGroup) else "failures"]
