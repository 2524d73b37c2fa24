"""Colours stand in one place, are the same on the screens, and can be read on their paper."""

import re
import tomllib
from pathlib import Path

import pytest

from pipelines.charts.frame import nice_ticks
from pipelines.charts.theme import DARK, LIGHT, PRINT, SCREEN

CHARTS = Path(__file__).resolve().parents[2] / "pipelines" / "charts"
CONFIG = tomllib.loads((Path(__file__).resolve().parents[2] / "dashboard/.streamlit/config.toml").read_text(encoding="utf-8"))


def luminance(color: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(color[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


@pytest.mark.parametrize(("name", "colors"), [("light", LIGHT), ("dark", DARK)])
def test_the_screens_use_the_same_colours(name, colors):
    assert tuple(CONFIG["theme"][name]["chartCategoricalColors"]) == colors


@pytest.mark.parametrize(("name", "colors"), [("light", LIGHT), ("dark", DARK)])
def test_every_colour_can_be_read_as_text_on_its_paper(name, colors):
    # 4.5 : 1 is the WCAG 2.2 level AA for text; the numbers at risk are written in the colours of the curves
    paper = CONFIG["theme"][name]["backgroundColor"]
    assert min(contrast(color, paper) for color in colors) >= 4.5


def test_screen_colours_are_the_places_that_the_theme_fills():
    assert SCREEN.series[0] == "#000001"
    assert SCREEN.series[-1] == "#000010"
    assert len(SCREEN.series) == len(LIGHT) == len(DARK) == 10


def test_print_colours_are_real():
    assert PRINT.paper == "#ffffff"
    assert PRINT.line(0) == LIGHT[0]


@pytest.mark.parametrize(
    ("longest", "ticks"),
    [(0, [0]), (1000, [0, 200, 400, 600, 800, 1000]), (1060, [0, 200, 400, 600, 800, 1000]), (0.5, [0, 0.1, 0.2, 0.3, 0.4, 0.5])],
)
def test_ticks_are_round_and_few(longest, ticks):
    assert nice_ticks(longest) == pytest.approx(ticks)


def test_no_line_across_a_figure_is_a_shape():
    """A shape is black unless told otherwise, which a dark page hides; `add_rule` draws in the palette's grey."""
    files = sorted(CHARTS.glob("*.py"))
    assert len(files) > 10
    assert [path.name for path in files if re.search(r"add_[vh]line\(|add_shape\(", path.read_text(encoding="utf-8"))] == []
