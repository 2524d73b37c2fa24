"""Every question that rests on findings says what its intervals do not hold."""

from __future__ import annotations

import pytest

from pipelines.answers import BY
from pipelines.wording import realism


@pytest.mark.parametrize("question", BY)
def test_an_answer_says_what_its_intervals_do_not_hold(question):
    assert realism.note(question).startswith("The intervals hold chance alone.")
