"""Limits by controller and by site in the answer: the estimators' own, and refused in words where sites are few or blank."""

from __future__ import annotations

import json

import numpy as np
import pytest

from pipelines.answers import ask
from pipelines.answers.text import answer_text
from pipelines.estimates.clustered import clustered_life, clustered_proportion
from pipelines.estimates.clustered_weibull import clustered_weibull
from pipelines.estimates.weibull import weibull
from pipelines.facts.spells import Spells
from pipelines.vocabulary import Because, SpellKind
from tests.answers.logs import Log
from tests.estimates.spells import random_spells, table, visited
from tests.pipeline.made_fleet import loaded_fleet

SITES = ("north", "south", "east", "west", "mill")
DAYS = {"clock": "days"}


@pytest.fixture(scope="module")
def fleet(tmp_path_factory):
    with loaded_fleet(2000, 5, tmp_path_factory.mktemp("fleet"), easy=True) as (_, connection):
        yield connection


def site_log(folder, *, sites=SITES, blank: int = 0, each: int = 24) -> Log:
    """Return a log of units at these sites, a third of which fail, at some sites later than at others; and cleans."""
    rng = np.random.default_rng(4)
    units, jobs = ["unit_id family sticks in_service_on new_or_used site_id"], [
        "job_id unit_id stick family received_on visit_reason finding action outcome site_id"
    ]  # fmt: skip
    for number in range(each * len(sites) + blank):
        place = number % len(sites)
        site = sites[place] if number < each * len(sites) else "-"
        units.append(f"U{number} Nolm S 2025-01-01 new {site}")
        if number % 3 == 0:
            month, day = 2 + (place + int(rng.integers(0, 5))) % 10, int(rng.integers(1, 28))
            result = "pass" if rng.random() < 0.3 + 0.1 * place else "fail"
            jobs.append(f"J{number} U{number} S Nolm 2025-{month:02d}-{day:02d} fault_report fault_confirmed clean_air "
                        f"{result} {site}")  # fmt: skip
    jobs.append(f"J9999 U0 S Nolm 2025-12-31 check no_fault_found test_only pass {sites[0]}")
    return Log(folder, units="\n".join(units), jobs="\n".join(jobs))


@pytest.fixture(scope="module")
def sited(tmp_path_factory):
    return site_log(tmp_path_factory.mktemp("sited"))


def clusters(connection, cluster: str):
    spells = Spells(connection, kind=SpellKind.FIRST_LIFE, is_hours=False, by=["family"], where={})
    counts = spells.counts_by_cluster(grid=0, cluster=cluster)
    return counts[counts["is_age_known"].astype(bool)]


def near(one):
    return pytest.approx((one.estimate, one.low, one.high), rel=1e-6)


def values(one) -> tuple:
    return one.estimate, one.low, one.high


def test_the_weibull_limits_by_controller_are_those_of_the_same_spells(fleet):
    found = clustered_weibull(clusters(fleet, "controller"), by=["family"])
    assert sum(one.because is None for one in found) > len(found) / 2
    for group, one in zip(ask("time-to-failure", fleet, by=["family"], **DAYS).groups, found, strict=True):
        part = group.by_controller.weibull
        assert part.because is one.because
        if one.because is None:
            assert [values(getattr(part, name)) for name in ("shape", "b10", "median")] == [
                near(getattr(one, name)) for name in ("shape", "b10", "median")
            ]
            assert part.design_effect == pytest.approx(one.design_effect, rel=1e-6)
            plain = group.weibull.b10
            ratio = np.log(one.b10.high / one.b10.low) / np.log(plain.high / plain.low)
            assert part.width_ratio == pytest.approx(ratio, rel=1e-6)
            assert part.width_ratio >= 1
    assert "A Weibull law with limits by controller" in " ".join(answer_text(ask("time-to-failure", fleet, **DAYS)).split())


@pytest.mark.parametrize("is_visited", [False, True])
def test_fits_known_already_give_the_same_limits(is_visited):
    rows = random_spells(5, spells=400, groups=3).assign(cluster=lambda one: np.arange(len(one)) // 4)
    rows = visited(rows, every=100) if is_visited else rows
    assert clustered_weibull(rows, by=["group"], fits=weibull(rows, by=["group"])) == clustered_weibull(rows, by=["group"])


def test_limits_by_site_stand_about_the_estimates_of_the_curve(sited):
    answer = sited.ask("time-to-failure", **DAYS)
    (group,) = answer.groups
    part = group.by_site
    assert (part.because, part.sites, part.share) == (None, 5, None)
    assert part.b10.estimate == group.curve_quantiles["b10"].estimate
    assert values(part.weibull.shape)[0] == group.weibull.shape.estimate
    assert part.weibull.shape.low <= group.weibull.shape.low
    assert part.weibull.shape.high >= group.weibull.shape.high
    said = " ".join(answer_text(answer).split())
    assert "Counted by site (5 sites), one in ten by" in said
    assert "So few sites cannot tell of a site that is not among them." in said


def test_limits_by_site_are_those_of_the_estimator(fleet):
    counts = clusters(fleet, "site")
    expected = clustered_life(counts, by=["family"], share=0.5)
    for group, one in zip(ask("time-to-failure", fleet, by=["family"], **DAYS).groups, expected, strict=True):
        # (two sites are too few, and the estimator says so too)
        assert group.by_site.because is Because.TOO_FEW_CLUSTERS
        assert (group.by_site.sites, one.cluster_count) == (2, 2)
        assert group.by_site.weibull.b10.because is Because.TOO_FEW_CLUSTERS


def test_shares_by_site_are_those_of_the_estimator(sited):
    (group,) = sited.ask("cleaning-success").groups
    (by_site,) = [sited.ask("cleaning-success", by=["site"])]
    rows = [(one.by["site"], is_passed, one.same_day.k if is_passed else one.same_day.n - one.same_day.k)
            for one in by_site.groups for is_passed in (True, False)]  # fmt: skip
    cells = table("cluster is_passed attempt_count\n" + "\n".join(" ".join(map(str, row)) for row in rows))
    (expected,) = clustered_proportion(cells, by=[])
    part = group.by_site
    assert (part.sites, part.because, part.b10, part.weibull) == (5, None, None, None)
    assert part.share == expected.share
    assert part.design_effect == pytest.approx(expected.design_effect)
    assert part.share.estimate == group.same_day.share
    assert "Counted by site (5 sites) the interval is" in " ".join(answer_text(sited.ask("cleaning-success")).split())


@pytest.mark.parametrize("question", ["time-to-failure", "cleaning-success"])
def test_groups_that_are_sites_have_no_limits_by_site(sited, question):
    assert {one.by_site for one in sited.ask(question, by=["site"]).groups} == {None}
    (group,) = sited.ask(question, where={"site": ["north"]}).groups
    assert (group.by_site.because, group.by_site.sites) == (Because.TOO_FEW_CLUSTERS, 1)


@pytest.mark.parametrize("question", ["time-to-failure", "recurrence", "cleaning-success"])
@pytest.mark.parametrize(
    ("sites", "blank", "because"),
    [
        (SITES[:2], 0, Because.TOO_FEW_CLUSTERS),
        (("-",), 0, Because.TOO_FEW_CLUSTERS),
        (SITES, 60, Because.NO_DENOMINATOR),
        (SITES, 9, None),
    ],
)
def test_sites_too_few_or_too_often_blank_are_refused_in_words(tmp_path, question, sites, blank, because):
    answer = site_log(tmp_path, sites=sites, blank=blank).ask(question)
    (group,) = answer.groups
    assert group.by_site.because is because
    assert group.by_site.sites == len([one for one in sites if one != "-"])
    said = " ".join(answer_text(answer).split())
    assert ("Limits by site are not given" in said) == (because is not None)
    json.dumps(answer.to_dict(), allow_nan=False)
    for one in (group.by_site.b10, group.by_site.median, group.by_site.share):
        if because is not None and one is not None:
            assert (one.estimate, one.low, one.because) == (None, None, because)


def test_a_brief_answer_has_none_of_it(sited):
    for question in ("time-to-failure", "cleaning-success"):
        (group,) = sited.ask(question, is_brief=True).groups
        assert (group.by_site, group.by_controller) == (None, None)
