"""The still figures: the same bytes each time, names shown as they are, nothing fetched, and marks where the numbers are."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import pytest

from pipelines.charts.exhibit import alarm_svg, batches_svg, curves_svg
from tests.pack.packs import make_log

BATCH = "OC-16"
ODD = "<b>$x_{$ & é"


@pytest.fixture(scope="module")
def answers(tmp_path_factory):
    return make_log(tmp_path_factory.mktemp("figures")).ask(batch=BATCH).answers


def texts(svg: bytes) -> list[str]:
    return [one.text for one in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


def test_the_batches_stand_by_name_and_the_same_figure_has_the_same_bytes(answers):
    drawn = batches_svg(answers["verdict"], BATCH)
    assert BATCH in texts(drawn)
    assert drawn == batches_svg(answers["verdict"], BATCH)
    assert not re.search(rb"<script|<image|href=\"(?!#)|@import|url\((?!#)", drawn)


def test_a_name_is_shown_as_it_is(answers):
    rows = [replace(row, batch=ODD) if row.batch == BATCH else row for row in answers["verdict"].batches]
    assert ODD in texts(batches_svg(replace(answers["verdict"], batches=rows), ODD))
    assert ODD in texts(curves_svg(replace(answers["pattern"], batch=ODD)))


def test_both_curves_are_drawn_to_the_shares_of_the_answer(answers):
    """The path of the batch goes as low as its last share, on the axis that the ticks at 0.0 and 1.0 give."""
    svg = ElementTree.fromstring(curves_svg(answers["pattern"]))
    ns = "{http://www.w3.org/2000/svg}"
    ticks = {}
    for group in svg.iter(f"{ns}g"):
        label = group.find(f".//{ns}text")
        if group.get("id", "").startswith("ytick_") and label is not None:
            ticks[label.text] = float(group.find(f".//{ns}use").get("y"))
    zero, one = ticks["0.0"], ticks["1.0"]
    low = {}
    for path in svg.iter(f"{ns}path"):
        if "stroke: #" in (style := path.get("style", "")) and path.get("clip-path"):
            heights = [float(pair.split()[1]) for pair in re.findall(r"[ML] ([\d. ]+?)(?= ?\n| ?$)", path.get("d"))]
            low[re.search(r"stroke: (#\w+)", style)[1]] = (zero - max(heights)) / (zero - one)
    last = answers["pattern"].curves.points[-1]
    assert sorted(low.values()) == pytest.approx(sorted([last.batch, last.rest]), abs=1e-3)


def test_the_alarm_is_drawn_of_the_batch_shown_only(answers):
    assert {"evidence", "watch it (20)", "stop buying it (100)"} <= set(texts(alarm_svg(answers["alarm"], BATCH)))
    assert alarm_svg(answers["alarm"], "TC-20") is None


def test_nothing_is_drawn_of_nothing(answers):
    assert batches_svg(replace(answers["verdict"], batches=[]), BATCH) is None
    curves = replace(answers["pattern"].curves, points=[])
    assert curves_svg(replace(answers["pattern"], curves=curves)) is None
