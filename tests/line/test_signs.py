"""A part of the daemon that dies or hangs is noticed: by service manager, page, lamp and log."""

import configparser
import shutil
import socket
import subprocess
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import paho.mqtt.client as mqtt
import pytest
import requests
from paho.mqtt.enums import CallbackAPIVersion

from monitor.daemon import daemon as wiring
from monitor.daemon.daemon import Daemon
from monitor.daemon.pace import Schedule
from monitor.settings.load import load_settings
from tests.line.test_main_line import write_yard
from tests.real.need import wait_until

UNIT = Path(__file__).parents[2] / "deploy" / "systemd" / "laidup.service"
QUICK = Schedule(
    round_every_s=0.2, round_gap_s=0.05, settle_s=0.0, post_every_s=0.2, report_every_s=0.2,
    signs_every_s=0.1,
)  # fmt: skip


class ServiceSocket:
    """Where a service manager listens."""

    def __init__(self, path: Path):
        self.said: list[str] = []
        self._line = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._line.bind(str(path))
        self._line.settimeout(0.2)
        self._open = True
        self._thread = threading.Thread(target=self._listen)
        self._thread.start()

    def _listen(self):
        while self._open:
            try:
                self.said.append(self._line.recv(4096).decode())
            except TimeoutError:
                continue

    def close(self):
        self._open = False
        self._thread.join()
        self._line.close()

    def fed_since(self, count: int) -> bool:
        return any(word.startswith("WATCHDOG=1") for word in self.said[count:])

    def unfed_for(self, seconds: float) -> bool:
        """Whether nothing feeds it meanwhile: systemd starts laidup again when that lasts."""
        said = len(self.said)
        time.sleep(seconds)
        return not self.fed_since(said)


class Lamp:
    """What a lamp at the yard shows."""

    def __init__(self, broker, topic: str):
        self.shows = ""
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2)
        self._client.on_message = self._show
        self._client.connect(broker.host, broker.port)
        self._client.subscribe(topic, qos=1)
        self._client.loop_start()

    def _show(self, _client, _data, message):
        self.shows = message.payload.decode()

    def close(self):
        self._client.disconnect()
        self._client.loop_stop()


@pytest.fixture
def watched(broker, mail_server, tmp_path, monkeypatch, httpserver):
    """A whole daemon whose parts may rest for a second, with everybody who listens to it."""
    allowed = dict.fromkeys(("intake", "watch", "reports"), 1.5)
    monkeypatch.setattr(wiring, "TURNS_WITHIN_S", allowed)
    pings: list[object] = []
    httpserver.expect_request("/ping").respond_with_handler(_answering(pings))
    service = ServiceSocket(tmp_path / "notify")
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
    file = write_yard(tmp_path, datetime.now(UTC), broker, mail_server, "5")
    with file.open("a") as more:
        more.write('\n[annunciator]\ntopic = "mill/lamp"\n')
        more.write(f'\n[ping]\nurl = "{httpserver.url_for("/ping")}"\nevery_s = 30\n')
    lamp = Lamp(broker, "mill/lamp/state")
    settings = load_settings(file)
    store = wiring.open_store(settings.store_url, settings.yard.id)
    daemon = Daemon(settings, store, wiring.SystemClock(), pace=QUICK)
    daemon.start()
    yield daemon, service, lamp, pings
    daemon.stop()
    service.close()
    lamp.close()


def _answering(pings):
    from werkzeug import Response

    def handler(request):
        pings.append(request.path)
        return Response("ok")

    return handler


def process_check(daemon):
    answer = requests.get(f"{daemon.page_address}health", timeout=10)
    return answer.status_code, answer.json()["checks"]["process"]


def test_a_watch_that_turns_says_so_everywhere(watched):
    daemon, service, lamp, pings = watched
    wait_until(lambda: service.fed_since(0), 10, "the service manager to be fed")
    assert service.said[0] == "READY=1" or "READY=1" in service.said
    wait_until(lambda: lamp.shows not in {"", "unknown"}, 10, "the lamp to show the present")
    wait_until(lambda: pings, 10, "the outside to be pinged")
    assert process_check(daemon)[1]["status"] == "pass"


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
@pytest.mark.parametrize("how", ["dies", "hangs"])
def test_a_watch_that_dies_or_hangs_is_missed_by_everybody(watched, caplog, how):
    daemon, service, lamp, _ = watched
    wait_until(lambda: service.fed_since(0), 10, "the service manager to be fed")
    wait_until(lambda: lamp.shows not in {"", "unknown"}, 10, "the lamp to show the present")
    let_go = threading.Event()

    def broken():
        if how == "hangs":
            let_go.wait(120)
        raise SystemExit  # ends a thread without a word

    daemon._watch._run_round = broken
    wait_until(lambda: "watch" in daemon.unwell_parts(), 10, "the watch to be missed")
    try:
        wait_until(lambda: lamp.shows == "unknown", 10, "the lamp to say that nobody watches")
        status, process = process_check(daemon)
        assert status == 503
        assert process["status"] == "fail"
        assert "The watch is not well: has not turned" in process["says"]
        wait_until(lambda: "The watch is not well" in caplog.text, 10, "the log to say it")
        wait_until(lambda: service.unfed_for(1.0), 15, "the service manager to be fed no more")
    finally:
        let_go.set()


def test_a_store_that_refuses_is_told_of_but_no_reason_for_a_restart(watched, monkeypatch):
    daemon, service, _, _ = watched
    wait_until(lambda: service.fed_since(0), 10, "the service manager to be fed")

    def refuses(*_):
        raise OSError("disk full")

    monkeypatch.setattr(daemon._watch._judgement, "run", refuses)
    wait_until(lambda: "watch" in daemon.unwell_parts(), 10, "the failures to count")
    assert "disk full" in process_check(daemon)[1]["says"]
    said = len(service.said)
    wait_until(lambda: service.fed_since(said), 10, "the service manager to be fed all the same")
    assert any("disk full" in word for word in service.said[said:])


def test_a_page_that_is_no_longer_served_is_missed_and_a_reason_for_a_restart(watched, caplog):
    daemon, service, _, _ = watched
    wait_until(lambda: service.fed_since(0), 10, "the service manager to be fed")
    daemon._page._server.should_exit = True
    wait_until(lambda: "The page is not well" in caplog.text, 15, "the log to say it")
    # What was on its way to it may still come.
    wait_until(lambda: service.unfed_for(1.0), 15, "the service manager to be fed no more")


def test_the_service_file_is_sound_and_leaves_the_daemon_its_time():
    unit = configparser.ConfigParser(strict=False, interpolation=None)
    unit.optionxform = str
    unit.read(UNIT)
    service = unit["Service"]
    assert service["Type"] == "notify"
    assert (
        float(service["WatchdogSec"]) >= 2 * Schedule().signs_every_s
    )  # sd_notify(3): twice at least
    assert service["Restart"] == "always"
    if verify := shutil.which("systemd-analyze"):
        done = subprocess.run(
            [verify, "verify", str(UNIT)], capture_output=True, text=True, check=False
        )
        assert "Unknown key" not in done.stderr
        assert "Failed to parse" not in done.stderr
