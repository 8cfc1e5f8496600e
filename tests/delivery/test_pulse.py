"""Signs of life to the outside: to a real HTTP server."""

from datetime import timedelta

import pytest
from werkzeug import Response

from monitor.clock import ReadingsClock
from monitor.delivery.pulse import Pulse, PulseSettings
from tests.delivery.scene import AT
from tests.real.need import free_port
from tests.set_clock import SetClock


def test_a_well_watch_pings_at_its_pace(httpserver):
    httpserver.expect_request("/ping").respond_with_data("")
    clock = ReadingsClock(AT)
    pulse = Pulse(PulseSettings(url=httpserver.url_for("/ping"), every_s=300), clock)
    taken = 0
    for _ in range(60):
        taken += pulse.run_once(well=True)
        clock.advance_to(clock.now() + timedelta(minutes=1))
    assert taken == len(httpserver.log) == 12


@pytest.mark.parametrize("moved", [timedelta(days=1), -timedelta(days=1), timedelta(days=4000)])
def test_a_clock_that_was_set_neither_silences_nor_hurries_the_ping(httpserver, moved):
    httpserver.expect_request("/ping").respond_with_data("")
    clock = SetClock(AT)
    clock.move(moved)
    pulse = Pulse(PulseSettings(url=httpserver.url_for("/ping"), every_s=300), clock)
    assert pulse.run_once(well=True)
    clock.move(-moved)
    clock.run_on(timedelta(minutes=4))
    assert not pulse.run_once(well=True)
    clock.run_on(timedelta(minutes=2))
    assert pulse.run_once(well=True)


def test_a_watch_that_is_not_well_keeps_silent_and_pings_at_once_when_it_is_well_again(httpserver):
    httpserver.expect_request("/ping").respond_with_data("")
    clock = ReadingsClock(AT)
    pulse = Pulse(PulseSettings(url=httpserver.url_for("/ping")), clock)
    for _ in range(10):
        assert not pulse.run_once(well=False)
        clock.advance_to(clock.now() + timedelta(minutes=10))
    assert not httpserver.log
    assert pulse.run_once(well=True)


@pytest.mark.parametrize("status", [404, 500, 503])
def test_a_ping_that_is_not_taken_is_said_once_and_tried_again(httpserver, caplog, status):
    httpserver.expect_request("/ping").respond_with_data("", status=status)
    clock = ReadingsClock(AT)
    pulse = Pulse(PulseSettings(url=httpserver.url_for("/ping")), clock)
    for _ in range(5):
        assert not pulse.run_once(well=True)
        clock.advance_to(clock.now() + timedelta(minutes=5))
    assert len(httpserver.log) == 5
    assert len([r for r in caplog.records if "not taken" in r.message]) == 1


def test_nobody_listening_or_an_endless_answer_stops_nothing(httpserver):
    clock = ReadingsClock(AT)
    nobody = PulseSettings(url=f"http://127.0.0.1:{free_port()}/", within_s=0.5)
    assert not Pulse(nobody, clock).run_once(well=True)

    def endless():
        while True:
            yield b"x" * 1000

    httpserver.expect_request("/ping").respond_with_handler(lambda _: Response(endless()))
    assert Pulse(PulseSettings(url=httpserver.url_for("/ping")), clock).run_once(well=True)
