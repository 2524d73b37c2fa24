"""What kind of worse a batch is, from a log of known lives; refusals in words; and the page of the JSON."""

from __future__ import annotations

import json
import re
from dataclasses import fields

import pytest

from pipelines import warehouse
from pipelines.answers import ask
from pipelines.answers.batch_pattern_record import (
    BatchPattern,
    CurvePair,
    EarlyFailures,
    MechanismRow,
    Mechanisms,
    PairPoint,
    Pattern,
)
from pipelines.answers.batch_pattern_text import batch_pattern_csv, batch_pattern_text, sheets
from pipelines.errors import SettingError
from pipelines.settings import Settings
from pipelines.vocabulary import Because
from tests.answers.made_batches import Bench
from tests.answers.patterned_batches import patterned_log
from tests.answers.test_contract import rows

#: Faults are dated at the visit and the log is used to its end, so that lives are what they were made.
EXACT = Settings(notice_days=0, quiet_lag_days=0)
COMPUTER_WORD = re.compile(r"\b(nan|None|inf|NaN|null|Estimate)\b")


def asked(log, settings: Settings = EXACT, **case) -> BatchPattern:
    with warehouse.reading(log.path) as connection:
        return ask("batch-pattern", connection, clock="days", case={"batch": "ODD"} | case, settings=settings)


@pytest.fixture(scope="module")
def early(tmp_path_factory) -> BatchPattern:
    return asked(patterned_log(tmp_path_factory.mktemp("early"), shape=0.6, scale=40, size=150))


@pytest.fixture(scope="module")
def crossing(tmp_path_factory) -> BatchPattern:
    return asked(patterned_log(tmp_path_factory.mktemp("crossing"), shape=6.0, scale=190, size=150, others=400))


def test_early_failures_are_told_by_their_shape_and_by_the_ratio_at_two_ages(early):
    assert early.kind == "early"
    assert early.sentence.startswith("Batch ODD fails mostly early: at ")
    assert early.pattern.batch_shape.low < 0.65 < early.pattern.batch_shape.high < 1
    assert early.pattern.rest_shape.low < 2 < early.pattern.rest_shape.high
    assert early.pattern.change.low < -1.35 < early.pattern.change.high
    assert early.pattern.early_ratio.low > early.pattern.late_ratio.estimate
    assert ": early failures, fewer as it ages; at equal ages it is" in early.sentence
    assert early.early.rest_share.estimate == pytest.approx(0.05, abs=0.01)
    assert early.early.batch_share.low > 0.2
    assert early.curves.differs_from < 30


def test_a_crossing_is_said_first_with_its_age(crossing):
    """The hazards of both laws cross at 190·((2/6)·(190/200)²)^(1/4) = 141 days, the curves at 190·(190/200)^(1/2) = 185."""
    assert crossing.kind == "crossing"
    assert crossing.sentence.startswith("The curves cross: batch ODD is better than the rest until about ")
    assert "so one ratio does not serve" in crossing.sentence
    rates, curves = crossing.pattern.rates_cross, crossing.pattern.curves_cross
    assert rates.low < 141 < rates.high
    assert curves.low < 185 < curves.high
    differences = [one.difference for one in crossing.curves.points]
    assert max(differences) > 0.05
    assert min(differences) < -0.05


def test_the_excess_is_found_in_the_mechanism_that_it_was_made_of(early):
    first = early.mechanisms.rows[0]
    assert (first.mechanism, first.is_source) == ("track_wear", True)
    assert first.excess.low > 0
    assert first.gray_p_adjusted < 0.001
    assert "The excess comes from track wear" in early.sentence
    assert sum(row.failures for row in early.mechanisms.rows) == early.counts["compared_failures"]
    shares = [row.curve[-1].failed_share for row in early.mechanisms.rows]
    assert sum(shares) == pytest.approx(1 - early.curves.points[-1].batch, abs=1e-9)
    rest = [row.rest_curve[-1].failed_share for row in early.mechanisms.rows]
    assert sum(rest) == pytest.approx(1 - early.curves.points[-1].rest, abs=1e-9)


def test_a_batch_that_fails_twice_as_often_is_the_same_kind_only_more_of_it(tmp_path):
    answer = asked(patterned_log(tmp_path, shape=2.0, scale=140, size=200, others=600))
    assert answer.kind == "same_kind"
    assert answer.sentence.startswith("The same kind of failure, only more of it: batch ODD fails ")
    assert answer.ratio.low < (200 / 140) ** 2 < answer.ratio.high


def test_a_batch_against_a_reference_names_it_and_an_age_may_be_set(tmp_path):
    answer = asked(patterned_log(tmp_path), Settings(notice_days=0, quiet_lag_days=0, early_age=100), reference="plain")
    assert answer.reference == "PLAIN"
    assert "batch PLAIN" in answer.sentence
    assert answer.early.age == 100
    assert answer.early.rest_share.low < 1 - 2.718281828 ** -(0.5**2) < answer.early.rest_share.high


def test_too_few_mechanisms_are_refused_in_words(tmp_path):
    answer = asked(patterned_log(tmp_path, blank=0.8))
    assert (answer.mechanisms.because, answer.mechanisms.rows) == (Because.NO_CAUSES, [])
    assert "Which mechanism it is cannot be told: one is recorded for " in answer.sentence


def test_a_batch_at_one_site_says_so_and_one_alone_there_is_refused(tmp_path):
    shared = asked(patterned_log(tmp_path / "shared", own_site="south"))
    assert any("All of the batch is at south" in one for one in shared.warnings)
    alone = asked(patterned_log(tmp_path / "alone", own_site="west"))
    assert (alone.because, alone.kind) == (Because.NO_COMPARISON, "too_few")
    assert "cannot be told from these" in alone.sentence


def test_what_cannot_be_compared_says_why(tmp_path):
    bench = Bench().fit("ODD", good=30).fit("PLAIN", good=60, failed=range(40, 100)).find("SEEN", 4)
    log = bench.log(tmp_path / "none")
    none = asked(log)
    assert none.because is None
    assert none.kind in ("better", "too_few")
    assert none.pattern.because is Because.NO_FAILURES
    assert asked(log, batch="SEEN").because is Because.NO_DENOMINATOR
    only = asked(Bench().fit("ODD", good=30, failed=range(20, 60)).log(tmp_path / "only"))
    assert (only.because, only.sentence) == (
        Because.ONE_BATCH, "Batch ODD cannot be held against the rest: no module of another batch was watched.",
    )  # fmt: skip
    few = asked(Bench().fit("ODD", failed=[9]).fit("PLAIN", good=9, failed=[8]).log(tmp_path / "few"))
    assert few.because is Because.NO_COMMON_AGE


def test_all_failing_on_one_day_is_no_kind(tmp_path):
    answer = asked(Bench().fit("ODD", failed=[50] * 30).fit("PLAIN", failed=[50] * 60).log(tmp_path))
    assert answer.pattern.because is Because.FIT_FAILED
    assert answer.kind == "not_shown"


@pytest.mark.parametrize(
    ("case", "what", "remedy"),
    [
        ({"batch": "OD"}, "no batch 'OD'", "ODD"),
        ({"reference": "PLANE"}, "no batch 'PLANE'", "PLAIN"),
        ({"batch": ""}, "Nothing says which batch", "ODD, PLAIN"),
        ({"reference": "ODD"}, "against itself", "Name another"),
    ],
)
def test_a_wrong_word_is_told_with_the_right_one(tmp_path, case, what, remedy):
    with pytest.raises(SettingError) as error:
        asked(patterned_log(tmp_path, size=12, others=12), **case)
    assert what in error.value.what
    assert remedy in error.value.remedy


def test_text_and_tables_hold_no_word_of_the_computer(early, crossing, tmp_path):
    plain = asked(patterned_log(tmp_path, size=30, others=40, blank=0.9))
    for answer in (early, crossing, plain):
        said = batch_pattern_text(answer)
        assert not COMPUTER_WORD.search(said)
        assert "-0 " not in said
        assert batch_pattern_csv(answer).splitlines()[0].startswith("at,batch,batch_low")
        assert set(sheets(answer)) == {"curves", "mechanisms", "mechanism shares", "pattern"}
        json.dumps(answer.to_dict(), allow_nan=False)


def test_the_page_of_the_json_names_every_key():
    parts = (BatchPattern, Pattern, EarlyFailures, CurvePair, PairPoint, Mechanisms, MechanismRow)
    names = {one.name for part in parts for one in fields(part)}
    known = set().union(*(both[0] | both[1] for both in rows("`batch-pattern`")))
    assert names <= known


def test_the_answer_does_not_hang_on_the_order_of_the_log(tmp_path):
    one, other = (asked(patterned_log(tmp_path / name, size=40, others=120)) for name in ("one", "other"))
    assert one.to_dict() == other.to_dict()
