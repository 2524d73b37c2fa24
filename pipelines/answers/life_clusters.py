"""Limits that do not take the sticks of a controller, or those of a site, for independent; how much controllers differ."""

from __future__ import annotations

from dataclasses import replace
from math import log

import pandas as pd

from pipelines.answers.detail import ByController, BySite, Frailty, WeibullByCluster
from pipelines.answers.groups import by_group
from pipelines.answers.life import Known
from pipelines.answers.question import Asked
from pipelines.answers.spells import BLANK_SHARE, Read
from pipelines.estimates.clustered import LEAST_CLUSTERS, clustered_life
from pipelines.estimates.clustered_weibull import ClusteredWeibull, clustered_weibull
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.frailty import frailty
from pipelines.estimates.weibull import WeibullFit
from pipelines.vocabulary import Because

#: So many controllers must have two spells or more before the factor they share is looked for.
LEAST_PAIRS = 10
#: That search takes 0.02 to 0.06 s for a group of up to so many rows of counts, and is made for so many groups at most.
MOST_ROWS, MOST_GROUPS = 5000, 20
#: Sites that are not known stand together as one more, under a number that no site has.
NO_SITE = 0


def by_controller(known: Known, read: Read, asked: Asked) -> tuple[dict[int, ByController], dict[int, Frailty]]:
    """Return by group lives with limits by controller, and the factor that the spells of a controller share."""
    counts = _counts(known, read, asked, cluster="controller")
    return _limits(ByController, counts, known, asked), _frailties(counts, asked)


def by_site(known: Known, read: Read, asked: Asked) -> dict[int, BySite]:
    """Return by group lives with limits by site; nothing where the groups are sites."""
    if "site" in asked.by:
        return {}
    counts = _counts(known, read, asked, cluster="site")
    found = _limits(BySite, counts, known, asked)
    return told_of_sites(found, counts, count="spell_count", no_site=NO_SITE)


def told_of_sites(found: dict[int, BySite], counts: pd.DataFrame, *, count: str, no_site: object) -> dict[int, BySite]:
    """Return the parts by group with the number of sites known; refused where these are too few, or blank too often.

    counts: `group_no`, `cluster` (the site, or `no_site`) and how many there are in the column `count`.
    """
    is_known = counts["cluster"] != no_site
    sites = counts[is_known].groupby("group_no")["cluster"].nunique()
    both = counts[count].groupby([counts["group_no"], is_known]).sum().unstack(fill_value=0)
    blank = both.get(False, 0 * both.sum(axis=1)) / both.sum(axis=1)
    return {number: _told(part, int(sites.get(number, 0)), float(blank[number])) for number, part in found.items()}


def _told(part: BySite, sites: int, blank_share: float) -> BySite:
    if sites >= LEAST_CLUSTERS and blank_share <= BLANK_SHARE:
        return replace(part, sites=sites)
    because = Because.TOO_FEW_CLUSTERS if sites < LEAST_CLUSTERS else Because.NO_DENOMINATOR
    none = Estimate.refused(because)
    lives = {name: none for name in ("b10", "median", "share") if getattr(part, name) is not None}
    return BySite(because, sites, None, **lives, weibull=part.weibull and WeibullByCluster(because, none, none, none, None, None))


def _counts(known: Known, read: Read, asked: Asked, *, cluster: str) -> pd.DataFrame:
    columns = ["cluster", "entry", "lower", "upper", "at", "is_failure"]
    counts = by_group(read.spells.counts_by_cluster(grid=read.grid, cluster=cluster), columns, known.keys, asked.by)
    counts["cluster"] = counts["cluster"].fillna(NO_SITE).astype("int64")
    if read.grid:
        return counts
    # The order of the rows of a log must not show in the last digit.
    if cluster == "site":
        return counts.sort_values(columns, kind="stable", ignore_index=True)
    counts = counts.sort_values(columns[1:], kind="stable", ignore_index=True)
    return counts.assign(cluster=pd.factorize(counts["cluster"])[0])


def _limits(
    kind: type[ByController | BySite], counts: pd.DataFrame, known: Known, asked: Asked
) -> dict[int, ByController | BySite]:
    """Return by group B10, median and the Weibull fit with limits by cluster."""
    like = {"by": ["group_no"], "level": asked.level}
    b10s, medians = (clustered_life(counts, share=share, **like) for share in (0.1, 0.5))
    plain = [known.fits[number] for number in sorted(known.fits)]
    fits = clustered_weibull(counts, **like, min_failures=asked.settings.min_failures, fits=plain)
    found = {}
    for b10, median, fit, alone in zip(b10s, medians, fits, plain, strict=True):
        effect = b10.design_effect if median.design_effect is None else median.design_effect
        because = median.life.because if median.life.because is Because.TOO_FEW_CLUSTERS else None
        found[b10.by[0]] = kind(
            because, b10.cluster_count, effect, b10=b10.life, median=median.life, weibull=_weibull(fit, alone)
        )  # fmt: skip
    return found


def _weibull(fit: ClusteredWeibull, alone: WeibullFit) -> WeibullByCluster:
    widths = [log(one.high / one.low) if one.low and one.high else None for one in (fit.b10, alone.b10)]
    ratio = None if None in widths else widths[0] / widths[1]
    because = fit.because or (Because.TOO_FEW_CLUSTERS if fit.b10.because is Because.TOO_FEW_CLUSTERS else None)
    return WeibullByCluster(because, fit.shape, fit.b10, fit.median, fit.design_effect, ratio)


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
