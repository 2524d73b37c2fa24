"""Every question that rests on findings says what its intervals do not hold."""

from __future__ import annotations

import pytest

from pipelines.vocabulary import Question
from pipelines.wording import realism


@pytest.mark.parametrize("question", Question)
def test_an_answer_says_what_its_intervals_do_not_hold(question):
    said = realism.note(question)
    # (restoration says it in its own warning)
    assert bool(said) == (question is not Question.RESTORATION)
