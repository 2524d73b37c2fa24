"""One of the tables of the heavier estimates on the page, with its export."""

from __future__ import annotations

from dataclasses import replace

from dashboard.parts.export import export_buttons
from dashboard.parts.grid import grid
from pipelines.answers import detail_table
from pipelines.answers.record import Answer, LifeGroup


def detail_grid(
    answer: Answer, name: str, columns: tuple[str, ...], *, only: LifeGroup | None = None, more: tuple[str, ...] = ()
) -> None:
    """Show one of the tables of `detail_table`, and export it whole, the tables `more` beside it; nothing without rows.

    only: the group whose rows are shown, where all of them would be too many.
    """
    whole = getattr(detail_table, name)(answer)
    if not len(whole):
        return
    shown = answer if only is None else replace(answer, groups=[only])
    grid(whole if only is None else getattr(detail_table, name)(shown), shown, columns, key=f"{name}_table")
    export_buttons(
        f"{answer.question}_{name}",
        lambda: {one.replace("_", " "): getattr(detail_table, one)(answer) for one in (name, *more)},
    )
