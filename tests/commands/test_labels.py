"""``laidup labels``: who gets one, what the yard is told, and that nothing is left half."""

import json
import tomllib

import pytest

from monitor.sheets.paper import SHEETS, Paper
from tests.commands.yard_files import copied_yard, laidup
from tests.sheets.paper_reader import codes_of, pictures_of, text_of

EVE = "2026-11-14T16:00"


@pytest.fixture
def yard(tmp_path):
    """The demo's yard, its craft on record."""
    config = copied_yard(tmp_path)
    laidup("import", "craft", str(tmp_path / "craft.toml"), "--config", str(config))
    return config


@pytest.fixture
def labels(yard, tmp_path, capsys):
    """Prints labels; tells status, file, stdout and stderr."""
    file = tmp_path / "labels.pdf"

    def run(*arguments, at=EVE):
        capsys.readouterr()
        status = laidup("labels", *arguments, "--out", str(file), "--at", at,
                        "--config", str(yard))  # fmt: skip
        said = capsys.readouterr()
        return status, file, said.out, said.err

    return run


def test_every_craft_in_the_yard_gets_one(labels, tmp_path):
    status, file, out, _ = labels("--paper", "a4")
    assert status == 0
    assert "12 labels on 2 pages" in out
    codes = [code for one in pictures_of(file, tmp_path, 300) for code in codes_of(one)]
    assert sorted(codes) == sorted(f"k{number}" for number in range(1, 13))


def test_a_yard_without_an_address_is_told_what_its_codes_say(labels, yard, tmp_path):
    assert "[web] address" in labels("k1")[3]
    text = yard.read_text(encoding="utf-8")
    assert "address" not in tomllib.loads(text).get("web", {})
    yard.write_text(f'{text}\n[web]\naddress = "https://watch.kettlemoss.example/"\n', "utf-8")
    _, file, _, err = labels("k1")
    assert err == ""
    assert [codes_of(one) for one in pictures_of(file, tmp_path)] == [
        ["https://watch.kettlemoss.example/craft/k1"]
    ]


def test_machines_read_the_same_figures(labels):
    told = json.loads(labels("k3", "--json")[2])
    assert told["pages"] == 1
    (grebe,) = told["labels"]
    assert (grebe["craft"], grebe["state"], grebe["ice_point_c"]) == ("k3", "proven", -5.0)
    assert (grebe["holds_low"], grebe["laid_up"], grebe["code"]) == (False, True, "k3")


def test_a_craft_that_is_away_is_named_and_gets_none(labels, yard):
    laidup("layup", "add", "k1", "--act", "taken-out", "--by", "Ines", "--at", "2026-11-13T10:00",
           "--config", str(yard))  # fmt: skip
    status, file, _, err = labels("k1", "k2")
    assert status == 0
    assert "Not in the yard, and so without a label: k1 Teal" in err
    assert "Teal" not in text_of(file)


def test_without_any_craft_nothing_is_written(labels):
    status, file, _, err = labels(at="2020-01-01T12:00")
    assert status == 1
    assert "no file is written" in err
    assert not file.exists()


def test_an_empty_yard_is_told_how_craft_come_in(tmp_path, capsys):
    config = copied_yard(tmp_path)
    text = config.read_text(encoding="utf-8").replace('craft_files = ["craft.toml"]', "")
    config.write_text(text, encoding="utf-8")
    assert laidup("migrate", "--config", str(config)) == 0
    file = tmp_path / "labels.pdf"
    assert laidup("labels", "--out", str(file), "--config", str(config)) == 1
    assert "laidup import craft" in capsys.readouterr().err
    assert not file.exists()


def test_a_font_that_is_none_is_named_with_what_would_do(labels, tmp_path):
    wrong = tmp_path / "font.ttf"
    wrong.write_text("no font", encoding="utf-8")
    status, file, _, err = labels("k1", "--font", str(wrong))
    assert status == 2
    assert str(wrong) in err
    assert "TrueType" in err
    assert not file.exists()


def test_a_folder_that_is_not_there_is_named(yard, capsys):
    gone = yard.parent / "gone" / "labels.pdf"
    assert laidup("labels", "k1", "--out", str(gone), "--config", str(yard)) == 1
    assert "--out" in capsys.readouterr().err


def test_the_flags_offer_every_paper_that_there_is(capsys):
    for command, papers in (("labels", list(Paper)), ("work-sheet", list(SHEETS))):
        with pytest.raises(SystemExit):
            laidup(command, "--out", "x.pdf", "--paper", "none-such")
        said = capsys.readouterr().err.partition("choose from ")[2]
        assert {one.strip(" '()\n") for one in said.split(",")} == {str(one) for one in papers}
