"""The screen “Evidence pack”: which batch, the verdict, what is in the pack, and the pack itself."""

from __future__ import annotations

import io
import zipfile

from dashboard import source
from pipelines.wording.batch_exhibit import MEMBERS
from tests.dashboard.test_screens import lead


def test_it_opens_with_the_batch_that_stands_out_most(screen):
    app = screen("batch_exhibit")
    assert not app.exception
    assert app.title[0].value == "Evidence pack"
    names = app.selectbox(key="batch").options
    assert f"Batch {names[0]} " in lead(app)
    assert [one.label for one in app.get("download_button")] == ["Evidence pack"]
    listed = "".join(one.proto.body for one in app.get("html"))
    assert all(f"<b>{name}</b>" in listed for name in MEMBERS)
    assert app.code[0].value == f"stickfleet reproduce evidence_{names[0]}.zip PATH…"
    assert any(one.label == "How this is worked out" for one in app.expander)


def test_batch_and_notes_stand_in_the_address(screen):
    app = screen("batch_exhibit", batch="TC-20", exhibit_notes="true")
    assert not app.exception
    assert "Batch TC-20" in lead(app)
    assert any("may name people" in one.proto.body for one in app.get("html"))


def test_the_button_gives_the_pack_of_the_batch(screen):
    screen("batch_exhibit")
    with zipfile.ZipFile(io.BytesIO(source.evidence_pack("TC-20", has_notes=False))) as packed:
        assert set(packed.namelist()) == set(MEMBERS)
        assert b"TC-20" in packed.read("manifest.json")
