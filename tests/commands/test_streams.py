"""What an answer goes to may be full, gone or of another encoding: a line says so, no trace."""

import argparse
import json
import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from monitor.commands.export import _tell
from monitor.commands.streams import file_when_whole
from monitor.errors import LaidupError
from tests.commands.yard_files import copied_yard, fill, laidup

UNTIL = datetime(2026, 11, 14, 12, tzinfo=UTC)
NO_ROOM = Path("/dev/full")  # each write to it fails for want of room


@pytest.fixture(scope="module")
def yard(tmp_path_factory) -> str:
    file = copied_yard(tmp_path_factory.mktemp("yard"))
    craft = file.parent / "craft.toml"
    text = craft.read_text(encoding="utf-8")
    assert '"Heron"' in text
    craft.write_text(text.replace('"Heron"', '"Reiher ❄"'), encoding="utf-8")
    fill(file, UNTIL, days=1)
    return str(file)


def started(*line: str, stdout: object = subprocess.PIPE, **environment: str):
    """A command as a shell starts it, for the streams are the process's own."""
    return subprocess.run(
        [sys.executable, "-m", "monitor", *line],
        stdout=stdout,
        stderr=subprocess.PIPE,
        check=False,
        env=os.environ | environment,
    )


@pytest.mark.parametrize("line", [["layup", "list"], ["status", "--json"], ["export", "record"]])
def test_a_full_disk_is_told_in_one_line(yard, line):
    with NO_ROOM.open("wb") as full:
        done = started(*line, "--config", yard, stdout=full)
    assert done.returncode == 1
    assert "No space left on device" in (said := done.stderr.decode())
    assert "Traceback" not in said


@pytest.mark.parametrize("lines", [[], ["--lines"]])
def test_an_export_to_a_full_disk_names_the_file(yard, lines, capsys):
    assert laidup("export", "record", *lines, "--out", str(NO_ROOM), "--config", yard) == 1
    assert capsys.readouterr().err == "--out /dev/full: No space left on device\n"


@pytest.mark.parametrize(
    ("failure", "told"),
    [(KeyboardInterrupt(), KeyboardInterrupt), (OSError(28, "No space left"), LaidupError)],
)
def test_an_export_that_breaks_off_leaves_the_file_that_was_there(tmp_path, failure, told):
    file = tmp_path / "record.csv"
    file.write_text("whole\n", encoding="utf-8")

    def break_off() -> None:
        with file_when_whole(file) as part:
            part.write_text("ha", encoding="utf-8")
            raise failure

    with pytest.raises(told):
        break_off()
    assert file.read_text(encoding="utf-8") == "whole\n"
    assert list(tmp_path.iterdir()) == [file]


def test_a_pipe_that_nobody_reads_to_its_end_makes_no_noise(yard):
    reader, writer = os.pipe()
    os.close(reader)
    with os.fdopen(writer, "wb") as broken:
        done = started("layup", "list", "--config", yard, stdout=broken)
    assert (done.returncode, done.stderr) == (1, b"")


def test_another_encoding_loses_no_minus_and_no_letter_of_json(yard):
    told = started("layup", "list", "--config", yard, PYTHONIOENCODING="ascii")
    assert told.returncode == 0
    assert b"Holds -" in told.stdout  # U+2212 in UTF-8
    answer = ["status", "--json", "--config", yard]
    in_ascii = started(*answer, PYTHONIOENCODING="ascii").stdout
    assert in_ascii.isascii()
    assert json.loads(in_ascii)["yard"] == json.loads(started(*answer).stdout)["yard"]


def test_a_table_on_stdout_is_utf_8_in_every_locale(yard):
    line = ["export", "record", "--config", yard]
    assert started(*line, PYTHONIOENCODING="ascii").stdout == started(*line).stdout


def test_one_link_is_no_links(tmp_path, capsys):
    arguments = argparse.Namespace(out=tmp_path / "lines")
    assert _tell(1, "link", "links", arguments) == 0
    assert capsys.readouterr().err.endswith("lines: 1 link.\n")


def test_lines_of_one_craft_are_that_craft_s_alone(yard, capsys):
    assert laidup("export", "record", "--lines", "k1", "--config", yard) == 0
    lines = capsys.readouterr().out.splitlines()
    assert {json.loads(line)["craft"] for line in lines} == {"k1"}
    assert laidup("export", "record", "--lines", "nobody", "--config", yard) == 2


def test_a_time_that_is_none_names_its_own_flag(yard, capsys):
    assert laidup("export", "readings", "--from", "rubbish", "--config", yard) == 2
    assert capsys.readouterr().err.startswith("--from: 'rubbish' is no time")
