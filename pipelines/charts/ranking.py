"""What a unit of each family earns at its price, with limits, the best on top; left of the line it loses money."""

from __future__ import annotations

import plotly.graph_objects as go

from pipelines.answers.ranking_record import FamilyRow, Ranking
from pipelines.charts.dots import Dot, add_dots, add_rule, dot_figure, row_name
from pipelines.charts.frame import escaped
from pipelines.charts.theme import SCREEN, Palette
from pipelines.wording.lots import money_words
from pipelines.wording.ranking import advice_words, rank_words, rests_words
from pipelines.wording.verdict import limits_words

#: More rows than this no longer fit on a screen.
MOST_ROWS = 24
_ROW = 40
#: A thin family's limits may run on beyond the edge; the others' and all dots are inside.
_ROOM = 0.05


def ranking_figure(answer: Ranking, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw a row for each ranked family, MOST_ROWS at most; those of few units are open and grey."""
    rows = shown(answer)
    figure = dot_figure([row_name(row.family, rank_words(row.rank), count=row.units) for row in rows], palette, row_height=_ROW)
    for is_thin, name, color, symbol in (
        (False, "told by its own units", palette.line(0), "circle"), (True, "few units", palette.grey, "circle-open"),
    ):  # fmt: skip
        dots = [_dot(place, row, answer.currency) for place, row in enumerate(rows) if row.is_thin is is_thin]
        add_dots(figure, dots, name=name, color=color, symbol=symbol)
    if rows:
        figure.update_xaxes(range=_range(rows))
        add_rule(figure, 0.0, palette)
    figure.update_layout(showlegend=any(row.is_thin for row in rows))
    behind = f", {escaped(answer.currency)}" if answer.currency else ""
    figure.update_xaxes(title=f"profit of a unit at its price{behind}", zeroline=False, showgrid=True, tickformat=",")
    return figure


def shown(answer: Ranking) -> list[FamilyRow]:
    """Return the rows that the figure draws."""
    return [row for row in answer.families if row.because is None][:MOST_ROWS]


def undrawn(answer: Ranking) -> int:
    """Return how many ranked families the figure leaves out."""
    return sum(row.because is None for row in answer.families) - len(shown(answer))


def _dot(place: int, row: FamilyRow, currency: str | None) -> Dot:
    one = row.profit_per_unit

    def say(amount: float) -> str:
        return money_words(amount, currency)

    said = (
        row.family, f"{say(one.estimate)} a unit ({limits_words(one.low, one.high, say)})", rank_words(row.rank),
        advice_words(row.advice), rests_words(row),
    )  # fmt: skip
    return Dot(place, one.estimate, one.low, one.high, said)


def _range(rows: list[FamilyRow]) -> list[float]:
    ends = [0.0]
    for row in rows:
        one = row.profit_per_unit
        ends += [one.estimate] if row.is_thin else [one.low, one.high]
    low, high = min(ends), max(ends)
    room = _ROOM * (high - low) or 1.0
    return [low - room, high + room]
