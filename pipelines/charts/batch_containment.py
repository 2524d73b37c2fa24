"""Where the modules of a batch are in service: a bar for each site, those that may be of it behind in grey."""

from __future__ import annotations

import plotly.graph_objects as go

from pipelines.answers.batch_containment_record import BatchContainment
from pipelines.charts.frame import escaped, framed
from pipelines.charts.theme import SCREEN, Palette

#: More sites than this no longer fit; the rest stand together.
MOST_SITES = 15
_ROW, _AROUND = 34, 90


def places_figure(answer: BatchContainment, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw controllers in service by site, the site with most on top."""
    rows = [(one.site or "no site on record", one.carries, one.may_carry) for one in answer.sites]
    if len(rows) > MOST_SITES:
        rest = rows[MOST_SITES - 1 :]
        rows = [*rows[: MOST_SITES - 1], (f"{len(rest)} more sites", *(sum(one[place] for one in rest) for place in (1, 2)))]
    names = [escaped(name) for name, *_ in rows]
    figure = framed(palette, height=_AROUND + _ROW * max(len(rows), 1))
    series = ((1, "carry it", palette.line(0)), (2, "may carry it", palette.grey))
    for place, name, colour in series:
        if any(one[place] for one in rows):
            figure.add_bar(
                y=names, x=[one[place] for one in rows], orientation="h", name=name, marker={"color": colour, "opacity": 0.85},
                text=[f"{one[place]:,}" if one[place] else "" for one in rows], textposition="auto", showlegend=True,
                hovertemplate=f"%{{y}}: %{{x:,}} {name}<extra></extra>",
            )  # fmt: skip
    figure.update_layout(barmode="stack")
    figure.update_xaxes(title="controllers in service", rangemode="tozero", tickformat=",", nticks=6)
    figure.update_yaxes(type="category", autorange="reversed", showgrid=False)
    return figure
