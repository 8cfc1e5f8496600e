"""``laidup work-sheet``: whose work is printed, for which low, and what is told beside."""

import json

import pytest

from tests.commands.yard_files import copied_yard, laidup
from tests.sheets.paper_reader import pages_of, text_of

EVE = "2026-11-14T16:00"


@pytest.fixture
def yard(tmp_path):
    """The demo's yard, its craft on record."""
    config = copied_yard(tmp_path)
    laidup("import", "craft", str(tmp_path / "craft.toml"), "--config", str(config))
    return config


@pytest.fixture
def sheets(yard, tmp_path, capsys):
    """Prints work sheets; tells status, file, stdout and stderr."""
    file = tmp_path / "work.pdf"

    def run(*arguments):
        capsys.readouterr()
        status = laidup("work-sheet", *arguments, "--out", str(file), "--at", EVE,
                        "--config", str(yard))  # fmt: skip
        said = capsys.readouterr()
        return status, file, said.out, said.err

    return run


def test_the_sheets_hold_the_steps_that_the_plan_command_counts(sheets, yard, capsys):
    told = json.loads(sheets("--json")[2])
    laidup("layup", "plan", "--at", EVE, "--json", "--config", str(yard))
    plans = {one["craft"]: len(one["needs"]) for one in json.loads(capsys.readouterr().out)}
    assert {one["craft"]: one["steps"] for one in told["sheets"]} == {
        craft: steps for craft, steps in plans.items() if steps
    }


def test_a_craft_with_nothing_left_to_do_is_named_and_gets_none(sheets):
    status, file, out, err = sheets("k1", "k2")
    assert status == 0
    assert "Nothing missing by the record, and so no sheet: k1 Teal" in err
    assert "the work on 1 craft" in out
    assert "Teal" not in text_of(file)


def test_where_no_work_is_left_nothing_is_written(sheets):
    status, file, _, err = sheets("k1")
    assert status == 1
    assert "no work is left" in err
    assert not file.exists()


def test_a_milder_low_asks_for_less(sheets):
    hard = json.loads(sheets("k3", "--low", "-20C", "--json")[2])["sheets"][0]
    mild = json.loads(sheets("k3", "--low", "0C", "--json")[2])["sheets"][0]
    assert (hard["low_c"], mild["low_c"]) == (-20.0, 0.0)
    assert mild["steps"] < hard["steps"]  # no circuit needs work against 0 °C


def test_the_sheet_of_spring_names_each_step_and_asks_for_no_quantity(sheets):
    _, file, _, _ = sheets("Teal", "--spring")
    said = " ".join(text_of(file).split())
    for title in ("Uncover and look", "Drain and catch the antifreeze", "Sign off: may be started"):
        assert title in said
    assert "Into which drum, how much?" in said
    assert "Quantity" not in said
    assert "What would also do" not in said


def test_the_paper_is_that_of_the_yard_s_units_or_as_asked(sheets, yard):
    # ISO 216; ANSI/ASME Y14.1 size A
    assert pages_of(sheets("k2")[1])[0] == pytest.approx((210.0, 297.0), abs=0.1)
    text = yard.read_text(encoding="utf-8")
    yard.write_text(text.replace("[yard]\n", '[yard]\nvolume_unit = "fl oz"\n'), "utf-8")
    assert pages_of(sheets("k2")[1])[0] == pytest.approx((215.9, 279.4), abs=0.1)
    assert pages_of(sheets("k2", "--paper", "a4")[1])[0] == pytest.approx((210.0, 297.0), abs=0.1)


def test_signs_that_no_font_has_are_told_with_the_way_to_print_them(sheets, yard):
    file = yard.parent / "craft.toml"
    text = file.read_text(encoding="utf-8").replace('name = "Plover"', 'name = "水手号"')
    file.write_text(text, encoding="utf-8")
    laidup("import", "craft", str(file), "--config", str(yard))
    status, printed, _, err = sheets("k2")
    assert status == 0
    assert "水 (U+6C34)" in err
    assert "--font FILE" in err
    assert "‹U+6C34 U+624B U+53F7›" in text_of(printed)
