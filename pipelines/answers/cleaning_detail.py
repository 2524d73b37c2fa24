"""The heavier estimates of cleaning success: judged together, had all been cleaned, and limits by controller."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from pipelines.answers.detail import ByController, BySite, Place, PooledShare, Standardised
from pipelines.answers.groups import group_keys, group_numbers
from pipelines.answers.life_clusters import told_of_sites
from pipelines.answers.question import DATES, Asked
from pipelines.answers.record import CleaningGroup
from pipelines.estimates.clustered import clustered_proportion
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.pooled_share import PooledShares, pooled_share
from pipelines.estimates.ranks import ranks
from pipelines.estimates.standardised import standardised
from pipelines.facts.read import FAILURE_GROUPINGS, MODULE_GROUPINGS, Attempts, Connection, Failures
from pipelines.vocabulary import Because
from pipelines.wording import cleans

#: The bands of severity that have an order.
SEVERITIES = tuple(f"severity_{number}" for number in range(1, 11))


def cleaning_detail(connection: Connection, attempts: Attempts, asked: Asked, groups: list[CleaningGroup]) -> list[CleaningGroup]:
    """Return the groups of an answer with their heavier estimates, and for whom the figures hold in their sentence."""
    parts = (
        _pooled(groups, asked), _standardised(connection, asked, groups), _by_controller(attempts, asked, groups),
        _by_site(connection, asked, groups),
    )  # fmt: skip
    return [
        replace(group, sentence=cleans.with_tried(group.sentence, all_cleaned), pooled=pooled, standardised=all_cleaned,
                by_controller=by_controller, by_site=by_site)
        for group, pooled, all_cleaned, by_controller, by_site in zip(groups, *parts, strict=True)
    ]  # fmt: skip


def _pooled(groups: Sequence[CleaningGroup], asked: Asked) -> list[PooledShare | None]:
    """Judge the groups together: the depth of clean is the method, the other columns together are the family.

    With one family there is nobody to borrow from, and no part.
    """
    methods, families = (
        _numbered([tuple(value for column, value in one.by.items() if (column == "depth") is is_depth) for one in groups])
        for is_depth in (True, False)
    )
    if len(set(families)) < 2:
        return [None] * len(groups)
    keys = pd.DataFrame({"method": methods, "family": families})
    n_effective = np.array([one.durable.n_effective or 0.0 for one in groups])
    held = np.array([one.durable.share or 0.0 for one in groups]) * n_effective
    passed, tried = [one.same_day.k for one in groups], [one.same_day.n for one in groups]
    same_day = pooled_share(keys.assign(k=passed, n=tried), level=asked.level)
    lasting = pooled_share(keys.assign(k=np.minimum(held, n_effective), n=n_effective), level=asked.level)
    places = _places(same_day, asked.level)
    today, later = ({(one.method, one.family): one.share for one in shares.cells} for shares in (same_day, lasting))
    return [
        PooledShare(None, today[cell], _lasting(later[cell], group), places[cell])
        for cell, group in zip(zip(methods, families, strict=True), groups, strict=True)
    ]


def _numbered(values: list[tuple]) -> list[int]:
    number = {one: place for place, one in enumerate(dict.fromkeys(values))}
    return [number[one] for one in values]


def _places(shares: PooledShares, level: float) -> dict[tuple, Place]:
    cells = shares.cells
    ranked = ranks(shares.draws(), estimates=[one.share for one in cells], sizes=[one.n for one in cells], level=level)
    return {(cell.method, cell.family): Place(**vars(one)) for cell, one in zip(cells, ranked.groups, strict=True)}


def _lasting(share: Estimate, group: CleaningGroup) -> Estimate:
    """Return the pooled share, or the group's own reason where no group with its method was followed."""
    return Estimate.refused(group.durable.because or Because.NO_FOLLOW_UP) if share.estimate is None else share


def _standardised(connection: Connection, asked: Asked, groups: Sequence[CleaningGroup]) -> list[Standardised] | list[None]:
    """Weigh each group's cleans by the severity of all failures asked for.

    Nothing where a column is known of cleans only, or by mechanism, which stands for the severity where nothing was read.
    """
    if not (set(asked.by) <= {*MODULE_GROUPINGS} and set(asked.where) <= {*FAILURE_GROUPINGS, *DATES}):
        return [None] * len(groups)
    counts = _in_groups(Failures(connection, by=asked.by, where=asked.where).counts(), asked, groups)
    found = {
        one.by[0]: Standardised(
            one.because, one.failures, one.tried, one.tried_share, one.standardised, one.lowest, one.borrowed_share
        )
        for one in standardised(counts, by=["group_no"], band="band", level=asked.level, ranked=SEVERITIES)
    }
    none = Because.NO_ATTEMPTS
    nothing = Standardised(none, 0, 0, None, Estimate.refused(none), Estimate.refused(none), None)
    return [found.get(number, nothing) for number in range(len(groups))]


def _by_controller(attempts: Attempts, asked: Asked, groups: Sequence[CleaningGroup]) -> list[ByController]:
    """Set limits to the same-day share that do not take the attempts on one controller for independent."""
    counts = _in_groups(attempts.counts_by_controller(), asked, groups)
    cells = _cells(counts.rename(columns={"controller_count": "cluster_count"}).assign(cluster=range(len(counts))))
    found = {
        one.by[0]: ByController(one.share.because, one.cluster_count, one.design_effect, share=one.share)
        for one in clustered_proportion(cells, by=["group_no"], level=asked.level)
    }
    nothing = ByController(Because.NO_ATTEMPTS, 0, None, share=Estimate.refused(Because.NO_ATTEMPTS))
    return [found.get(number, nothing) for number in range(len(groups))]


def _by_site(connection: Connection, asked: Asked, groups: Sequence[CleaningGroup]) -> list[BySite | None]:
    """Set limits to the same-day share that do not take the attempts at one site for independent; none where groups are sites.

    What was asked of the connection before is asked anew, split by site too.
    """
    if "site" in asked.by:
        return [None] * len(groups)
    rows = Attempts(connection, by=(*asked.by, "site"), where=asked.where).counts_by_controller()
    rows = _in_groups(rows, asked, groups).assign(cluster=rows["site"].astype("string").fillna(""))
    for name in ("attempt_count", "passed_count"):
        rows[name] *= rows["controller_count"]
    counts = rows.groupby(["group_no", "cluster"], as_index=False)[["attempt_count", "passed_count"]].sum()
    found = {
        one.by[0]: BySite(one.share.because, one.cluster_count, one.design_effect, share=one.share)
        for one in clustered_proportion(_cells(counts), by=["group_no"], level=asked.level)
    }
    found = told_of_sites(found, counts, count="attempt_count", no_site="")
    nothing = BySite(Because.NO_ATTEMPTS, 0, None, share=Estimate.refused(Because.NO_ATTEMPTS))
    return [found.get(number, nothing) for number in range(len(groups))]


def _cells(counts: pd.DataFrame) -> pd.DataFrame:
    """Return the counts of attempts by cluster as those that passed and those that did not."""
    passed, tried = counts["passed_count"], counts["attempt_count"]
    parts = ((True, passed), (False, tried - passed))
    return pd.concat([counts.assign(is_passed=is_passed, attempt_count=count) for is_passed, count in parts])


def _in_groups(counts: pd.DataFrame, asked: Asked, groups: Sequence[CleaningGroup]) -> pd.DataFrame:
    """Number the rows by the groups of the answer; those of other groups, in which nothing was cleaned, come after."""
    keys = [one.by for one in groups]
    others = [one for one in group_keys([counts], asked.by) if one not in keys]
    return counts.assign(group_no=group_numbers(counts, [*keys, *others], asked.by))
