"""The lists show the evidence and who wrote it, count what holds a low, tell a reason once."""

import json

import pytest

from tests.commands.yard_files import copied_yard, laidup

EVE = "2026-11-14T16:00"


@pytest.fixture
def yard(tmp_path, capsys):
    """The demo's yard, its craft on record; runs a verb and returns what it said."""
    config = copied_yard(tmp_path)
    laidup("import", "craft", str(tmp_path / "craft.toml"), "--config", str(config))
    capsys.readouterr()

    def say(*arguments: str) -> str:
        assert laidup("layup", *arguments, "--config", str(config)) == 0
        return " ".join(capsys.readouterr().out.split())

    say.config = config
    return say


def test_the_list_of_a_craft_shows_all_evidence_and_when_it_was_written(yard):
    yard("add", "k2", "--act", "inspected", "--circuit", "water-box", "--by", "Ines", "--at", EVE,
         "--ice-point", "-13C", "--scale", "propylene", "--zeroed-on", "2026-11-14",
         "--witness", "Tom", "--photo-place", "box.jpg")  # fmt: skip
    told = yard("list", "k2")
    for seen in ("read −13.0 °C", "propylene scale", "zeroed 14 Nov", "seen by Tom Varga",
                 "photo box.jpg", "lot P26-117", "50 %", "onto 0.24 L of water"):  # fmt: skip
        assert seen in told
    written = {one["id"]: one["written_at"] for one in json.loads(yard("list", "k2", "--json"))}
    assert all(written.values())


def test_the_list_of_a_craft_shows_moves_and_who_made_them(yard):
    yard("move", "k10", "lee-rack/5", "--by", "Ines", "--at", "2026-11-14T15:00")
    told = yard("list", "k10")
    assert "14 Nov 15:00 stands in lee-rack/5, Ines Aldaz" in told
    assert "stands in stove-barn/1, nobody said by whom" in told
    last = json.loads(yard("list", "--json"))[9]["moves"][-1]
    assert (last["space"], last["berth"], last["by"]) == ("lee-rack", "5", "operator")


def test_the_list_counts_what_holds_a_low_and_not_what_is_proven(yard):
    # Grebe's raw side is proven at −5 °C: that is no proof against −12.
    listed = json.loads(yard("list", "--low", "-12C", "--at", EVE, "--json"))
    grebe = next(one for one in listed if one["craft"] == "k3")
    assert {one["state"] for one in grebe["circuits"]} == {"proven"}
    assert (grebe["low_c"], grebe["holds_low"]) == (-12.0, 2)
    assert "2 of 5" in yard("list", "--low", "-12C", "--at", EVE)
    mild = json.loads(yard("list", "--low", "−4 °C", "--at", EVE, "--json"))[2]
    assert mild["holds_low"] == 5


def test_a_correction_stands_right_under_what_it_corrects(yard):
    pour = [one for one in json.loads(yard("list", "k2", "--json")) if "quantity_l" in one][-1]
    yard("correct", pour["id"], "--quantity", "0.4L", "--entered-by", "Ines")
    told = yard("list", "k2").partition(f"[{pour['id']}")[2]
    assert told.partition("replaces")[2].startswith(f" {pour['id']}; entered by Ines Aldaz")
    assert told.index("replaces") < told.index("fogged-plug-holes")


def test_a_reason_that_circuits_share_is_told_once(yard):
    told = yard("protection", "k2", "--at", EVE)
    assert told.count("probed and seen dry") == 1  # of two circuits
    assert told.count("nothing came out: a blocked passage") == 1


def test_a_name_taken_out_of_the_yards_file_is_shown_nowhere(yard, capsys):
    file = yard.config
    text = file.read_text()
    assert 'name = "Tom Varga"' in text
    file.write_text(text.replace("[[people]]", '[helpers]\nvera = "Vera Quill"\n\n[[people]]', 1))
    yard("add", "k2", "--act", "bilge-dried", "--by", "vera quill", "--at", EVE)
    assert "bilge-dried, Vera Quill" in yard("list", "k2")
    [entry] = [
        one for one in json.loads(yard("list", "k2", "--json")) if one["at"][:10] == EVE[:10]
    ]
    assert entry["by"] == "vera"
    file.write_text(text)
    assert "bilge-dried, vera" in yard("list", "k2")
    assert laidup("verify", "--config", str(file)) == 0
    assert "Quill" not in capsys.readouterr().out


def test_work_without_an_hour_stands_where_it_counts_and_a_noon_is_not_sworn_to(yard):
    sprayed = ("add", "k10", "--by", "Ines", "--act")
    yard(*sprayed, "rodent-care", "--at", "2026-11-13T14:00")
    yard(*sprayed, "sprayed-down", "--at", "13 Nov 2026")
    told = yard("list", "k10")
    assert told.index("rodent-care") < told.index("sprayed-down")
    assert "13 Nov, hour not told" in told
    assert "12:00 may stand for a date without an hour" not in told
    yard(*sprayed, "desiccant-placed", "--at", "2026-11-13T12:00")
    assert "12:00 may stand for a date without an hour" in yard("list", "k10")
