"""What drives a bid: for each input a bar from the bid at its low end to the bid at its high end, the longest on top."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from pipelines.charts.dots import add_rule, dot_figure, row_name
from pipelines.charts.frame import escaped
from pipelines.charts.theme import FAINT, SCREEN, Palette
from pipelines.decisions.bid import Swing
from pipelines.wording.costs import swing_range_words, swing_words
from pipelines.wording.lots import money_words

#: More bars than this no longer fit on a screen; swings under this share of the longest are not worth a bar.
MOST_BARS, LEAST = 10, 0.02
_ROW = 34


def sensitivity_figure(swings: Sequence[Swing], *, bid: float, unit: str, palette: Palette = SCREEN) -> go.Figure:
    """Draw the largest swings of the highest bid, which is `bid` as things stand. unit: the currency, "" where none is known."""
    rows = shown(swings)
    figure = dot_figure([row_name(swing_words(one.name)) for one in rows], palette, row_height=_ROW)
    for end, name, color in (
        ("low", "at its low end", palette.line(0) + FAINT), ("high", "at its high end", palette.line(0)),
    ):  # fmt: skip
        figure.add_bar(
            x=[getattr(one, f"bid_at_{end}") - bid for one in rows], base=bid, y=list(range(len(rows))), orientation="h",
            name=name, width=0.5, marker={"color": color, "line": {"width": 0}}, hovertemplate="%{customdata}<extra></extra>",
            customdata=[
                escaped(f"{swing_words(one.name)} {name}: bid {money_words(getattr(one, f'bid_at_{end}'), unit)}")
                + f"<br>{swing_range_words(one)}"
                for one in rows
            ],
        )  # fmt: skip
    add_rule(figure, bid, palette)
    ends = [value for one in rows for value in (one.bid_at_low, one.bid_at_high)] or [bid]
    room = (max(*ends, bid) - min(*ends, bid) or 1.0) * 0.06
    figure.update_layout(barmode="overlay")
    figure.update_xaxes(
        zeroline=False, showgrid=True, tickformat=",.0f", nticks=6, range=[min(*ends, bid) - room, max(*ends, bid) + room],
        title=f"highest bid{f', {escaped(unit)}' if unit else ''}",
    )  # fmt: skip
    return figure


def shown(swings: Sequence[Swing]) -> list[Swing]:
    """Return the swings that the figure draws, the longest first."""
    longest = max((one.size for one in swings), default=0.0)
    return [one for one in sorted(swings, key=lambda one: -one.size) if one.size > LEAST * longest][:MOST_BARS]
