"""Incoming inspection: successive batches against control limits, operating curves, and inspection against the field."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from pipelines.answers.batch_inspection_record import Chart, FieldPart, PlanTold
from pipelines.charts.frame import escaped, framed
from pipelines.charts.theme import DASHES, SCREEN, Palette
from pipelines.wording.batch_inspection import fine_share_words, origin_words, pct_words
from pipelines.wording.verdict import share_words

_HEIGHT = 340


def chart_figure(chart: Chart, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the shares of successive batches of a supplier, their limits in grey, filled what lies outside."""
    figure = framed(palette, height=_HEIGHT)
    at, points = [one.inspected_on for one in chart.points], chart.points
    grey = {"color": palette.grey, "width": 1}
    for name, values, dash in (("low", [one.low for one in points], "solid"), ("high", [one.high for one in points], "solid"),
                               ("all together", [chart.middle] * len(points), "dot")):  # fmt: skip
        figure.add_scatter(
            x=at, y=values, mode="lines", line=grey | {"dash": dash, "shape": "hvh"}, hoverinfo="skip",
            showlegend=name != "low", name="control limits" if name == "high" else name,
        )  # fmt: skip
    color = palette.line(0)
    for is_outside, name, symbol, size in ((False, "within", "circle-open", 8), (True, "outside", "circle", 11)):
        some = [one for one in points if one.is_outside is is_outside]
        figure.add_scatter(
            x=[one.inspected_on for one in some], y=[one.share for one in some], mode="markers", name=name,
            marker={"symbol": symbol, "size": size, "color": color, "line": {"width": 1.5, "color": color}},
            customdata=[escaped(f"{one.batch}: {fine_share_words(one.share)}") for one in some],
            hovertemplate="%{customdata}<extra></extra>",
        )  # fmt: skip
    top = 1.08 * max(*(one.share for one in points), *(one.high for one in points), 0.01)
    figure.update_yaxes(title="nonconforming", tickformat=".1~%", range=[-0.03 * top, top], zeroline=False)
    figure.update_xaxes(showgrid=False, zeroline=False)
    return figure


def plan_figure(plans: Sequence[PlanTold], *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the operating curve of each plan that there is, with the agreed limit of the first and twice that as lines."""
    told = [one for one in plans if one.because is None]
    figure = framed(palette, height=_HEIGHT)
    for place, one in enumerate(told):
        name = f"{one.sample:,} tested, up to {one.acceptance_number:,} accepted ({origin_words(one.origin)})"
        figure.add_scatter(
            x=[point.share for point in one.curve], y=[point.pass_chance for point in one.curve], mode="lines", name=name,
            line={"color": palette.line(place), "width": 2.2, "dash": DASHES[place % len(DASHES)]},
            customdata=[f"{fine_share_words(point.share)} nonconforming: passes in {share_words(point.pass_chance)}"
                        for point in one.curve],
            hovertemplate="%{customdata}<extra></extra>",
        )  # fmt: skip
    held = next((one for one in told if one.aql_pct), None)
    for times, dash in () if held is None else ((1, "solid"), (2, "dot")):
        at = times * held.aql_pct / 100
        said = "should pass" if held.origin == "two_points" else "agreed"
        figure.add_scatter(
            x=[at, at], y=[0, 1], mode="lines", hoverinfo="skip", line={"color": palette.grey, "width": 1, "dash": dash},
            name=f"{said}: {pct_words(held.aql_pct)}" if times == 1 else "twice that",
        )  # fmt: skip
    figure.update_yaxes(title="chance to pass", tickformat=".0%", range=[-0.02, 1.04], zeroline=False)
    figure.update_xaxes(title="share of the delivery nonconforming", tickformat=".2~%", zeroline=False, showgrid=False)
    return figure


def field_figure(part: FieldPart, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw for each batch the faults in the field, times expected, over its share at inspection; larger: more expected."""
    figure = framed(palette, height=_HEIGHT)
    color = palette.line(0)
    most = max(one.expected for one in part.batches)
    figure.add_scatter(
        x=[one.bad / one.tested for one in part.batches], y=[one.failures / one.expected for one in part.batches],
        mode="markers", showlegend=False, hovertemplate="%{customdata}<extra></extra>",
        marker={"symbol": "circle-open", "color": color, "size": [6 + 14 * (one.expected / most) ** 0.5 for one in part.batches],
                "line": {"width": 1.5, "color": color}},
        customdata=[escaped(f"{one.batch}: {one.bad} of {one.tested} at inspection; {one.failures} faults, "
                            f"{one.expected:,.1f} expected") for one in part.batches],
    )  # fmt: skip
    shares = [one.bad / one.tested for one in part.batches]
    figure.add_scatter(x=[0, max(shares)], y=[1, 1], mode="lines", hoverinfo="skip", showlegend=False,
                       line={"color": palette.grey, "width": 1, "dash": "dot"})  # fmt: skip
    title = f"found nonconforming at inspection of {escaped(part.characteristic)}"
    figure.update_xaxes(title=title, tickformat=".1~%", zeroline=False, showgrid=False)
    top = 1.1 * max(1.0, *(one.failures / one.expected for one in part.batches))
    figure.update_yaxes(title="faults, times expected at equal age", range=[-0.03 * top, top], zeroline=False)
    return figure
