"""The method notes and the cautions are there, and hold nothing that would break on the page."""

from importlib.resources import files

import pytest

from pipelines.answers import BY

NAMES = [
    *(question.replace("-", "_") for question in BY),
    "family_ranking", "warranty", "cleaning_interval", "before_after", "monthly",
    "cautions",
]  # fmt: skip
NAMES += ["next_failures", "shelf", "cleaning_plan"]


def text(name: str) -> str:
    return files("pipelines.wording").joinpath("help", f"{name}.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", NAMES)
def test_every_question_has_its_note(name):
    assert len(text(name)) > 400
    assert "$" not in text(name)  # the page would set it as a formula
    assert "http" not in text(name)  # nothing leads outside


@pytest.mark.parametrize(
    "danger", ["battery", "Isopropyl", "Compressed air", "30 psi", "Soldering fume", "swollen", "local rules"]
)
def test_the_cautions_name_what_can_hurt(danger):
    assert danger in text("cautions")


def test_the_cautions_end_with_what_figures_are_for():
    assert text("cautions").rstrip().endswith("Follow local codes, the supplier's sheets and licensed practice.")
