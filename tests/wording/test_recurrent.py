"""How often controllers fail, in words."""

from __future__ import annotations

import pytest

from pipelines.answers.detail import MeanCumulative, MeanDifference, TrendPart
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, Clock, TrendVerdict
from pipelines.wording.recurrent import count_words, difference_words, mean_words, signed_words, trend_words

MORE = TrendPart(None, TrendVerdict.GETTING_MORE_FREQUENT, 0.01, Estimate(1.3, 1.1, 1.5), 40)
FEW = TrendPart(Because.TOO_FEW_FAILURES, TrendVerdict.TOO_FEW, None, Estimate.refused(Because.TOO_FEW_FAILURES), 2)
HOURS = Clock.HOURS


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def mean(counted_from: float = 0.0, trend: TrendPart = MORE) -> MeanCumulative:
    return MeanCumulative(None, 480, 650, counted_from, 2000.0, Estimate(1.43, 1.3, 1.58), [], trend)


def test_the_mean_number_is_said_with_its_limits_and_its_trend():
    assert plain(mean_words(mean(), HOURS, 0.95)) == (
        "By 2,000 play hours of age a controller has failed 1.4 times on average (95 % interval 1.3 to 1.6; 650 failures of "
        "480 controllers of known age). They come more often as a controller gets older (p = 0.010; power-law shape 1.30, "
        "1.10 to 1.50; 1 is no trend)."
    )
    assert "counted from 300 play hours on" in plain(mean_words(mean(300), HOURS, 0.95))
    assert mean_words(mean(trend=FEW), HOURS, 0.95).endswith("Too few failures to say whether they come more often with age.")
    assert mean_words(None, HOURS, 0.95) == ""


@pytest.mark.parametrize("verdict", TrendVerdict)
def test_every_verdict_has_its_words(verdict):
    assert mean_words(mean(trend=TrendPart(None, verdict, 0.5, MORE.shape, 9)), HOURS, 0.95).endswith(".")


@pytest.mark.parametrize("verdict", [one for one in TrendVerdict if one is not TrendVerdict.TOO_FEW])
@pytest.mark.parametrize(("low", "high"), [(1.1, 1.5), (0.6, 0.9), (0.9, 1.2)])
def test_a_power_law_that_tells_otherwise_is_named_in_the_same_sentence(verdict, low, high):
    said = trend_words(TrendPart(None, verdict, 0.0004, Estimate((low + high) / 2, low, high), 40))
    is_same = {"getting_more_frequent": low > 1, "getting_rarer": high < 1, "no_trend_shown": low < 1 < high}[verdict]
    assert ("a power law, which takes all controllers as alike" in said) is not is_same
    assert said.count(". ") == 0
    assert "p under 0.001" in said
    assert trend_words(TrendPart(None, verdict, 0.2, Estimate.refused(Because.FIT_FAILED), 9)).endswith("(p = 0.200).")


def test_a_refused_mean_gives_its_reason_and_the_trend_it_still_has():
    because = Because.TOO_FEW_AT_RISK
    part = MeanCumulative(because, 3, 9, 0.0, None, Estimate.refused(because), [], MORE)
    assert mean_words(part, HOURS, 0.95) == (
        "How often a controller fails cannot be told from 3 controllers of known age: too few were watched at any one age. "
        "They come more often as a controller gets older (p = 0.010; power-law shape 1.30, 1.10 to 1.50; 1 is no trend)."
    )
    assert mean_words(MeanCumulative(because, 3, 2, 0.0, None, part.overall, [], FEW), HOURS, 0.95).endswith("at any one age.")


def test_two_groups_are_told_apart_only_where_it_is_shown():
    calm, wild = {"family": "Calm"}, {"family": "Wild"}

    def gap(*limits: float, is_shown: bool) -> str:
        return plain(difference_words(MeanDifference(None, calm, wild, 700.0, Estimate(*limits), is_shown), Clock.DAYS))

    assert gap(0.5, 0.2, 0.8, is_shown=True) == (
        "By 700 days of age a controller of Wild has had 0.50 failures more than one of Calm (0.20 to 0.80)."
    )
    assert "0.50 failures fewer than one of Calm (0.20 to 0.80)" in gap(-0.5, -0.8, -0.2, is_shown=True)
    assert "no difference between Calm and Wild is shown" in gap(0.1, -0.2, 0.4, is_shown=False)
    refused = Estimate.refused(Because.NO_COMMON_AGE)
    said = difference_words(MeanDifference(Because.NO_COMMON_AGE, calm, wild, None, refused, False), Clock.DAYS)
    assert said == "Whether Wild fails more often than Calm cannot be told: too few of both were watched at the same ages."
    assert difference_words(None, Clock.DAYS) == ""


def test_counts_have_as_many_digits_as_they_bear():
    assert [count_words(one) for one in (0.034, 0.5, 1.26, 9.96, 12.4)] == ["0.03", "0.50", "1.3", "10.0", "12"]
    assert [count_words(one) for one in (0.0, 0.0042)] == ["0.00", "0.004"]
    assert [signed_words(one) for one in (-0.5, 0.0, 2.0)] == ["−0.50", "+0.00", "+2.0"]
