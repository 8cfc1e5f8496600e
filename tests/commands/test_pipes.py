"""Off a terminal: whole lines without boxes, `-` for a pipe, JSON that a program reads."""

import io
import json
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from monitor.commands.imports.piped import readable_file
from tests.commands.yard_files import STEP, copied_yard, fill, laidup

UNTIL = datetime.now(UTC).replace(microsecond=0) - timedelta(days=14)


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    file = copied_yard(tmp_path_factory.mktemp("yard"))
    fill(file, UNTIL, days=1)
    return str(file)


class _Stdin:
    def __init__(self, text: str) -> None:
        self.buffer = io.BytesIO(text.encode())


@pytest.mark.parametrize("line", [["layup", "list"], ["layup", "protection", "k2"], ["assess"]])
def test_a_table_has_no_box_and_each_row_is_one_line(yard, line, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "40")  # which only a terminal has
    assert laidup(*line, "--config", yard) == 0
    told = capsys.readouterr().out
    assert not set("│┃─━┏┌└┡+|") & set(told)
    assert any(len(row) > 60 for row in told.splitlines())


def test_readings_that_come_by_a_pipe_are_taken_in(yard, capsys, monkeypatch):
    assert laidup("export", "readings", "--config", yard) == 0
    text = capsys.readouterr().out
    assert text.startswith("at,sensor,label,unit,value\n")
    monkeypatch.setattr("sys.stdin", _Stdin(text))
    assert laidup("import", "readings", "-", "--json", "--config", yard) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["rows"] == said["readings"] == text.count("\n") - 1
    assert said["new"] == 0  # all of them are there


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("id,name,profile\n", "stdin.csv"),
        ("# a = b\n\n[[craft]]\nid = 'k1'\n", "stdin.toml"),
        ("by = 'ines'\n[[job]]\n", "stdin.toml"),
        ("\ufeffcraft,note\nk1,x = y\n", "stdin.csv"),
    ],
)
def test_a_pipe_is_read_in_the_form_that_its_first_line_shows(text, name, monkeypatch, tmp_path):
    from pathlib import Path

    monkeypatch.setattr("sys.stdin", _Stdin(text))
    with readable_file(Path("-")) as file:
        assert file.name == name
        assert file.read_text(encoding="utf-8") == text
    assert not file.exists()
    with readable_file(tmp_path) as same:
        assert same == tmp_path


def test_status_tells_a_machine_what_each_sensor_said_last(yard, capsys):
    assert laidup("status", "--json", "--config", yard) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["record"]["whole"] is True
    heard = [one for one in said["sensors"] if one["heard"]]
    assert heard
    newest = datetime.fromisoformat(heard[0]["heard"]["temperature"]["at"])
    assert UNTIL - timedelta(hours=1) < newest < UNTIL


def test_report_takes_the_last_week_that_was_watched(yard, capsys):
    # Readings end two weeks ago, so that the last whole week of the calendar has none.
    last = (UNTIL - STEP).astimezone(ZoneInfo("America/Chicago")).strftime("%G-W%V")
    assert laidup("report", "--json", "--config", yard) == 0
    assert {one["week"] for one in json.loads(capsys.readouterr().out)} == {last}


def test_a_space_that_is_half_named_is_found_with_its_berth(yard, capsys):
    assert laidup("layup", "move", "k2", "barn/9", "--by", "vera", "--config", yard) == 2
    assert "Did you mean 'stove-barn/9'?" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("what", "text", "key"),
    [
        ("craft", "id,name,profile,arrived,place\nk99,Dunlin,outbord,2026-10-01,long-shed\n",
         "line 2: profile"),
        ("craft", "[[craft]]\nid = 'k99'\nname = 'Dunlin'\nprofile = 'outbord'\n"
         "arrived = 2026-10-01\n", "craft[1].profile"),
        ("craft", "[[craft]\n", "it is not TOML"),
        ("craft", "", "it is empty"),
        ("work", "craft,at,act,by\nk98,2026-10-20,drained,ines\n", "k98"),
        ("readings", "when,what\n1,2\n", "it has no column 'at'"),
    ],
)  # fmt: skip
def test_what_is_wrong_in_a_pipe_is_told_of_standard_input(
    yard, capsys, monkeypatch, what, text, key
):
    monkeypatch.setattr("sys.stdin", _Stdin(text))
    by = ("--by", "ines") if what == "work" else ()
    assert laidup("import", what, "-", *by, "--config", yard) == 2
    told = capsys.readouterr().err
    assert told.startswith("standard input")
    assert key in told
    assert "stdin." not in told
