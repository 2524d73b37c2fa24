"""The sentences of the early alarm."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from pipelines.answers.batch_alarm_record import AtAlarm
from pipelines.settings import Settings
from pipelines.vocabulary import AlarmLevel, Because
from pipelines.wording import batch_alarm as wording

AT = AtAlarm("2025-02-21", 61, 14, 6.94, 20, 95, 1018)
RAISED = {"batch": "B7", "failures": 30, "expected": 20.0, "evidence": 40.0, "watch": AT, "stop": None, "level": AlarmLevel.WATCH}


def test_an_alarm_tells_its_day_what_it_rested_on_and_what_came_since():
    assert wording.batch_sentence(RAISED) == (
        "Batch B7 would have raised the alarm on 2025-02-21, 61 days after its first module was fitted: by then 14 failures "
        "where its share would be 6.9 were it like the others. 95 modules of it had been fitted, 1,018 since. The evidence never "
        "sufficed to say “stop buying it”."
    )
    fallen = wording.batch_sentence(RAISED | {"evidence": 0.4, "stop": AT})
    assert fallen.endswith(
        "The same day the evidence sufficed to say “stop buying it”. It has since fallen to 0.40: what came later does not bear "
        "the alarm out."
    )


@pytest.mark.parametrize(
    ("level", "said"),
    [
        (AlarmLevel.QUIET, "raised no alarm"), (AlarmLevel.TOO_EARLY, "too young to tell"),
        (AlarmLevel.UNWATCHED, "cannot be watched"),
    ],
)  # fmt: skip
def test_silence_is_never_called_good(level, said):
    sentence = wording.batch_sentence(RAISED | {"level": level, "watch": None})
    assert said in sentence
    assert " is good." not in sentence.replace("does not mean that it is good.", "")


def test_the_whole_answer_counts_alarms_and_what_cannot_be_told():
    quiet = SimpleNamespace(batch="A", watch=None, level=AlarmLevel.QUIET, sentence="")
    young = SimpleNamespace(batch="Y", watch=None, level=AlarmLevel.TOO_EARLY, sentence="Y is young.")
    first, second = (SimpleNamespace(batch=name, watch=AT, level=AlarmLevel.WATCH, sentence=f"{name}.") for name in "BC")
    told = wording.whole_sentence(shown=None, batches=[first, second, quiet, young], watched_to="2025-06-30")
    assert told == "B. So would C. 2 of 4 batches have raised an alarm up to 2025-06-30; 1 is too young to tell."
    none = wording.whole_sentence(shown=None, batches=[quiet, young], watched_to="2025-06-30")
    assert none == "No alarm over any of 2 batches up to 2025-06-30; 1 is too young to tell."
    alone = SimpleNamespace(batch="A", watch=None, level=AlarmLevel.UNWATCHED, sentence="A cannot be watched.")
    said = wording.whole_sentence(shown=None, batches=[alone, alone], watched_to="2025-06-30")
    assert said.startswith("None of 2 batches can be watched: ")
    assert wording.whole_sentence(shown="Y", batches=[quiet, young], watched_to="2025-06-30") == "Y is young."


def test_warnings_say_what_evidence_means_and_how_many_alarms_may_be_false():
    batches = [
        SimpleNamespace(batch=f"B{one}", level=AlarmLevel.QUIET, is_mixed=one == 3, is_beyond_all=one == 1) for one in range(40)
    ]
    limits, words = SimpleNamespace(watch=20.0, stop=100.0), {"watched_to": "2025-06-09", "look_days": 28, "only_found": ["B99"]}
    said = wording.warnings(batches=batches, limits=limits, settings=Settings(), **words)
    assert "fails at most 1.2 times as often as the others" in said[0]
    assert said[0].replace("\u00a0", " ").endswith("with a chance of at most 5 % and 1 %.")
    assert said[1] == (
        "Among 40 batches watched, up to 2.0 may raise a false alarm. Evidence of 800 allows for all of them together: B1 "
        "reached it."
    )
    assert said[2].startswith("Bins were mixed before use of B3")
    assert said[3].startswith("B99: on record only on modules that came in")
    assert "21 days" in said[4]
    assert "28 days" in said[5]
    strict = wording.warnings(batches=batches, limits=limits, settings=Settings(batch_tolerance=1.0), **words)
    assert "fails no more often than the others" in strict[0]


@pytest.mark.parametrize(("number", "said"), [(0.004, "under 0.01"), (0.5, "0.50"), (45.4, "45"), (5e7, "over 1,000,000")])
def test_evidence_has_as_many_digits_as_it_bears(number, said):
    assert wording.evidence_words(number) == said


def test_a_refusal_says_what_to_record():
    assert "part_batch_fitted" in wording.refused_sentence(Because.NOT_RECORDED)
    assert "Only one batch" in wording.refused_sentence(Because.ONE_BATCH)
