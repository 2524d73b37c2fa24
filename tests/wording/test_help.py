"""The method notes and the cautions are there, and hold nothing that would break on the page."""

from importlib.resources import files

import pytest

from pipelines.answers import BY
from pipelines.wording.cautions import caution_lines, caution_words

NAMES = [
    *(question.replace("-", "_") for question in BY),
    "family_ranking", "warranty", "cleaning_interval", "before_after", "monthly",
    "cautions",
]  # fmt: skip
NAMES += ["next_failures", "shelf", "cleaning_plan"]
NAMES += ["batch_pattern"]
NAMES += ["tester_study", "batch_inspection"]
NAMES += ["study_plan", "batch_containment"]
NAMES += ["batch_exhibit"]


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


def test_paper_and_the_terminal_have_the_cautions_of_the_page_without_its_marks():
    lines = caution_lines()
    assert len(lines) == text("cautions").count("\n- ") + 2  # (the first danger, and what figures are for)
    assert not [one for one in lines if one != one.strip() or one.startswith("-") or "*" in one or "\n" in one]
    assert lines[0].startswith("Power off and battery out first. Never pierce")
    assert lines[1].endswith("read the supplier's safety sheet, and never mix solvents.")
    assert caution_words() == (
        "Power off and battery out first. Never pierce, bend or heat a cell; a swollen one means stop. Batteries, solvent and "
        "scrap go by local rules. Figures support a decision, they do not certify safety. Follow local codes, the supplier's "
        "sheets and licensed practice."
    )
