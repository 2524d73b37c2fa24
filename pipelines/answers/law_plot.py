"""The probability plot of one group of lives: where its failures lie, and where two laws put them."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipelines.answers.laws_record import LawPlot, LawPoint, LawStep
from pipelines.answers.question import Asked
from pipelines.estimates.probability_plot import PlotLine, probability_plot

#: Points a figure can show apart; evenly many of them are kept.
MOST_POINTS = 150


def law_plot(curve: pd.DataFrame, counts: pd.DataFrame, asked: Asked) -> LawPlot:
    """Return the points where enough are at risk, and both fitted lines.

    curve, counts: of the same group, as from `survival.drawn` and `facts.spells.Spells.counts`.
    """
    plot = probability_plot(curve, counts, level=asked.level, min_failures=asked.settings.min_failures)
    points = plot.points.loc[plot.points["is_drawn"], ["at", "failed_share", "weibull_height", "lognormal_height"]].to_numpy()
    kept = np.linspace(0, len(points) - 1, min(len(points), MOST_POINTS)).round().astype(int)
    return LawPlot([LawPoint(*row) for row in points[kept].tolist()], _steps(plot.weibull), _steps(plot.lognormal))


def _steps(law: PlotLine) -> list[LawStep]:
    rows = law.line[["at", "height", "height_low", "height_high"]].to_numpy().tolist()
    return [LawStep(at, height, _known(low), _known(high)) for at, height, low, high in rows]


def _known(limit: float) -> float | None:
    return float(limit) if np.isfinite(limit) else None
