"""Places against luck: a funnel of many, by faults expected; or rows of rates with intervals for a few."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from pipelines.answers.fault_rates_record import Comparison, Place
from pipelines.charts.dots import MOST_ROWS, Dot, add_dots, dot_figure, row_name
from pipelines.charts.frame import escaped, framed
from pipelines.charts.theme import SCREEN, Palette
from pipelines.vocabulary import Clock
from pipelines.wording import fault_rates as wording
from pipelines.wording.verdict import counted, level_words

#: So many places make a funnel; fewer are shown in rows.
FUNNEL_FROM = 6
_HEIGHT = 420
_LUCK, _WORSE, _APART = "as luck has it", "more than luck", "not compared"
_TICKS = [digit * 10**power for power in range(-2, 5) for digit in (1, 3)]


def has_figure(comparison: Comparison) -> bool:
    """Tell whether there is anything to draw."""
    return bool(compared(comparison))


def compared(comparison: Comparison) -> list[Place]:
    """Return the places that are held against luck."""
    return [one for one in comparison.places if one.ratio is not None]


def places_figure(comparison: Comparison, *, clock: Clock, level: float, palette: Palette = SCREEN) -> go.Figure:
    """Draw the funnel of a comparison of many places, or the rows of a few."""
    if comparison.what != "technician" and len(compared(comparison)) >= FUNNEL_FROM:
        return _funnel(comparison, level, palette)
    return _rows(comparison, clock, palette)


def _funnel(comparison: Comparison, level: float, palette: Palette) -> go.Figure:
    figure = framed(palette, height=_HEIGHT)
    places = sorted(compared(comparison), key=lambda one: one.expected)
    due = [one.expected for one in places]
    # places with several controllers lie a little inside the limits of those with one
    high = np.maximum.accumulate([one.luck_high for one in reversed(places)])[::-1]
    low = np.maximum.accumulate([one.luck_low for one in places])
    grey = {"color": palette.grey, "width": 1}
    figure.add_scatter(x=due, y=low, mode="lines", line=grey, hoverinfo="skip", showlegend=False)
    figure.add_scatter(x=due, y=high, mode="lines", line=grey, fill="tonexty", fillcolor=palette.band(8, of=1), hoverinfo="skip",
                       name=f"luck, {level_words(level)} for one {wording.what_words(comparison.what)} alone")  # fmt: skip
    figure.add_scatter(
        x=[due[0], due[-1]], y=[1, 1], mode="lines", line=grey | {"dash": "dot"}, hoverinfo="skip", showlegend=False
    )
    for is_worse, name, symbol, size in ((False, _LUCK, "circle-open", 6), (True, _WORSE, "circle", 10)):
        some = [one for one in places if one.is_worse is is_worse]
        figure.add_scatter(
            x=[one.expected for one in some], y=[one.ratio for one in some], mode="markers", name=name,
            marker={"symbol": symbol, "size": size, "color": palette.line(0), "line": {"width": 1, "color": palette.line(0)}},
            customdata=[_said(comparison.what, one) for one in some], hovertemplate="%{customdata}<extra></extra>",
        )  # fmt: skip
    figure.update_xaxes(title="faults expected for its families, site and use", type="log", showgrid=False, tickvals=_TICKS,
                        ticktext=[f"{tick:,.3g}" if tick < 1 else f"{tick:,}" for tick in _TICKS])  # fmt: skip
    # the tip of the funnel, where next to nothing is expected, runs out of the picture
    top = 1.1 * max(*(one.ratio for one in places), float(np.median(high)))
    figure.update_yaxes(title="faults, times expected", range=[-0.02 * top, top], zeroline=False)
    return figure


def _rows(comparison: Comparison, clock: Clock, palette: Palette) -> go.Figure:
    places = [one for one in comparison.places if _told(one).estimate is not None][:MOST_ROWS]
    names = [_row_name(comparison.what, one) for one in places]
    figure = dot_figure(names, palette)
    for kind, color, symbol in ((_LUCK, palette.line(0), "circle-open"), (_WORSE, palette.line(0), "circle"),
                                (_APART, palette.grey, "circle-open")):  # fmt: skip
        dots = [
            Dot(row, _told(one).estimate, _told(one).low, _told(one).high, _lines(comparison.what, one))
            for row, one in enumerate(places)
            if _kind(one) == kind
        ]
        add_dots(figure, dots, name=kind, color=color, symbol=symbol)
    if comparison.what == "technician":
        figure.update_xaxes(title="share of jobs that came back within 30 days", tickformat=".0%", rangemode="tozero")
    else:
        figure.update_xaxes(title=f"faults {wording.per_words(clock)}", rangemode="tozero")
    figure.update_xaxes(showgrid=True, zeroline=False)
    return figure


def _kind(place: Place) -> str:
    return _WORSE if place.is_worse else _APART if place.ratio is None else _LUCK


def _row_name(what: str, place: Place) -> str:
    name = wording.place_words(what, place.name)
    if what == "technician":
        return row_name(name, f"{place.failures:,} of {place.jobs:,}")
    return row_name(name, count=place.failures)


def _told(place: Place):
    return place.rate_per_1000 or place.back_share


def _said(what: str, place: Place) -> str:
    return "<br>".join(escaped(line) for line in _lines(what, place))


def _lines(what: str, place: Place) -> tuple[str, ...]:
    lines = [wording.place_words(what, place.name), f"{place.failures:,} against {place.expected:,.1f} expected"]
    if place.ratio is not None:
        lines.append(f"{place.ratio:.2f} times; by luck {place.luck_low:.2f} to {place.luck_high:.2f}")
    return (*lines, counted(place.units, "controller"))
