"""Signs of life: to a real HTTP server, and over a real datagram socket."""

import socket
from datetime import timedelta

import pytest
from werkzeug import Response

from monitor.clock import ReadingsClock
from monitor.delivery.pulse import Pulse, PulseSettings, ServiceManager
from tests.delivery.scene import AT
from tests.real.need import free_port


def test_a_well_watch_pings_at_its_pace(httpserver):
    httpserver.expect_request("/ping").respond_with_data("")
    clock = ReadingsClock(AT)
    pulse = Pulse(PulseSettings(url=httpserver.url_for("/ping"), every_s=300), clock)
    taken = 0
    for _ in range(60):
        taken += pulse.run_once(well=True)
        clock.advance(clock.now() + timedelta(minutes=1))
    assert taken == len(httpserver.log) == 12


def test_a_watch_that_is_not_well_keeps_silent_and_pings_at_once_when_it_is_well_again(httpserver):
    httpserver.expect_request("/ping").respond_with_data("")
    clock = ReadingsClock(AT)
    pulse = Pulse(PulseSettings(url=httpserver.url_for("/ping")), clock)
    for _ in range(10):
        assert not pulse.run_once(well=False)
        clock.advance(clock.now() + timedelta(minutes=10))
    assert not httpserver.log
    assert pulse.run_once(well=True)


@pytest.mark.parametrize("status", [404, 500, 503])
def test_a_ping_that_is_not_taken_is_said_once_and_tried_again(httpserver, caplog, status):
    httpserver.expect_request("/ping").respond_with_data("", status=status)
    clock = ReadingsClock(AT)
    pulse = Pulse(PulseSettings(url=httpserver.url_for("/ping")), clock)
    for _ in range(5):
        assert not pulse.run_once(well=True)
        clock.advance(clock.now() + timedelta(minutes=5))
    assert len(httpserver.log) == 5
    assert len([r for r in caplog.records if "not taken" in r.message]) == 1


def test_nobody_listening_or_an_endless_answer_stops_nothing(httpserver):
    clock = ReadingsClock(AT)
    nobody = PulseSettings(url=f"http://127.0.0.1:{free_port()}/", timeout_s=0.5)
    assert not Pulse(nobody, clock).run_once(well=True)

    def endless():
        while True:
            yield b"x" * 1000

    httpserver.expect_request("/ping").respond_with_handler(lambda _: Response(endless()))
    assert Pulse(PulseSettings(url=httpserver.url_for("/ping")), clock).run_once(well=True)


@pytest.mark.parametrize("abstract", [False, True])
def test_the_service_manager_hears_ready_alive_and_stopping(tmp_path, abstract):
    # sd_notify(3): newline-separated assignments in one datagram each.
    name = f"@laidup-test-{tmp_path.name}" if abstract else str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(f"\0{name[1:]}" if abstract else name)
        listener.settimeout(2)
        manager = ServiceManager({"NOTIFY_SOCKET": name, "WATCHDOG_USEC": "60000000"})
        assert manager.watchdog_s == 60.0
        assert manager.ready()
        assert manager.alive("All is\nwell.")
        assert manager.stopping()
        heard = [listener.recv(1000) for _ in range(3)]
    assert heard == [b"READY=1", b"WATCHDOG=1\nSTATUS=All is well.", b"STOPPING=1"]


def test_without_a_service_manager_nothing_is_said():
    manager = ServiceManager({})
    assert manager.watchdog_s is None
    assert not manager.ready()


def test_a_service_manager_that_is_gone_stops_nothing(tmp_path):
    assert not ServiceManager({"NOTIFY_SOCKET": str(tmp_path / "gone")}).alive()
