"""The units that deploy/ gives a machine: laidup waits for the right time, but not for ever."""

import configparser
import re
import shutil
import subprocess
from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[2] / "deploy" / "systemd"

SERVICES = ("laidup.service",)


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


@pytest.mark.parametrize("name", SERVICES)
def test_a_service_is_exposed_to_little(name):
    if shutil.which("systemd-analyze") is None:
        return  # no machine with systemd
    done = subprocess.run(
        ["systemd-analyze", "security", "--offline=true", "--no-pager", str(FOLDER / name)],
        capture_output=True,
        text=True,
        check=False,
    )
    score = re.search(r"Overall exposure level for \S+: ([\d.]+)", done.stdout)
    assert score, done.stdout + done.stderr
    assert float(score[1]) < 2.0


@pytest.mark.parametrize("name", SERVICES)
def test_a_service_can_write_no_program_and_run_nothing_that_it_writes(name):
    service = read(name)["Service"]
    program = Path(service["ExecStart"].split()[0])
    for folder in service["ReadWritePaths"].split():
        assert not program.is_relative_to(folder.removeprefix("-"))
        assert folder in service["NoExecPaths"].split()
    assert service["ProtectSystem"] == "strict"
    assert {"PYTHONPATH", "LD_PRELOAD"} <= set(service["UnsetEnvironment"].split())


def test_the_watch_can_ask_the_kernel_whether_its_clock_is_kept_right():
    # Else nobody knows whether a time service keeps it; ProtectClock= refuses even the question.
    lines = (FOLDER / "laidup.service").read_text().splitlines()
    asked = [line for line in lines if line.startswith("SystemCallFilter=")]
    assert {"adjtimex", "clock_adjtime"} <= set(asked[-1].partition("=")[2].split())
    assert "ProtectClock" not in read("laidup.service")["Service"]


def test_the_watch_may_lower_the_priority_of_the_nightly_copy():
    lines = (FOLDER / "laidup.service").read_text().splitlines()
    asked = [line for line in lines if line.startswith("SystemCallFilter=")]
    assert "setpriority" in asked[-1].partition("=")[2].split()


def test_the_watch_draws_with_a_list_of_fonts_that_is_kept():
    service = read("laidup.service")["Service"]
    folder = f"/var/cache/{service['CacheDirectory']}"
    assert f"MPLCONFIGDIR={folder}" in service["Environment"].split()
