"""Whether predicted chances come true: of each tenth of the cleans, the share that passed against the chance predicted."""

from __future__ import annotations

import plotly.graph_objects as go

from pipelines.answers.clean_or_replace_record import Calibration
from pipelines.charts.frame import escaped, framed
from pipelines.charts.theme import SCREEN, Palette
from pipelines.wording.verdict import limits_words, share_words

_HEIGHT = 380
_TICKS = [0, 0.25, 0.5, 0.75, 1]


def reliability_figure(found: Calibration, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the bands as dots with their intervals, and the line on which chances come true exactly."""
    figure = framed(palette, height=_HEIGHT)
    figure.add_scatter(
        x=[0, 1], y=[0, 1], mode="lines", name="comes true exactly", hoverinfo="skip",
        line={"color": palette.grey, "width": 1, "dash": "dot"},
    )  # fmt: skip
    bands = found.bands
    figure.add_scatter(
        x=[one.chance for one in bands], y=[one.share for one in bands], mode="markers", name="cleans on record",
        marker={"color": palette.line(0), "size": 9},
        error_y={
            "type": "data", "symmetric": False, "color": palette.line(0), "thickness": 1.8, "width": 0,
            "array": [max(one.high - one.share, 0) for one in bands],
            "arrayminus": [max(one.share - one.low, 0) for one in bands],
        },
        customdata=[
            escaped(
                f"predicted {share_words(one.chance)}: {one.k:,.0f} of {one.n:,.0f} passed, {share_words(one.share)} "
                f"({limits_words(one.low, one.high, share_words)})"
            )
            for one in bands
        ],
        hovertemplate="%{customdata}<extra></extra>",
    )  # fmt: skip
    figure.update_xaxes(range=[-0.02, 1.02], tickformat=".0%", tickvals=_TICKS, zeroline=False, showgrid=True,
                        title="chance predicted from other controllers")  # fmt: skip
    figure.update_yaxes(range=[-0.02, 1.02], tickformat=".0%", tickvals=_TICKS, zeroline=False, showgrid=True,
                        title="share that passed")  # fmt: skip
    return figure
