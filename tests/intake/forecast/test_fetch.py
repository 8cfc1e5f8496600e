"""Asking an agency, here a real server on this machine: politely, and never to our harm."""

import contextlib
import copy
import json
import socket
import threading
import time
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path
from random import Random

import pytest
from werkzeug import Response
from werkzeug.serving import WSGIRequestHandler

from monitor.clock import ReadingsClock
from monitor.intake.forecast.fetch import SOONEST, ForecastFetch
from monitor.intake.forecast.settings import Agency, ForecastSettings
from monitor.store.migrate import migrate
from monitor.store.store import Store
from tests.line.drills.odd_servers import DrippingWebServer
from tests.set_clock import SetClock

SAMPLES = json.loads((Path(__file__).parent / "samples.json").read_text(encoding="utf-8"))
NOW = datetime(2026, 1, 9, 20, 40, tzinfo=UTC)
MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)
MODIFIED = "Fri, 09 Jan 2026 19:40:00 GMT"
COMPACT = "/compact"


@pytest.fixture
def store(tmp_path):
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    migrate(url)
    opened = Store(url, "kettlemoss")
    yield opened
    opened.close()


@pytest.fixture
def clock():
    return ReadingsClock(NOW)


@pytest.fixture(autouse=True)
def agency_clock(monkeypatch, clock):
    """What the agency's own clock says, which its server puts into every answer."""
    ahead = {"by": timedelta()}
    monkeypatch.setattr(
        WSGIRequestHandler,
        "date_time_string",
        lambda _self, _timestamp=None: http_date(clock.now() + ahead["by"]),
    )
    return ahead


def fetching(store, clock, httpserver, agency=Agency.MET_NORWAY, **more):
    asked = ForecastSettings(
        agency=agency,
        contact="watch@kettlemoss.example",
        latitude=44.977753,
        longitude=-93.265,
        **{"url": httpserver.url_for("").rstrip("/"), "timeout_s": 2.0, **more},
    )
    return ForecastFetch(store, asked, clock, Random(1))


def http_date(at):
    return format_datetime(at, usegmt=True)


def series(headers=None, status=200):
    body = json.dumps(SAMPLES["point_series"]["response"])
    fresh = {"expires": http_date(NOW + 35 * MINUTE), "last-modified": MODIFIED}
    return Response(body, status, headers={**fresh, **(headers or {})})


def asking(store, source="met-norway"):
    with store.snapshot() as tx:
        return tx.forecasts.asking_of(source)


def latest(store, clock, source="met-norway"):
    with store.snapshot() as tx:
        return tx.forecasts.newest_issue(source, clock.now())


def test_the_first_request_names_program_contact_and_place_and_is_kept(store, clock, httpserver):
    seen = []
    httpserver.expect_request(COMPACT).respond_with_handler(
        lambda request: seen.append(request) or series()
    )
    assert fetching(store, clock, httpserver).run_once()
    [request] = seen
    assert request.headers["user-agent"].startswith("laidup/")
    assert "(watch@kettlemoss.example)" in request.headers["user-agent"]
    assert "gzip" in request.headers["accept-encoding"]
    assert request.query_string == b"lat=44.9778&lon=-93.265"
    assert "if-modified-since" not in request.headers
    kept = latest(store, clock)
    assert kept.fetched == NOW
    assert kept.issued == datetime(2026, 1, 9, 19, 40, tzinfo=UTC)
    assert kept.air_c == pytest.approx([1.2, 0.1, -5.9])
    assert asking(store).confirmed == NOW


def test_it_is_not_asked_again_before_it_expires_not_even_after_a_restart(store, clock, httpserver):
    httpserver.expect_request(COMPACT).respond_with_handler(lambda _: series())
    fetching(store, clock, httpserver).run_once()
    for minutes in (1, 20, 34):
        clock.advance_to(NOW + minutes * MINUTE)
        assert not fetching(store, clock, httpserver).run_once()
    assert len(httpserver.log) == 1
    assert asking(store).not_before > NOW + 35 * MINUTE  # by chance a little later
    clock.advance_to(NOW + 41 * MINUTE)
    assert fetching(store, clock, httpserver).run_once()
    assert len(httpserver.log) == 2


def test_different_yards_ask_at_different_times(store, clock, httpserver):
    httpserver.expect_request(COMPACT).respond_with_handler(lambda _: series())
    waits = set()
    for seed in range(5):
        fetch = fetching(store, clock, httpserver)
        fetch._chance = Random(seed)
        with store.transaction() as tx:
            tx.forecasts.set_asking(type(asking(store))(source="met-norway", place=fetch._place))
        fetch.run_once()
        waits.add(asking(store).not_before)
    assert len(waits) == 5


@pytest.mark.parametrize(
    ("headers", "minutes"),
    [
        ({"cache-control": "public, max-age=5400", "expires": http_date(NOW)}, 90),
        ({"cache-control": "max-age=5400", "age": "1800"}, 60),
        ({"cache-control": "s-maxage=9", "expires": http_date(NOW + HOUR)}, 60),
        ({"expires": "0"}, SOONEST / MINUTE),
        ({"expires": "Sun, 01 Jan 2099 00:00:00 GMT"}, 24 * 60),
    ],
)
def test_freshness_follows_the_headers(store, clock, httpserver, headers, minutes):
    httpserver.expect_request(COMPACT).respond_with_handler(lambda _: series(headers))
    fetching(store, clock, httpserver).run_once()
    wait = asking(store).not_before - NOW
    assert minutes * MINUTE <= wait <= (minutes + 5) * MINUTE


def test_a_wrong_clock_here_does_not_shorten_the_wait(store, clock, httpserver, agency_clock):
    agency_clock["by"] = -300 * HOUR
    expires = {"expires": http_date(NOW - 299 * HOUR)}
    httpserver.expect_request(COMPACT).respond_with_handler(lambda _: series(expires))
    fetching(store, clock, httpserver).run_once()
    assert asking(store).not_before >= NOW + HOUR


def test_an_unchanged_forecast_is_confirmed_by_304_and_stays(store, clock, httpserver):
    httpserver.expect_ordered_request(COMPACT).respond_with_handler(lambda _: series())
    httpserver.expect_ordered_request(
        COMPACT, headers={"if-modified-since": MODIFIED}
    ).respond_with_data("", 304, headers={"expires": http_date(NOW + 3 * HOUR)})
    fetch = fetching(store, clock, httpserver)
    fetch.run_once()
    clock.advance_to(NOW + HOUR)
    assert fetch.run_once()
    httpserver.check_assertions()
    now = asking(store)
    assert now.confirmed == NOW + HOUR
    assert now.last_modified == MODIFIED
    assert latest(store, clock).fetched == NOW


def test_without_a_forecast_at_hand_it_does_not_ask_only_for_a_newer_one(store, clock, httpserver):
    seen = []
    httpserver.expect_request(COMPACT).respond_with_handler(
        lambda request: seen.append(request) or series()
    )
    fetch = fetching(store, clock, httpserver)
    fetch.run_once()
    with store.transaction() as tx:
        tx.forecasts.forget_source("met-norway")
    clock.advance_to(NOW + HOUR)
    fetch.run_once()
    assert "if-modified-since" not in seen[1].headers


@pytest.mark.parametrize("status", [403, 404, 429, 500, 502, 503])
def test_a_refusal_changes_nothing_but_the_age_and_is_asked_later_and_later(
    store, clock, httpserver, status
):
    httpserver.expect_ordered_request(COMPACT).respond_with_handler(lambda _: series())
    for _ in range(6):
        httpserver.expect_ordered_request(COMPACT).respond_with_data("no", status)
    fetch = fetching(store, clock, httpserver)
    fetch.run_once()
    clock.advance_to(NOW + HOUR)
    waits = []
    for _ in range(6):
        before = clock.now()
        assert not fetch.run_once()
        assert not fetch.run_once()  # not due: nothing is sent
        waits.append(asking(store).not_before - before)
        clock.advance_to(asking(store).not_before)
    assert len(httpserver.log) == 7
    assert waits[0] >= 5 * MINUTE
    assert waits[-1] >= 2 * HOUR
    assert max(waits) <= 4.5 * HOUR
    if status == 403:
        assert waits[0] >= HOUR
    assert asking(store).confirmed == NOW
    assert str(status) in asking(store).problem
    assert latest(store, clock).air_c == pytest.approx([1.2, 0.1, -5.9])


@pytest.mark.parametrize("value", ["7200", http_date(NOW + 2 * HOUR)])
def test_retry_after_is_obeyed(store, clock, httpserver, value):
    httpserver.expect_request(COMPACT).respond_with_data("", 429, headers={"retry-after": value})
    fetching(store, clock, httpserver).run_once()
    assert asking(store).not_before >= NOW + 2 * HOUR


def test_after_a_failure_the_next_answer_makes_all_well(store, clock, httpserver):
    httpserver.expect_ordered_request(COMPACT).respond_with_data("", 500)
    httpserver.expect_ordered_request(COMPACT).respond_with_handler(lambda _: series())
    fetch = fetching(store, clock, httpserver)
    fetch.run_once()
    clock.advance_to(NOW + HOUR)
    assert fetch.run_once()
    assert (asking(store).failures, asking(store).problem) == (0, "")


def test_203_is_an_answer(store, clock, httpserver):
    httpserver.expect_request(COMPACT).respond_with_handler(lambda _: series(status=203))
    assert fetching(store, clock, httpserver).run_once()


@pytest.mark.parametrize("body", [b"<html>down for maintenance</html>", b"", b"{}", b"[1, 2"])
def test_garbage_is_refused_and_not_asked_for_again_while_it_is_fresh(
    store, clock, httpserver, body
):
    httpserver.expect_request(COMPACT).respond_with_data(
        body, headers={"cache-control": "max-age=3600"}
    )
    assert not fetching(store, clock, httpserver).run_once()
    assert asking(store).not_before >= NOW + HOUR
    assert asking(store).problem
    assert latest(store, clock) is None


def test_a_304_that_was_not_asked_for_is_no_forecast(store, clock, httpserver):
    httpserver.expect_request(COMPACT).respond_with_data("", 304)
    assert not fetching(store, clock, httpserver).run_once()
    assert asking(store).confirmed is None


def test_a_forecast_that_ends_before_now_is_none(store, clock, httpserver):
    httpserver.expect_request(COMPACT).respond_with_handler(lambda _: series())
    clock.advance_to(NOW + 30 * HOUR)
    assert not fetching(store, clock, httpserver).run_once()
    assert "ends before now" in asking(store).problem


def test_a_server_that_hangs_is_left_after_the_timeout(store, clock, httpserver):
    httpserver.expect_request(COMPACT).respond_with_handler(lambda _: time.sleep(1.0) or series())
    assert not fetching(store, clock, httpserver, timeout_s=0.1).run_once()
    assert "cannot be had" in asking(store).problem


def test_an_answer_that_trickles_is_left_too(store, clock, httpserver):
    def trickle(listening):
        connection, _ = listening.accept()
        with connection:
            connection.recv(4096)
            connection.sendall(b"HTTP/1.1 200 OK\r\ncontent-length: 9000000\r\n\r\n")
            with contextlib.suppress(OSError):
                for _ in range(60):
                    connection.sendall(b" " * 70_000)
                    time.sleep(0.05)

    with socket.create_server(("127.0.0.1", 0)) as listening:
        agency = threading.Thread(target=trickle, args=(listening,))
        agency.start()
        url = f"http://127.0.0.1:{listening.getsockname()[1]}"
        assert not fetching(store, clock, httpserver, url=url, timeout_s=0.5).run_once()
        agency.join()
    assert "in full" in asking(store).problem


def test_an_answer_whose_head_drips_is_left_too(store, clock, httpserver):
    with DrippingWebServer(every_s=0.05) as server:
        url = f"http://127.0.0.1:{server.port}"
        assert not fetching(store, clock, httpserver, url=url, timeout_s=0.3).run_once()
    assert "in full" in asking(store).problem


def test_an_endless_answer_is_cut_off(store, clock, httpserver):
    httpserver.expect_request(COMPACT).respond_with_data(b" " * (9 << 20))
    assert not fetching(store, clock, httpserver).run_once()
    assert "MiB" in asking(store).problem


def test_without_a_network_nothing_happens_but_a_reason(store, clock, httpserver):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    fetch = fetching(store, clock, httpserver, url=f"http://127.0.0.1:{port}")
    assert not fetch.run_once()
    assert asking(store).problem


def test_a_redirect_is_followed_but_not_in_a_circle(store, clock, httpserver):
    httpserver.expect_request(COMPACT).respond_with_data(
        "", 301, headers={"location": "/moved?lat=44.9778&lon=-93.265"}
    )
    httpserver.expect_request("/moved").respond_with_handler(lambda _: series())
    assert fetching(store, clock, httpserver).run_once()
    httpserver.clear()
    httpserver.expect_request("/moved").respond_with_data("", 302, headers={"location": "/moved"})
    httpserver.expect_request(COMPACT).respond_with_data("", 302, headers={"location": "/moved"})
    clock.advance_to(NOW + HOUR)
    assert not fetching(store, clock, httpserver).run_once()
    assert len(httpserver.log) <= 5


def test_a_clock_that_was_ahead_does_not_silence_it_for_ever(store, httpserver):
    httpserver.expect_request(COMPACT).respond_with_handler(lambda _: series())
    ahead = ReadingsClock(NOW + timedelta(days=400))
    httpserver.expect_request(COMPACT).respond_with_handler(lambda _: series())
    fetching(store, ahead, httpserver).run_once()  # fails: all its hours are long past
    assert asking(store).not_before > NOW + timedelta(days=399)
    assert fetching(store, ReadingsClock(NOW), httpserver).run_once()


def test_a_clock_set_back_a_day_delays_no_question_of_the_same_process(store, httpserver):
    httpserver.expect_request(COMPACT).respond_with_data("", 500)
    clock = SetClock(NOW + timedelta(days=1))
    fetch = fetching(store, clock, httpserver)
    assert not fetch.run_once()
    clock.move(-timedelta(days=1))
    clock.run_on(2 * MINUTE)
    fetch.run_once()
    assert len(httpserver.log) == 1, "it may not be asked so soon, whatever the clock says"
    clock.run_on(10 * MINUTE)
    fetch.run_once()
    assert len(httpserver.log) == 2


def test_a_clock_that_was_ahead_by_more_than_the_longest_wait_delays_no_new_process(
    store, httpserver
):
    httpserver.expect_request(COMPACT).respond_with_data("", 500)
    fetching(store, SetClock(NOW + timedelta(hours=30)), httpserver).run_once()
    fetching(store, SetClock(NOW), httpserver).run_once()
    assert len(httpserver.log) == 2


def test_another_place_begins_afresh(store, clock, httpserver):
    httpserver.expect_request(COMPACT).respond_with_handler(lambda _: series())
    fetching(store, clock, httpserver).run_once()
    clock.advance_to(NOW + MINUTE)
    seen = []
    httpserver.clear()
    httpserver.expect_request(COMPACT).respond_with_handler(
        lambda request: seen.append(request) or Response("", 500)
    )
    elsewhere = ForecastSettings(
        agency=Agency.MET_NORWAY,
        contact="watch@kettlemoss.example",
        latitude=52.0,
        longitude=13.0,
        url=httpserver.url_for("").rstrip("/"),
    )
    assert not ForecastFetch(store, elsewhere, clock, Random(1)).run_once()
    assert "if-modified-since" not in seen[0].headers
    assert latest(store, clock) is None  # what was for the old place is not for the new one


PLACE = "/points/44.9778,-93.265"
GRID = "/gridpoints/MPX/107,71"
HOURLY = f"{GRID}/forecast/hourly"
US = "us-weather-service"


def linked(httpserver):
    agency = "https://agency.example"
    httpserver.expect_request(PLACE).respond_with_json(
        {"properties": {"forecastGridData": agency + GRID, "forecastHourly": agency + HOURLY}}
    )


def calls(httpserver):
    return [request.path for request, _ in httpserver.log]


def test_a_place_leads_to_its_grid_and_is_looked_up_once_a_day(store, clock, httpserver):
    linked(httpserver)
    body = copy.deepcopy(SAMPLES["gridpoint"]["response"])
    httpserver.expect_request(GRID).respond_with_json(
        body, headers={"last-modified": MODIFIED, "cache-control": "max-age=1800"}
    )
    fetch = fetching(store, clock, httpserver, Agency.US_WEATHER_SERVICE)
    assert fetch.run_once()
    kept = latest(store, clock, US)
    assert kept.at_ms.size == len(SAMPLES["gridpoint"]["hourly"]) - 1  # one hour is null
    clock.advance_to(NOW + HOUR)
    assert fetch.run_once()
    assert calls(httpserver) == [PLACE, GRID, GRID]
    assert httpserver.log[2][0].headers["if-modified-since"] == MODIFIED
    clock.advance_to(NOW + 25 * HOUR)
    fetch.run_once()
    assert calls(httpserver)[3:] == [PLACE, GRID]


@pytest.mark.parametrize("wrong", [500, 404, 200])
def test_where_the_grid_fails_the_hourly_forecast_is_asked_next(store, clock, httpserver, wrong):
    linked(httpserver)
    httpserver.expect_request(GRID).respond_with_data("{}", wrong)
    httpserver.expect_request(HOURLY).respond_with_json(SAMPLES["hourly_periods"]["response"])
    fetch = fetching(store, clock, httpserver, Agency.US_WEATHER_SERVICE)
    assert not fetch.run_once()
    assert calls(httpserver) == [PLACE, GRID]  # nothing more before the wait is over
    clock.advance_to(asking(store, US).not_before)
    assert fetch.run_once()
    assert calls(httpserver) == [PLACE, GRID, HOURLY]
    assert latest(store, clock, US).air_c == pytest.approx([1.11, -1.5])


def test_a_place_that_is_not_served_is_said(store, clock, httpserver):
    httpserver.expect_request(PLACE).respond_with_data("", 404)
    fetch = fetching(store, clock, httpserver, Agency.US_WEATHER_SERVICE)
    assert not fetch.run_once()
    assert PLACE in asking(store, US).problem
    assert "404" in asking(store, US).problem
