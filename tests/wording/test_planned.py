"""Planned cleaning in words: each verdict and each doubt, and numbers that read well."""

from __future__ import annotations

import pytest

from pipelines.answers.cleaning_interval_record import Slot, Use
from pipelines.decisions.cleaning_interval import Planned
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, Calendar, CalendarWhy, Clock
from pipelines.wording.planned import interval_sentence, never_sentence, overall_sentence, signed_share, slot_words

SAVING = Estimate(0.21, 0.12, 0.3)
USE = Use(40, 38, 10.0, 20.0, 40.0)


def planned(verdict: Calendar = Calendar.CLEAN, why: CalendarWhy = CalendarWhy.SAVES, **more) -> Planned:
    given = {
        "is_best_case": False, "interval": 170.0, "saving": SAVING, "saves_chance": 0.99, "most_saving": 0.31,
        "as_good": (130.0, 230.0), "is_edge": False, "slot": 174.0, "slot_saving": SAVING,
        "waiting": Estimate(0.07, 0.06, 0.08), "faults": 0.002, "faults_waiting": 0.003, "cleans": 0.004, "curve": [],
    }  # fmt: skip
    return Planned(verdict, why, **(given | more))


def said(of: Planned, *, clock: Clock = Clock.HOURS, slot: Slot | None = None, use: Use = USE) -> str:
    return interval_sentence(
        of, slot, clock=clock, use=use, costs={"planned": 2.5, "fault": 17.5}, shape=Estimate(1.04, 0.95, 1.13), level=0.95,
        untold=Because.NO_CAUSES, failures=60,
        bars=(0.9, 0.03, 100), currency="EUR",
    ).replace("\u00a0", " ")  # fmt: skip


KEPT = Slot(61.0, 174.0, SAVING, True, 30.5, 122.0)


def test_a_calendar_is_said_with_its_dates_its_saving_and_what_is_as_good():
    text = said(planned(), slot=KEPT)
    assert text.startswith("Clean each stick every 2 months after its last clean: 174 play hours at the usual 20 h a week;")
    assert "played much after 4 weeks, where little after 17 weeks" in text
    assert "It saves 21 % of what waiting for faults costs (95 % interval 12 to 30 %)" in text
    assert "a chance of 99 %" in text
    assert text.endswith("Anything from 130 play hours to 230 play hours is about as good.")


def test_without_a_slot_that_fits_the_hours_are_said_with_the_weeks():
    assert "170 play hours after its last clean, about 8 weeks at the usual 20 h a week." in said(planned())
    assert "Clean each stick 170 days after its last clean." in said(planned(), clock=Clock.DAYS)
    nobody = Use(4, 0, None, None, None)
    assert "Clean each stick 170 play hours after its last clean. It" in said(planned(), use=nobody)


def test_in_days_the_slot_is_the_date():
    assert "Clean each stick every 2 months after its last clean. It" in said(planned(), clock=Clock.DAYS, slot=KEPT)


def test_never_is_never_dressed_up():
    text = said(planned(Calendar.NEVER, CalendarWhy.NO_RISE, most_saving=0.012))
    assert text.startswith("Do not clean on a calendar: it would buy nothing. Faults do not come so much more often with age")
    assert "(shape 1.04, 0.95 to 1.13)" in text
    assert "at most 1 %" in text
    assert "next to nothing" in said(planned(Calendar.NEVER, CalendarWhy.NO_RISE, most_saving=-0.2))
    assert "were a clean to give all of the age back" in said(planned(Calendar.NEVER, CalendarWhy.NO_RISE, is_best_case=True))
    dear = said(planned(Calendar.NEVER, CalendarWhy.DEAR_CLEAN))
    assert "A planned clean costs 2.50 EUR, a fault no more than that: 17.50 EUR." in dear


@pytest.mark.parametrize(
    ("of", "words"),
    [
        (planned(Calendar.TOO_CLOSE, CalendarWhy.TOO_FEW_FAILURES), "60 failures tell too little, 100 are needed"),
        (
            planned(Calendar.TOO_CLOSE, CalendarWhy.UNSURE, saves_chance=0.7),
            "the chance that a calendar saves anything is 70 %, under 90 %",
        ),
        (planned(Calendar.TOO_CLOSE, CalendarWhy.LITTLE), "saves too little to be worth keeping, under 3 % expected"),
        (
            planned(Calendar.TOO_CLOSE, CalendarWhy.RESTORATION_UNTOLD, is_best_case=True),
            "would save 21 %. If it gave nothing back",
        ),
        (planned(Calendar.TOO_CLOSE, CalendarWhy.UNSURE, interval=None), "waiting for faults costs least"),
    ],
)
def test_too_close_to_call_says_why(of, words):
    text = said(of)
    assert text.startswith("Too close to call: ")
    assert words in text


def test_losses_keep_their_sign():
    of = planned(Calendar.TOO_CLOSE, CalendarWhy.UNSURE, saving=Estimate(0.02, -0.1, 0.1))
    assert "interval −10 to 10 %" in said(of)
    assert [signed_share(one).replace("\u00a0", " ") for one in (-0.004, 0.0, 0.006, -0.02)] == ["0 %", "0 %", "1 %", "−2 %"]


def test_several_groups_share_one_sentence_where_a_calendar_buys_nothing():
    assert never_sentence(CalendarWhy.NO_RISE, 0.02).replace("\u00a0", " ").endswith("any of these saves at most 2 %.")
    assert never_sentence(CalendarWhy.DEAR_CLEAN, 0.0).endswith("A fault costs no more than a planned clean.")


def test_many_groups_are_counted_by_their_verdict():
    text = overall_sentence(["a", "b", "c", "d"], [Calendar.CLEAN, Calendar.NEVER, Calendar.NEVER, None])
    assert text == "4 groups: clean on a calendar for 1, do not clean on a calendar for 2, nothing to tell for 1."
    assert overall_sentence(["a", "a"], [None, None]) == "a"
    assert overall_sentence(["a", "b", "c"], [Calendar.TOO_CLOSE] * 3) == "All 3 groups: too close to call."
    assert overall_sentence(["a", "b"], [Calendar.CLEAN] * 2) == "Both groups: clean on a calendar."
    assert slot_words(14.0) == "every 2 weeks"
