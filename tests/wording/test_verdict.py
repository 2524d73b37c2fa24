"""The verdicts: what is said of few, of one, and of groups that say the same."""

from __future__ import annotations

from pipelines.vocabulary import Clock
from pipelines.wording.verdict import clock_fallback_warning, clock_refused_sentence, life_sentence, overall_sentence

HALF, TENTH = (26.0, None, None), (20.0, None, None)


def life(*, modules: int, failures: int, drawn_from: float | None, what: str = "stick modules") -> str:
    return life_sentence(
        modules=modules,
        failures=failures,
        clock=Clock.HOURS,
        level=0.95,
        b10=TENTH,
        median=HALF,
        drawn_from=drawn_from,
        what=what,
    )


def test_where_too_few_were_watched_no_age_is_said():
    said = life(modules=2, failures=1, drawn_from=None)
    assert said == "1 of 2 stick modules began to drift. Too few were watched at any one age: too few to say."
    assert "Half began to drift by 26 play hours" in life(modules=20, failures=11, drawn_from=0.0)


def test_one_module_of_unknown_age_is_one_module():
    said = life(modules=1, failures=0, drawn_from=None, what="modules of unknown age")
    assert said.startswith("0 of 1 module of unknown age began to drift.")
    assert "for 1 of 1 spell," in clock_fallback_warning(without=1, total=1)
    assert "for 1 of 1 spell." in clock_refused_sentence(without=1, total=1, survivors_lose_more=False)


def test_groups_that_say_the_same_are_still_groups_unless_all_were_refused():
    assert overall_sentence(["5 of 9.", "5 of 9."], is_refused=False) == "2 groups, each with its own verdict below."
    assert overall_sentence(["No hours.", "No hours."], is_refused=True) == "No hours."
    assert overall_sentence(["5 of 9."], is_refused=False) == "5 of 9."
    assert overall_sentence([], is_refused=True).startswith("Nothing to say")


def test_a_median_that_few_were_left_to_show_says_so():
    words = {"modules": 40, "failures": 20, "clock": Clock.DAYS, "level": 0.95, "b10": (10.0, 8.0, 12.0),
             "median": (705.0, 600.0, None), "drawn_from": 0.0}  # fmt: skip
    assert "seen when only" not in life_sentence(**words)
    assert "seen when only 2 were left." in life_sentence(**words, few_at=2)
