"""Photos by command: with the work of a flag, listed, checked, exported and taken in again."""

import json
from io import BytesIO

import pytest
from PIL import Image

from monitor.settings.load import load_settings
from monitor.store.store import Store
from tests.commands.yard_files import copied_yard, laidup

EVE = "2026-11-14T16:00"
ENTRY = ("add", "k2", "--act", "inspected", "--circuit", "water-box", "--by", "Ines", "--at", EVE)


@pytest.fixture
def yard(tmp_path, capsys):
    """The demo's yard, its craft on record; runs a command and returns status and answer."""
    config = copied_yard(tmp_path)
    laidup("import", "craft", str(tmp_path / "craft.toml"), "--config", str(config))
    capsys.readouterr()

    def run(*arguments):
        status = laidup(*map(str, arguments), "--config", str(config))
        told = capsys.readouterr()
        return status, " ".join((told.out + told.err).split())

    run.config = config
    return run


@pytest.fixture
def photo(tmp_path):
    file = tmp_path / "box.jpg"
    exif = Image.Exif()
    exif[0x8825] = {2: (44.0, 30.0, 12.5)}
    Image.new("RGB", (300, 200), "pink").save(file, exif=exif)
    return file


def names(yard):
    status, told = yard("layup", "list", "k2", "--json")
    assert status == 0
    found = [one.get("evidence", {}).get("photo_sha256", []) for one in json.loads(told)]
    return [name for some in found for name in some]


def change_content(yard):
    settings = load_settings(yard.config)
    store = Store(settings.store_url, settings.yard.id)
    with store.transaction() as tx:
        tx._connection.exec_driver_sql("UPDATE photos SET content = x'ffd8ff00'")
    store.close()


def test_a_photo_goes_in_with_its_work_and_the_list_names_it(yard, photo):
    status, told = yard("layup", *ENTRY, "--photo", photo)
    assert status == 0, told
    (name,) = names(yard)
    assert f"photo {name[:12]}" in yard("layup", "list", "k2")[1]
    assert yard("verify")[0] == 0


def test_a_correction_can_bring_a_photo_along(yard, photo):
    yard("layup", *ENTRY)
    entry = json.loads(yard("layup", "list", "k2", "--json")[1])[-1]["id"]
    status, told = yard("layup", "correct", entry, "--photo", photo, "--entered-by", "Ines")
    assert status == 0, told
    assert len(names(yard)) == 1


@pytest.mark.parametrize("content", [None, b"", b"no photo", b"\0\0\0\x18ftypheic\0\0\0\0mif1"])
def test_a_file_that_is_no_photo_enters_nothing_and_is_named(yard, tmp_path, content):
    file = tmp_path / "slip.jpg"
    if content is not None:
        file.write_bytes(content)
    before = yard("layup", "list", "k2", "--json")
    status, told = yard("layup", *ENTRY, "--photo", file)
    assert status != 0
    assert "slip.jpg" in told
    assert yard("layup", "list", "k2", "--json") == before


def test_verify_says_which_photo_is_not_what_was_kept(yard, photo):
    yard("layup", *ENTRY, "--photo", photo)
    (name,) = names(yard)
    change_content(yard)
    status, told = yard("verify")
    assert status == 1
    assert name[:12] in told
    assert "not what was kept" in told


def test_photos_go_to_a_folder_and_come_back_and_a_changed_one_does_not(
    yard, photo, tmp_path, capsys
):
    yard("layup", *ENTRY, "--photo", photo)
    (name,) = names(yard)
    folder = tmp_path / "photos"
    assert yard("export", "photos", "--out", folder)[0] == 0
    assert [one.name for one in folder.iterdir()] == [f"{name}.jpg"]
    content = (folder / f"{name}.jpg").read_bytes()
    assert not dict(Image.open(BytesIO(content)).getexif())

    (tmp_path / "other").mkdir()
    other = copied_yard(tmp_path / "other")
    laidup("import", "craft", str(tmp_path / "other" / "craft.toml"), "--config", str(other))
    work = tmp_path / "work.csv"
    assert yard("export", "record", "k2", "--out", work)[0] == 0
    capsys.readouterr()
    assert laidup("import", "work", str(work), "--config", str(other)) != 0
    assert name[:12] in capsys.readouterr().err  # its photo has to come first
    assert laidup("import", "photos", str(folder), "--config", str(other)) == 0
    assert laidup("import", "work", str(work), "--config", str(other)) == 0
    assert laidup("verify", "--config", str(other)) == 0

    change_content(yard)
    again = tmp_path / "again"
    status, told = yard("export", "photos", "--out", again)
    assert status == 1
    assert f"{name[:12]} of entry" in told
    (folder / f"{name}.jpg").write_bytes(content + b"behind it")
    status, told = yard("import", "photos", folder)
    assert status != 0
    assert "its name vouches for" in told
