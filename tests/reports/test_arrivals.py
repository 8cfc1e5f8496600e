"""Craft that come in undone before cold nights: told to the mechanic that evening, once."""

from dataclasses import replace
from datetime import time, timedelta

import numpy as np
import pytest

from monitor.clock import ReadingsClock, to_ms
from monitor.craft.protection import LayupState
from monitor.judgement.round import Round
from monitor.reports.arrivals import ArrivalList, list_arrivals
from monitor.reports.arrivals import came_in as newly_in
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.alarm import AlarmState
from monitor.yard.duty import Span
from monitor.yard.forecast import ColdAhead, PublicForecast
from monitor.yard.reading import Channel
from monitor.yard.space import Person, Role
from tests.judgement import scene
from tests.judgement.test_round import put
from tests.reports import kettlemoss
from tests.reports.test_standing_work import SAM, YARD, picture, undone, with_states

FIVE = scene.local(14, 17)
CAME = scene.local(14, 10)
ANNA = Person(
    id="anna", name="Anna", roles=frozenset({Role.MECHANIC}), mail="anna@kettlemoss.example"
)
SHOP = replace(YARD, people=(SAM, ANNA))


def came_in(since=CAME, **changes):
    return replace(undone(), since=since, **changes)


def forecast(low_c, fetched=FIVE - timedelta(hours=2)):
    """8 °C but for one hour in the second night ahead."""
    hours = np.arange(60)
    air_c = np.where(hours == 38, low_c, 8.0)
    at_ms = to_ms(fetched) + hours.astype(np.int64) * 3_600_000
    return PublicForecast(
        source="the agency", issued=fetched, fetched=fetched, at_ms=at_ms, air_c=air_c,
        dew_point_c=np.full(60, np.nan),
    )  # fmt: skip


def arrivals(craft, weather):
    return list_arrivals(picture(craft), newly_in([craft], YARD, FIVE), weather)


def test_a_craft_that_came_in_undone_before_a_night_of_frost_is_listed_with_its_low():
    (one,) = arrivals(came_in(), forecast(-4.0))
    assert (one.work.craft.id, one.ahead) == (
        "k2",
        ColdAhead(coldest_c=-4.0, by_forecast="the agency"),
    )


@pytest.mark.parametrize(
    ("craft", "weather"),
    [
        (came_in(), forecast(7.0)),  # no night near frost
        (came_in(), None),
        (came_in(FIVE - timedelta(days=3)), forecast(-4.0)),  # on the list for days
        (came_in(came_from="stove-barn"), forecast(-4.0)),  # it was here already
        (with_states(came_in(), LayupState.PROVEN), forecast(-4.0)),
    ],
)
def test_what_is_no_arrival_or_nothing_to_lay_up_for_is_not_listed(craft, weather):
    assert not arrivals(craft, weather)


@pytest.fixture
def store(tmp_path):
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    migrate(url)
    opened = Store(url, SHOP.id)
    yield opened
    opened.close()


def told(store, craft, yard=SHOP, hours=30, air_c=9.0):
    """What the list writes from noon on, looked at every half hour."""
    begin = scene.local(14, 12)
    for space in yard.spaces:
        name = f"air-{space.id}"
        until = begin + timedelta(hours=hours)
        put(store, scene.trace(name, Channel.TEMPERATURE, air_c, CAME - timedelta(hours=90), until))
    clock = ReadingsClock(begin)
    judging, daily = Round(store, yard, clock), ArrivalList(store, yard, clock)
    found = []
    for n in range(2 * hours):
        clock.advance_to(begin + timedelta(hours=n / 2))
        judging.run(craft)
        if written := daily.run(craft):
            with store.snapshot() as tx:
                found += [one for one, _ in tx.outbox.newest_messages(written)]
    return found


def test_the_mechanic_is_told_that_evening_once_and_nobody_by_night(store):
    with store.transaction() as tx:
        tx.forecasts.keep_issue(forecast(-4.0))
    (message,) = told(store, [came_in()])
    assert (message.person, message.created_at) == ("anna", FIVE)
    assert "not laid up" in message.text.lower()
    assert "−4\N{NO-BREAK SPACE}°C outdoors" in message.text
    assert "min of work" in message.text


def test_a_yard_without_a_mechanic_tells_its_operator(store):
    with store.transaction() as tx:
        tx.forecasts.keep_issue(forecast(-4.0))
    (message,) = told(store, [came_in()], yard=YARD, hours=8)
    assert message.person == "sam"


def test_a_list_begun_anew_tells_nothing_twice(store):
    with store.transaction() as tx:
        tx.forecasts.keep_issue(forecast(-4.0))
    clock = ReadingsClock(FIVE)
    Round(store, SHOP, clock).run([came_in()])
    written = [ArrivalList(store, SHOP, clock).run([came_in()]) for _ in range(2)]
    assert written == [1, 0]


def test_air_that_nobody_measures_counts_as_near_frost(store):
    clock = ReadingsClock(FIVE)
    Round(store, SHOP, clock).run([came_in()])
    assert ArrivalList(store, SHOP, clock).run([came_in()]) == 1


@pytest.mark.parametrize("air_c", [4.0, 5.0])  # a usual fall of the first nights brings both near
def test_a_cold_night_by_the_yards_own_readings_is_told_without_any_forecast(air_c):
    seen = picture(came_in(), air=lambda h: air_c + 0.2 * np.sin(h))
    (one,) = list_arrivals(seen, newly_in([came_in()], YARD, FIVE), None)
    assert -3.0 < one.ahead.coldest_c < 3.0
    assert not one.ahead.by_forecast


def test_a_craft_of_which_an_alarm_stands_is_told_by_that_alone():
    seen = picture(came_in(), air=lambda h: 4.0 + 0.2 * np.sin(h))
    frost = replace(kettlemoss.alarms()[0], craft="k2", state=AlarmState.UNACKNOWLEDGED)
    seen = replace(seen, alarms=(frost,))
    assert not list_arrivals(seen, newly_in([came_in()], YARD, FIVE), None)


def test_a_fault_in_the_list_is_logged_once_and_does_not_stop_the_watch(store, monkeypatch, caplog):
    def fails(*_):
        raise KeyError("a fault in its words")

    monkeypatch.setattr("monitor.reports.arrivals.arrivals_text", fails)
    clock = ReadingsClock(FIVE)
    Round(store, SHOP, clock).run([came_in()])
    daily = ArrivalList(store, SHOP, clock)
    assert [daily.run([came_in()]) for _ in range(2)] == [0, 0]
    assert caplog.text.count("could not be written") == 1


def looked_at(store, hours, entered, yard=SHOP):
    """When messages were written, by a list that runs only at these hours after noon.

    ``entered`` tells from which hour on the record holds each craft.
    """
    begin = scene.local(14, 12)
    with store.transaction() as tx:
        for n in range(6):
            tx.forecasts.keep_issue(forecast(-4.0, FIVE + timedelta(hours=6 * n - 8)))
    for space in yard.spaces:
        name = f"air-{space.id}"
        until = begin + timedelta(hours=31)
        put(store, scene.trace(name, Channel.TEMPERATURE, 9.0, CAME - timedelta(hours=90), until))
    clock = ReadingsClock(begin)
    judging, daily = Round(store, yard, clock), ArrivalList(store, yard, clock)
    found = []
    for hour in hours:
        clock.advance_to(begin + timedelta(hours=hour))
        craft = [one for one, since in entered if hour >= since]
        judging.run(craft)
        if written := daily.run(craft):
            with store.snapshot() as tx:
                found += [
                    (hour, one.person, one.subject) for one, _ in tx.outbox.newest_messages(written)
                ]
    return found


def test_a_craft_entered_after_the_lists_hour_is_told_at_the_next_hour_and_not_again(store):
    later = replace(came_in(), id="k9", name="Sandpiper")
    told_at = looked_at(store, np.arange(0, 30, 0.5), [(came_in(), 0.0), (later, 6.5)])
    assert [hour for hour, *_ in told_at] == [5.0, 7.0]
    assert "Sandpiper" in told_at[1][2]
    assert later.name not in told_at[0][2]


def test_what_is_entered_by_night_waits_for_the_morning(store):
    (one,) = looked_at(store, np.arange(0, 30, 0.5), [(came_in(), 10.5)])
    assert one[0] == 18.0  # 06:00


def test_a_list_that_nobody_wrote_in_the_evening_is_made_up_for_at_the_start(store):
    assert [
        hour for hour, *_ in looked_at(store, [20.25, 20.5, 21.0, 29.0], [(came_in(), 0.0)])
    ] == [20.25]


def test_a_craft_that_came_after_the_hour_is_listed_on_the_next_evening(store):
    (one,) = looked_at(store, np.arange(0, 30, 0.5), [(came_in(FIVE + timedelta(hours=1)), 6.0)])
    assert one[0] == 29.0


def test_whoever_had_quiet_hours_then_is_told_after_them(store):
    quiet = replace(ANNA, quiet=Span(begins=time(15), ends=time(19)))
    yard = replace(YARD, people=(quiet,))
    (one,) = looked_at(store, np.arange(0, 30, 0.5), [(came_in(), 0.0)], yard)
    assert one[:2] == (7.0, "anna")
