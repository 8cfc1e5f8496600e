"""Plots are drawn by a child process that nothing in the yard's folder can mislead or hold up."""

import json
import os
import subprocess
import sys
import time
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from monitor.reports import drawing
from monitor.reports.drawing import Plots, for_dark_screen

ROOT = Path(__file__).parents[2]
PNG = b"\x89PNG\r\n\x1a\n"  # W3C PNG specification, section 5.2
# Python asks for the first on each start of `os`, matplotlib for others, laidup for the rest.
NAMES = ("nt", "json", "matplotlib", "numpy", "PIL", "dateutil", "kiwisolver", "ctypes", "monitor")


def figure(name="Long Shed"):
    week = {"name": name, "at": [0, 900], "coldest_c": [1.0, 2.0], "dew_point_c": [0.0, None]}
    days = {f"1970-01-0{day}": f"day {day}" for day in range(1, 9)}
    span = {"since": 0, "until": 604800}
    return json.dumps({"unit": "C", "zone": "UTC", **span, "days": days, "spaces": [week]})


@pytest.fixture
def hostile(tmp_path):
    """A folder of files that bear the names of modules; whoever runs one leaves a trace."""
    trace = tmp_path / "somebody-ran-this"
    for name in NAMES:
        (tmp_path / f"{name}.py").write_text(
            f"open({str(trace)!r}, 'a').write({name!r})\nimport time\ntime.sleep(60)\n"
        )
    (tmp_path / "matplotlibrc").write_text("this is no setting\n")
    return tmp_path, trace


def test_files_in_the_working_directory_do_not_run_in_the_drawing(hostile, monkeypatch):
    folder, trace = hostile
    monkeypatch.chdir(folder)
    monkeypatch.setenv("PYTHONPATH", ".")
    monkeypatch.setattr(drawing, "PATIENCE_S", 30.0)
    with Plots() as plots:
        assert (plots.plot(figure()) or b"").startswith(PNG)
    assert not trace.exists()


def test_all_plots_of_a_run_share_one_time_limit(tmp_path, monkeypatch):
    stuck = tmp_path / "stuck"
    stuck.write_text(f"#!{sys.executable}\nimport time\ntime.sleep(600)\n")
    stuck.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(stuck))
    began = time.monotonic()
    with Plots(within_s=1.0) as plots:
        assert [plots.plot(figure(str(n))) for n in range(30)] == [None] * 30
    assert time.monotonic() - began < 20.0  # each for itself would take 30


def test_one_process_draws_all_and_each_once_and_a_fault_costs_its_own_figure_alone(monkeypatch):
    started, start = [], subprocess.Popen

    def count(*arguments, **options):
        started.append(start(*arguments, **options))
        return started[-1]

    monkeypatch.setattr(drawing.subprocess, "Popen", count)
    with Plots() as plots:
        first = plots.plot(figure())
        assert plots.plot('{"no": "figure"}') is None
        dark = plots.plot(for_dark_screen(figure()))
        assert plots.plot(figure()) is first is not None
        assert len(started) == 1
        started[0].kill()  # as where the memory runs out: the next has a process of its own
        assert plots.plot(figure("Lost")) is None
        assert (plots.plot(figure("North Row")) or b"").startswith(PNG)
    assert len(started) == 2
    assert all(one.poll() is not None for one in started)
    grounds = [Image.open(BytesIO(one)).convert("RGB").getpixel((1, 1)) for one in (first, dark)]
    assert grounds == [(0xFB, 0xFA, 0xF6), (0x12, 0x18, 0x1A)]


@pytest.mark.parametrize(
    "command", [["--help"], ["calc", "dew-point", "--temperature", "20C", "--humidity", "50%"]]
)
def test_files_in_the_working_directory_do_not_run_in_a_command(hostile, command):
    folder, trace = hostile
    (folder / "monitor.py").unlink()  # -m itself looks for it there: Python allows no guard
    for name in ("pydantic", "sqlalchemy", "secrets", "zoneinfo", "rich", "paho"):
        (folder / f"{name}.py").write_text(f"open({str(trace)!r}, 'a').write({name!r})\n")
    ended = subprocess.run(
        [sys.executable, "-m", "monitor", *command],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=30,
        check=False,
    )
    assert not trace.exists(), trace.read_text()
    assert "Traceback" not in ended.stderr
