"""The sentences on what kind of worse a batch is."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, Clock
from pipelines.wording import batch_pattern as wording

NONE = Estimate.refused(Because.NOT_REACHED)
BLANK = SimpleNamespace(sentence="")


def said(kind: str, *, ratio=(2.0, 1.5, 2.6), because=None, **pattern) -> str:
    plain = {
        "batch_shape": NONE, "rest_shape": NONE, "change": Estimate(-0.9, -1.3, -0.5), "change_p": 0.001, "early_at": 40.0,
        "early_ratio": Estimate(4.0, 2.5, 6.0), "late_at": 400.0, "late_ratio": Estimate(1.2, 0.8, 1.9), "rates_cross": NONE,
        "curves_cross": NONE,
    }  # fmt: skip
    return wording.sentence(
        batch="UC-09", reference=pattern.pop("reference", None), because=because, kind=kind,
        counts={"compared_failures": 12, "modules": 40},
        ratio=Estimate(*ratio), pattern=SimpleNamespace(**plain | pattern), early=BLANK, curves=BLANK, mechanisms=BLANK,
        clock=Clock.HOURS, level=0.95,
    )  # fmt: skip


def test_a_crossing_names_its_age_and_says_that_one_ratio_does_not_serve():
    both = {"rates_cross": Estimate(300.0, 220.0, 380.0), "curves_cross": Estimate(550.0, 470.0, None)}
    assert said("crossing", change=Estimate(0.9, 0.5, 1.3), **both) == (
        "The curves cross: batch UC-09 is better than the rest until about 300 play hours (220 to 380 play hours) and worse "
        "after, so one ratio does not serve. As many of it as of the rest have failed by about 550 play hours "
        "(at least 470 play hours)."
    )
    assert said("crossing", rates_cross=both["rates_cross"]).endswith(
        "What it lost until then is not made up by the end of what was watched."
    )


def test_early_names_both_ages_and_the_shapes():
    told = said("early", batch_shape=Estimate(0.8, 0.6, 0.95), rest_shape=Estimate(1.9, 1.7, 2.1))
    assert told == (
        "Batch UC-09 fails mostly early: at 40 play hours 4.0 (2.5 to 6.0) times as often as the rest, at 400 play hours 1.2 "
        "(0.8 to 1.9) times. Its Weibull shape (over 1: fails more often with age) is 0.8 (0.6 to 0.9), that of the rest 1.9 "
        "(1.7 to 2.1): early failures, fewer as it ages; at equal ages it is 0.9 lower."
    )


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("late", "wears out sooner"),
        ("same_kind", "The same kind of failure, only more of it: batch UC-09 fails 2.0 times as often as the rest"),
        ("worse", "12 failures of 40 modules are too few to say of which kind"),
        ("better", "fails less often than the rest"),
        ("not_shown", "is not shown to fail otherwise than the rest"),
        ("too_few", "Too few to say of which kind: 12 failures of 40 modules of batch UC-09"),
    ],
)
def test_every_kind_has_its_words(kind, words):
    assert words in said(kind)


def test_a_refusal_says_why_and_nothing_more():
    assert said("too_few", because=Because.NO_DENOMINATOR) == (
        "Batch UC-09 cannot be held against the rest: only modules that came in are named, so nobody knows of how many."
    )
    alone = said("too_few", because=Because.NO_COMPARISON, reference="SH-09")
    assert alone.startswith("Batch UC-09 cannot be held against batch SH-09: the two share no family, usage class and site")


def test_an_excess_is_told_both_ways():
    assert wording.excess_words(Estimate(3.0, -1.2, 7.8)) == "1 fewer to 8 more"
    assert wording.excess_words(Estimate(3.0, 1.2, 7.8)) == "1 to 8 more"
    assert wording.excess_words(Estimate(-3.0, -7.8, -1.2)) == "1 to 8 fewer"
