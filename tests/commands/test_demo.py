"""`laidup demo` refuses what cannot be played, before anything is started."""

import os
import queue
import socket
import subprocess
import sys
import threading

import pytest

from monitor.cli import main
from monitor.clock import SystemClock
from monitor.commands import demo


@pytest.mark.parametrize(
    ("flags", "words"),
    [
        (["--hours-a-minute", "0"], "never ends"),
        (["--hours-a-minute", "-3"], "never ends"),
        (["--hours-a-minute", "nan"], "never ends"),
        (["--hours-a-minute", "quick"], "quick"),
        (["--port", "99999"], "between 1 and 65535"),
    ],
)
def test_a_flag_that_will_not_do_is_refused_as_wrong_use(flags, words, capsys):
    with pytest.raises(SystemExit) as ended:
        main(["demo", *flags])
    assert ended.value.code == 2
    assert words in capsys.readouterr().err


def test_a_taken_port_ends_the_demo_with_the_way_out_and_leaves_nothing_running(tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        ended = subprocess.run(
            [sys.executable, "-m", "monitor", "demo", "--port", port, "--end"],
            capture_output=True, text=True, timeout=60, check=False,
            env={**os.environ, "TMPDIR": str(tmp_path)},
        )  # fmt: skip
    assert ended.returncode == 1
    assert f"port {port}" in ended.stderr
    assert "set another" in ended.stderr
    assert "Traceback" not in ended.stderr
    assert list(tmp_path.iterdir()) == []


class ToldStage:
    """A stage whose story is over, and who asks it how often."""

    failure = None
    clock = SystemClock()

    def __init__(self, mails):
        self.mails = mails
        self.deeds = queue.Queue()
        self.asked = 0

    def wait(self, _timeout_s):
        self.asked += 1
        return True

    def spring_lines(self):
        return ["Fuel: fill with fresh fuel."]


def test_a_demo_waits_for_its_end_without_turning_once_its_story_is_told(
    tmp_path, monkeypatch, capsys
):
    stage, stop = ToldStage(tmp_path), threading.Event()
    monkeypatch.setattr(demo._Teller, "print_news", lambda _: None)
    monkeypatch.setattr(demo, "_POLL_S", 0.25)
    threading.Timer(1.0, stop.set).start()
    demo._follow_story(stage, stop, ends=False)
    assert 1 <= stage.asked <= 5
    assert capsys.readouterr().out.count("The story is told") == 1
