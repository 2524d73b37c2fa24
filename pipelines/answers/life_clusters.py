"""Limits that do not take the sticks of a controller for independent, and how much controllers differ."""

from __future__ import annotations

import pandas as pd

from pipelines.answers.detail import ByController, Frailty
from pipelines.answers.life import Known, by_group
from pipelines.answers.question import Asked
from pipelines.answers.spells import Read
from pipelines.estimates.clustered import clustered_life
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.frailty import frailty
from pipelines.vocabulary import Because

#: So many controllers must have two spells or more before the factor they share is looked for.
LEAST_PAIRS = 10
#: That search takes 0.05 to 0.1 s for a group of up to so many rows of counts, and is made for so many groups at most.
MOST_ROWS, MOST_GROUPS = 1000, 4


def by_controller(known: Known, read: Read, asked: Asked) -> tuple[dict[int, ByController], dict[int, Frailty]]:
    """Return by group B10 and median with limits by controller, and the factor that the spells of a controller share."""
    columns = ["cluster", "entry", "at", "is_failure"]
    counts = by_group(read.spells.counts_by_cluster(grid=read.grid), columns, known.keys, asked.by)
    if not read.grid:
        # The order of the rows of a log must not show in the last digit.
        counts = counts.sort_values(["entry", "at", "is_failure"], kind="stable", ignore_index=True)
        counts["cluster"] = pd.factorize(counts["cluster"])[0]
    b10s, medians = (clustered_life(counts, by=["group_no"], share=share, level=asked.level) for share in (0.1, 0.5))
    found = {}
    for b10, median in zip(b10s, medians, strict=True):
        effect = b10.design_effect if median.design_effect is None else median.design_effect
        because = median.life.because if median.life.because is Because.TOO_FEW_CLUSTERS else None
        found[b10.by[0]] = ByController(because, b10.cluster_count, effect, b10=b10.life, median=median.life)
    return found, _frailties(counts, asked)


def _frailties(counts: pd.DataFrame, asked: Asked) -> dict[int, Frailty]:
    size = counts.groupby(["group_no", "cluster"])["spell_count"].sum()
    pairs = (size > 1).groupby(level="group_no").sum()
    rows = counts.groupby("group_no").size()
    enough = pairs.index[pairs >= LEAST_PAIRS]
    fitting = enough[(rows[enough] <= MOST_ROWS).to_numpy()]
    fitting = fitting if len(fitting) <= MOST_GROUPS else fitting[:0]
    found = {number: _refused(Because.TOO_FEW_CLUSTERS) for number in pairs.index.difference(enough)}
    found |= {number: _refused(Because.TOO_LARGE) for number in enough.difference(fitting)}
    mine = counts[counts["group_no"].isin(fitting)]
    for fit in frailty(mine, by=["group_no"], level=asked.level, min_failures=asked.settings.min_failures):
        found[fit.by[0]] = Frailty(fit.because, fit.variance, fit.shape, fit.shape_ignoring)
    return found


def _refused(because: Because) -> Frailty:
    return Frailty(because, *[Estimate.refused(because)] * 3)
