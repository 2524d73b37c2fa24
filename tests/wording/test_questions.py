"""The list of questions at the end of the help of `stickfleet answer`."""

from __future__ import annotations

import pytest

from pipelines import cli
from pipelines.answers.case import CASE
from pipelines.vocabulary import Question
from pipelines.wording.questions import ANSWERS, questions_text


def test_every_question_says_what_it_answers_and_what_it_takes():
    lines = questions_text(CASE).splitlines()
    assert set(ANSWERS) == set(Question)
    assert max(map(len, lines)) <= 100
    for question, names in CASE.items():
        start = next(number for number, line in enumerate(lines) if line.startswith(f"  {question.value}: "))
        for name in names:
            assert any(line.startswith(f"      {name}=  ") for line in lines[start:]), (question, name)


def test_the_help_of_answer_ends_with_them_and_that_of_others_does_not(capsys):
    for command, is_listed in (("answer", True), ("load", False)):
        with pytest.raises(SystemExit) as left:
            cli.main([command, "--help"])
        assert left.value.code == 0
        assert ("lot-bid: how much to bid" in capsys.readouterr().out) is is_listed
