"""``python -m simulator``: files out, packs to a broker, mistakes answered in words."""

import json
import subprocess
import sys

import pytest

from simulator.__main__ import main


def test_readings_and_truth_go_to_files(tmp_path, capsys):
    readings, truth = tmp_path / "readings.csv", tmp_path / "truth.json"
    assert main(["--csv", str(readings), "--truth", str(truth)]) == 0
    assert readings.read_text().startswith("at,sensor,label,unit,value\n")
    assert json.loads(truth.read_text())["yard"] == "kettlemoss"
    assert f"truth written to {truth}" in capsys.readouterr().out


def test_a_play_to_a_broker_ends_cleanly_on_a_signal(broker):
    command = [
        sys.executable, "-m", "simulator", "--broker", f"{broker.host}:{broker.port}",
        "--speed", "600",
    ]  # fmt: skip
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert "in the story" in process.stdout.readline()
        process.terminate()
        rest = process.stdout.read()
        assert process.wait(20) == 0
    assert "messages sent" in rest


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--broker", "nowhere"], "host:port"),
        (["--broker", "127.0.0.1:1", "--speed", "0"], "above 0"),
    ],
)
def test_mistakes_are_answered_in_words(arguments, words):
    with pytest.raises(SystemExit, match=words):
        main(arguments)


def test_a_weather_table_that_is_not_there_is_named(tmp_path):
    missing = tmp_path / "none.csv"
    arguments = ["--csv", str(tmp_path / "out.csv"), "--scenario", "winter", "--craft", "1"]
    with pytest.raises(SystemExit, match=r"none\.csv"):
        main([*arguments, "--weather", str(missing)])
