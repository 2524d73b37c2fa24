"""From the batches compared to the verdict, the replay of the alarm and the evidence pack, on the example, in a real browser; the
command of the pack then works it out anew from the raw files."""

import json
import re
import shlex
import zipfile

import pytest

from pipelines import cli
from pipelines.answers import ask
from pipelines.load import load
from pipelines.settings import Settings
from pipelines.warehouse import reading
from tests.browser.acts import downloaded, look_up
from tests.browser.conftest import serving

#: The batch of the example that was made worse.
BAD = "UC-09"


@pytest.fixture(scope="module")
def exports(request):
    return request.config.rootpath / "example_data" / "exports"


@pytest.fixture(scope="module")
def server(chromium, exports, tmp_path_factory, request):
    """The app on the example, in the place of the small fleet of the other tests."""
    warehouse = tmp_path_factory.mktemp("example") / "warehouse"
    load([exports], warehouse=warehouse, settings=Settings())
    with serving(warehouse, request.config.rootpath) as running:
        yield running


def test_from_the_batches_to_the_verdict_the_alarm_and_the_pack_whose_command_reproduces_it(
    visit, server, exports, tmp_path, capsys
):
    with reading(server.warehouse) as connection:
        verdict = ask("batch-verdict", connection)
        alarm = ask("batch-alarm", connection, case={"batch": BAD})
    truth = json.loads((exports.parent / "truth.json").read_text(encoding="utf-8"))["hard"]["bad_batch"]
    row = next(one for one in verdict.batches if one.batch == BAD)
    watched = next(one for one in alarm.batches if one.batch == BAD)

    one = visit()
    one.open()
    one.go("Batches compared")
    assert one.lead == verdict.sentence
    assert BAD in one.lead
    assert truth["batch_id"] == BAD
    assert row.ratio.low < truth["hazard_ratio"] < row.ratio.high

    one.go("Early alarm")
    look_up(one, "batch", BAD)
    assert watched.sentence.startswith(f"{one.lead.rstrip('.')}")
    assert watched.watch.on in one.page.get_by_test_id("stMain").inner_text()
    assert one.page.locator(".js-plotly-plot").count() == 1

    one.go("Evidence pack")  # which opens with the batch that stands out most
    assert one.lead == row.sentence
    pack = tmp_path / "evidence.zip"
    pack.write_bytes(downloaded(one, "zip_exhibit"))
    shown = one.page.get_by_test_id("stCode").inner_text().strip()
    assert shown == f"stickfleet reproduce evidence_{BAD}.zip PATH…"

    with zipfile.ZipFile(pack) as packed:
        told = json.loads(packed.read("manifest.json"))
        packed_row = next(one for one in json.loads(packed.read("verdict.json"))["batches"] if one["batch"] == BAD)
        packed_alarm = json.loads(packed.read("alarm.json"))
    assert packed_row["ratio"]["estimate"] == pytest.approx(row.ratio.estimate, rel=1e-9)
    assert next(one for one in packed_alarm["batches"] if one["batch"] == BAD)["watch"]["on"] == watched.watch.on

    words = shlex.split(told["commands"][0].replace("PACK.zip", str(pack)).replace("PATH…", str(exports)))
    assert words[0] == "stickfleet"
    capsys.readouterr()
    assert cli.main(words[1:]) == 0
    assert re.fullmatch(r"All [\d,]+ figures are the same\.\n", capsys.readouterr().out)


def test_the_page_of_the_pack_prints_and_asks_no_one(server, browser, tmp_path):
    path = tmp_path / "it.zip"
    words = ["answer", "batch-exhibit", "--warehouse", str(server.warehouse), "--case", f"batch={BAD}", "--out", str(path)]
    assert cli.main(words) == 0
    with zipfile.ZipFile(path) as packed:
        html = packed.read("exhibit.html").decode()
    page, asked = browser.new_page(), []
    page.on("request", lambda one: asked.append(one.url))
    page.set_content(html)
    drawn = page.evaluate("[...document.images].map(one => one.complete && one.naturalWidth > 0)")
    wide = page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    pdf = page.pdf(prefer_css_page_size=True)
    page.close()
    assert drawn == [True] * 3
    assert wide
    assert 4 <= len(re.findall(rb"/Type\s*/Page[^s]", pdf)) <= 12
    assert [one for one in asked if not one.startswith("data:image/svg+xml")] == []
