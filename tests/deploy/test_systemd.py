"""The units that deploy/ gives a machine: laidup waits for the right time, but not for ever."""

import configparser
import shutil
import subprocess
from pathlib import Path

FOLDER = Path(__file__).parents[2] / "deploy" / "systemd"


def read(name: str) -> configparser.ConfigParser:
    unit = configparser.ConfigParser(strict=False, interpolation=None)
    unit.optionxform = str  # type: ignore[assignment]
    unit.read(FOLDER / name)
    return unit


def test_laidup_starts_after_the_time_is_right_and_asks_for_it():
    unit = read("laidup.service")["Unit"]
    assert "time-sync.target" in unit["After"].split()
    assert "time-sync.target" in unit["Wants"].split()
    # Required, a machine without a way out to the internet would never watch.
    assert "time-sync.target" not in unit.get("Requires", "").split()


def test_waiting_for_the_time_ends(tmp_path):
    assert 0 < int(read("time-wait.conf")["Service"]["TimeoutStartSec"]) <= 300
    waiting = Path("/lib/systemd/system/systemd-time-wait-sync.service")
    if shutil.which("systemd-analyze") is None or not waiting.exists():
        return  # no machine with systemd
    unit = tmp_path / waiting.name
    shutil.copy(waiting, unit)
    (tmp_path / f"{waiting.name}.d").mkdir()
    shutil.copy(FOLDER / "time-wait.conf", tmp_path / f"{waiting.name}.d" / "laidup.conf")
    done = subprocess.run(
        ["systemd-analyze", "verify", str(unit)], capture_output=True, text=True, check=False
    )
    assert "time-wait" not in done.stderr
    assert "laidup.conf" not in done.stderr
