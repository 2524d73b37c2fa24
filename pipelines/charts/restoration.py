"""What a clean gives back, by its depth: the share of the age, and below it the share still good at the horizon."""

from __future__ import annotations

import plotly.graph_objects as go

from pipelines.answers.record import Answer
from pipelines.answers.restoration_record import CleanEffect, RestorationGroup
from pipelines.charts.dots import Dot, add_dots, dot_figure, row_name, share_axis
from pipelines.charts.theme import SCREEN, Palette
from pipelines.wording.label import label
from pipelines.wording.verdict import counted, limits_words, share_words, value_words

#: More rows than this no longer fit on a screen.
MOST_ROWS = 16
_APART = 0.17


def restoration_figure(answer: Answer, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw for each group and depth both shares with their intervals; a share that cannot be told has no dot."""
    rows = shown(answer)
    names = [row_name(_name(group, effect), count=effect.cleans) for group, effect in rows]
    figure = dot_figure(names, palette)
    for part, name, symbol, shift in (
        ("restoration_share", "of its age given back", "circle", -_APART),
        ("holding_share", _holding(answer), "circle-open", _APART),
    ):
        dots = [
            Dot(place, one.estimate, one.low, one.high, (
                _name(group, effect), f"{share_words(one.estimate)} {name} ({limits_words(one.low, one.high, share_words)})",
                counted(effect.cleans, "clean"),
            ))
            for place, (group, effect) in enumerate(rows)
            for one in [getattr(effect, part)]
            if one.estimate is not None
        ]  # fmt: skip
        add_dots(figure, dots, name=name, color=palette.line(0), symbol=symbol, shift=shift)
    share_axis(figure, "share")
    return figure


def undrawn(answer: Answer) -> int:
    """Return how many rows have something to show and are left out because there are more than MOST_ROWS."""
    return max(len(_rows(answer)) - MOST_ROWS, 0)


def shown(answer: Answer) -> list[tuple[RestorationGroup, CleanEffect]]:
    """Return the rows that the figure draws: the first of those with something to show."""
    return _rows(answer)[:MOST_ROWS]


def _rows(answer: Answer) -> list[tuple[RestorationGroup, CleanEffect]]:
    return [
        (group, effect)
        for group in answer.groups
        for effect in group.effects
        if effect.restoration_share.estimate is not None or effect.holding_share.estimate is not None
    ]


def _name(group: RestorationGroup, effect: CleanEffect) -> str:
    depth = value_words("depth", effect.depth)
    return f"{label(group.by)}, {depth}" if group.by else depth


def _holding(answer: Answer) -> str:
    return f"still good after {answer.settings['horizon']:g} {'play hours' if answer.clock == 'hours' else 'days'}"
