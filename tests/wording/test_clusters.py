"""Sentences about sticks that share a controller or a site."""

from __future__ import annotations

from dataclasses import replace

from pipelines.answers.detail import ByController, BySite, Frailty, WeibullByCluster
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because
from pipelines.wording import clusters
from tests.wording.lives_parts import HOURS, known, refused

FIT = WeibullByCluster(None, known(1.5), known(200), known(800), 1.44, 1.24)


def test_controllers_that_share_their_fate_are_told_from_those_that_hardly_do():
    part = ByController(None, 60, 1.44, b10=known(100), median=known(400))
    assert "limits 1.2 times as wide, from 60 controllers" in clusters.controllers_sentence(part, HOURS)
    assert "the limits stay about as wide" in clusters.controllers_sentence(replace(part, design_effect=1.05), HOURS)


def test_what_sharing_a_controller_does_is_said_as_a_ratio_of_widths():
    assert clusters.cluster_fit_sentence(FIT, "controller", HOURS) == (
        "A Weibull law with limits by controller: shape 1.50 (0.75 to 3.00), one in ten by 200 play hours (100 to 400 play "
        "hours), half by 800 play hours (400 to 1,600 play hours); limits about 1.2 times as wide as if sticks were independent."
    )
    assert clusters.cluster_fit_sentence(replace(FIT, width_ratio=1.02), "site", HOURS).endswith(
        "limits about as wide as if sticks were independent."
    )
    assert clusters.cluster_fit_sentence(replace(FIT, width_ratio=None), "site", HOURS).endswith("1,600 play hours).")


def test_few_sites_cannot_tell_of_another():
    part = BySite(None, 6, 2.0, b10=known(100), median=known(400), weibull=FIT)
    said = clusters.sites_sentence(part, HOURS)
    assert said.startswith("Counted by site (6 sites), half by 400 play hours (200 to 800 play hours). A Weibull law")
    assert said.endswith("So few sites cannot tell of a site that is not among them.")
    many = replace(part, sites=10, median=refused(Because.NOT_REACHED), weibull=None)
    assert (
        clusters.sites_sentence(many, HOURS) == "Counted by site (10 sites), one in ten by 100 play hours (50 to 200 play hours)."
    )


def test_controllers_not_shown_to_differ_may_still_do_so_up_to_a_limit():
    none = Frailty(None, Estimate(0.0, 0.0, 20.6), known(1.3), known(1.3))
    assert clusters.frailty_sentence(none, 0.95).endswith("(variance 0.00, 95\u00a0% interval at most 20.60).")
    assert "middle of their interval" in clusters.frailty_sentence(Frailty(None, known(0.3), known(1.3), known(1.1)), 0.95)
