"""What will fail next and the shelf as sentences."""

from __future__ import annotations

from pipelines.answers.next_failures_record import StickAhead, Tried
from pipelines.answers.shelf_record import ShelfRow
from pipelines.estimates.estimate import Estimate
from pipelines.settings import Settings
from pipelines.vocabulary import Because
from pipelines.wording.outlook import count_words, next_sentence, tried_sentence
from pipelines.wording.shelf import part_words, shelf_sentence

SPACE = "\u00a0"


def plain(text: str) -> str:
    return text.replace(SPACE, " ")


def test_counts_have_as_many_digits_as_a_plan_can_use():
    assert count_words(Estimate(522.4, 446, 598)) == "522 (446 to 598)"
    assert count_words(Estimate(0.31, 0, 1)) == "0.3 (0 to 1)"
    assert count_words(Estimate.refused(Because.NO_FAILURES)) == "–"


def test_the_sentence_names_the_likeliest_stick_and_the_coming_weeks():
    stick = StickAhead(1, "A7", "L", "Nolm", "north", None, "after_clean", "2025-01-01", 12.0, 8.0, 2, Estimate(0.39, 0.3, 0.48))
    whole = type("Whole", (), {"faults": Estimate(52, 41, 64), "jobs": Estimate(120, 100, 140), "modules": Estimate(9, 4, 14)})
    said = plain(next_sentence(None, {"sticks": 300}, 30, Estimate(17, 11, 24), [stick], whole, 0.95))
    assert said == (
        "Of 300 sticks in service about 17 (95 % interval 11 to 24) will have a fault within 30 days. The likeliest is A7 L "
        "(Nolm): 39 % (30 to 48 %). The next 13 weeks bring about 52 (41 to 64) faults, 120 (100 to 140) jobs and 9.0 (4 to 14) "
        "new modules."
    )
    assert "no stick of an own controller" in next_sentence(Because.NOTHING_IN_SERVICE, {"sticks": 0}, 30, None, [], None, 0.95)


def test_a_trial_says_what_came_and_when_it_was_worth_nothing():
    slope = Estimate(1.0, 0.8, 1.2)
    tried = Tried(None, "2026-03-31", 300, 17.0, 15, [], slope, 0.05, 0.06, Estimate(52, 41, 64), 70, False)
    said = tried_sentence(tried, 30)
    assert "15 did" in said
    assert "70 came, which is outside its limits" in said
    assert "no worse" not in said
    useless = Tried(None, "2026-03-31", 300, 17.0, 15, [], slope, 0.06, 0.06, Estimate(52, 41, 64), 50, True)
    assert "no worse" in tried_sentence(useless, 30)
    none = Estimate.refused(Because.NO_FAILURES)
    refused = Tried(Because.NO_FAILURES, "2026-03-31", 3, None, None, [], none, None, None, none, None, None)
    assert tried_sentence(refused, 30) == "It could not be tried on the last 13 weeks: no failure was recorded."


def test_the_shelf_says_what_to_keep_and_what_is_short():
    hall = ShelfRow("module", "hall", None, None, 40, Estimate(9, 4, 14), 14, 14, 3, 0, True)
    spare = ShelfRow("spare_controller", "Nolm", "north", None, 4, Estimate(1, 0, 3), 3, 3, None, None, None)
    said = plain(shelf_sentence(None, [hall, spare], Settings(lead_time_days=40)))
    assert said == (
        "To last 40 days until delivery with a chance of 95 %, order anew at: 14 hall modules. By the deliveries on record there "
        "are already fewer of: hall modules. Keep 3 spare controllers in all, by family and site as listed."
    )
    assert part_words(spare) == "Nolm controllers, north"
    assert part_words(ShelfRow("module", None, None, None, 4, Estimate(1, 0, 3), 3, 3, None, None, None)).endswith("not recorded")
    assert "needs the lead time" in shelf_sentence(Because.NOT_GIVEN, [], Settings())
