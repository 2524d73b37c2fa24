"""What is no pack, or no longer the one that was made, is refused in words; nothing is unpacked anywhere."""

from __future__ import annotations

import json
import zipfile

import pytest

from pipelines.errors import InputError
from pipelines.pack import opened
from pipelines.pack.made import MANIFEST
from pipelines.pack.opened import open_pack
from tests.pack.packs import BATCH, members_of, tampered, zipped


def test_a_pack_is_read_back(pack):
    one = open_pack(pack)
    assert (one.batch, one.has_notes, one.level) == (BATCH, False, 0.95)
    assert one.settings["min_failures"] == 6
    assert {file.load for file in one.files} == {1, 2}
    assert list(one.mappings.values()) == [members_of(pack)["mapping_1.toml"].decode()]


def refused(tmp_path, content: bytes) -> str:
    path = tmp_path / "odd.zip"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        open_pack(path)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["odd.zip"]
    return caught.value.what


def test_what_is_no_zip_is_refused(tmp_path, pack):
    assert "no zip, or is damaged" in refused(tmp_path, b"not a zip")
    assert "no zip, or is damaged" in refused(tmp_path, b"")
    assert "no zip, or is damaged" in refused(tmp_path, pack.read_bytes()[:-3000])
    with pytest.raises(InputError, match="cannot be read"):
        open_pack(tmp_path / "none.zip")
    with pytest.raises(InputError, match="cannot be read"):
        open_pack(tmp_path)


def test_a_damaged_member_is_refused(tmp_path, pack):
    content = bytearray(pack.read_bytes())
    middle = len(content) // 2
    content[middle : middle + 40] = bytes(40)
    assert "damaged" in refused(tmp_path, bytes(content))


@pytest.mark.parametrize("name", ["../outside.json", "/etc/outside.json", "a/b.json", "..\\outside.json", "C:x.json", "run.exe"])
def test_a_name_that_leads_elsewhere_is_refused(tmp_path, pack, name):
    assert "does not hold what one holds" in refused(tmp_path, zipped(members_of(pack) | {name: b"{}"}))


def test_a_member_given_twice_is_refused(tmp_path, pack):
    path = tmp_path / "odd.zip"
    path.write_bytes(pack.read_bytes())
    with pytest.warns(UserWarning, match="Duplicate name"), zipfile.ZipFile(path, "a") as packed:
        packed.writestr("verdict.json", b"{}")
    with pytest.raises(InputError, match="does not hold what one holds"):
        open_pack(path)


def test_a_pack_that_unpacks_to_too_much_is_refused(tmp_path, pack, monkeypatch):
    monkeypatch.setattr(opened, "MOST_BYTES", 2_000_000)
    assert "unpacks to more" in refused(tmp_path, zipped(members_of(pack) | {"rows.csv": bytes(3_000_000)}))
    assert "unpacks to more" in refused(tmp_path, zipped({f"x{number}.json": b"" for number in range(200)}))


@pytest.mark.parametrize("name", ["verdict.json", "rows.csv", "exhibit.html", "mapping_1.toml"])
def test_a_member_that_was_altered_is_named(pack, name):
    with pytest.raises(InputError, match=f"altered after it was made: {name} not as its manifest has it"):
        open_pack(tampered(pack, name, lambda one: one + b" ", is_hidden=False))


@pytest.mark.parametrize("name", ["alarm.json", "compared.csv", "mapping_1.toml"])
def test_a_member_that_is_missing_is_named(tmp_path, pack, name):
    members = members_of(pack)
    del members[name]
    assert f"{name} missing" in refused(tmp_path, zipped(members))


def test_without_its_manifest_it_is_no_pack(tmp_path, pack):
    members = members_of(pack)
    del members[MANIFEST]
    assert "does not hold what one holds" in refused(tmp_path, zipped(members))


def edited(**changes):
    def change(content: bytes) -> bytes:
        return json.dumps(json.loads(content) | changes).encode()

    return change


@pytest.mark.parametrize(
    "change",
    [
        lambda content: content[:500], lambda content: b"[]", lambda content: b"\xff\xfe", lambda content: b"[" * 200_000,
        edited(files="none"), edited(files=[{}]), edited(files=[3]), edited(level="0.95"), edited(case={}), edited(settings=None),
        edited(mappings={"x": "none.toml"}), edited(mappings={"x": ["a"]}), edited(software={"python": 3}), edited(members=[]),
    ],
)  # fmt: skip
def test_a_manifest_that_says_nothing_of_use_is_refused(pack, change):
    with pytest.raises(InputError, match=r"no evidence pack, or is damaged|altered after it was made"):
        open_pack(tampered(pack, MANIFEST, change, is_hidden=True))


@pytest.mark.parametrize("content", [b"{", b"[" * 200_000, b"\xff", b'{"x": 1' + b"0" * 5000 + b"}{"])
def test_an_answer_that_is_no_json_is_refused(pack, content):
    with pytest.raises(InputError, match="no evidence pack, or is damaged"):
        open_pack(tampered(pack, "alarm.json", lambda one: content, is_hidden=True))


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b'a,b\n"' + b"x" * 200_000 + b'",1\n'])
def test_a_table_that_is_none_is_refused(pack, content):
    with pytest.raises(InputError, match="no evidence pack, or is damaged"):
        open_pack(tampered(pack, "rows.csv", lambda one: content, is_hidden=True))
