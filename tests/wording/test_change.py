"""Changes and rates as words, and the sentences that hold no computer word."""

import pytest

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because
from pipelines.wording.change import against_words, change_limits, change_words, exposure_words, rate_words, watched_words

SPACE = "\u00a0"


@pytest.mark.parametrize(
    ("ratio", "said"),
    [
        (0.75, f"25{SPACE}% fewer"), (1.12, f"12{SPACE}% more"), (1.004, "as many"), (3.14, "3.1 times as many"),
        (0.001, f"over 99{SPACE}% fewer"), (1.999, f"100{SPACE}% more"),
    ],
)  # fmt: skip
def test_a_ratio_is_said_as_fewer_or_more(ratio, said):
    assert change_words(ratio) == said


def test_costs_are_less_and_not_fewer():
    assert change_words(0.5, less="less") == f"50{SPACE}% less"
    assert change_words(1.0, less="less") == "as much"
    assert against_words(1.0, "expected") == "as many as expected"
    assert against_words(3.0, "before", less="less") == "3.0 times as much as before"
    assert against_words(0.5, "expected") == f"50{SPACE}% fewer than expected"
    assert change_words(4.0, less="less") == "4.0 times as much"


def test_limits_are_said_from_the_one_to_the_other():
    assert change_limits(Estimate(0.8, 0.6, 1.1)) == f"40{SPACE}% fewer to 10{SPACE}% more"
    assert change_limits(Estimate(None, None, 0.4, Because.NO_FAILURES)) == f"at most 60{SPACE}% fewer"
    assert change_limits(Estimate(None, 1.5, None, Because.NO_FAILURES)) == f"at least 50{SPACE}% more"
    assert change_limits(Estimate.refused(Because.NO_SPELLS)) == "no limits from this log"


def test_rates_have_the_digits_that_tell_something():
    assert [rate_words(one) for one in (2.444, 24.44, 1244.4, None)] == ["2.44", "24.4", "1,244", "–"]
    assert (exposure_words("hours"), exposure_words("days")) == ("1,000 play hours", "1,000 days in service")
    assert watched_words(12_345.6, "hours") == "12,346 play hours"
