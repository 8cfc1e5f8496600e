from datetime import UTC, datetime, timedelta

import pytest

from monitor.clock import ReadingsClock
from monitor.reports.weekly import WeeklySchedule
from tests.reports import kettlemoss as yard_of

DUE = datetime(2026, 11, 16, 13, tzinfo=UTC)  # Monday 07:00 CST


def schedule(store, clock, **changes):
    when = {"weekday": "monday", "at": "07:00"} | changes
    return WeeklySchedule(store, yard_of.yard(), clock, **when)


def keys(store):
    with store.snapshot() as tx:
        return sorted(message.key for message, _ in tx.outbox.newest_messages())


def test_nothing_goes_out_before_the_hour(store):
    clock = ReadingsClock(DUE - timedelta(minutes=1))
    # The Monday before is a week back: too old to send now.
    assert schedule(store, clock).run(yard_of.craft()) == 0


def test_at_the_hour_everyone_gets_the_week_that_has_ended(store):
    assert schedule(store, ReadingsClock(DUE)).run(yard_of.craft()) == 3
    assert keys(store) == [f"weekly/kettlemoss/2026-W46/{who}" for who in ("ines", "tobin", "wren")]


def test_it_goes_out_once_however_often_the_round_comes(store):
    clock = ReadingsClock(DUE)
    weekly = schedule(store, clock)
    weekly.run(yard_of.craft())
    clock.advance_to(DUE + timedelta(minutes=1))
    assert weekly.run(yard_of.craft()) == 0


def test_a_restart_does_not_send_it_again(store):
    schedule(store, ReadingsClock(DUE)).run(yard_of.craft())
    assert schedule(store, ReadingsClock(DUE + timedelta(hours=1))).run(yard_of.craft()) == 0
    assert len(keys(store)) == 3


def test_a_machine_that_was_off_at_the_hour_sends_it_when_it_is_back(store):
    assert schedule(store, ReadingsClock(DUE + timedelta(hours=20))).run(yard_of.craft()) == 3


def test_a_machine_that_was_off_for_days_does_not_send_old_news(store):
    assert schedule(store, ReadingsClock(DUE + timedelta(days=3))).run(yard_of.craft()) == 0


def test_a_yard_that_was_set_up_only_now_has_no_week_to_tell_of(empty_store):
    assert schedule(empty_store, ReadingsClock(DUE)).run(yard_of.craft()) == 0
    assert keys(empty_store) == []


@pytest.mark.parametrize(("weekday", "day"), [("monday", 16), ("wednesday", 18), ("sunday", 22)])
def test_any_day_of_the_week_tells_of_the_last_whole_week(store, weekday, day):
    at = datetime(2026, 11, day, 13, tzinfo=UTC)
    assert schedule(store, ReadingsClock(at), weekday=weekday).run(yard_of.craft()) == 3
    assert all("/2026-W46/" in key for key in keys(store))


def test_the_hour_is_the_yards_own_also_after_clocks_have_changed(store):
    # Before 1 November the yard is on CDT: 07:00 is 12:00 UTC.
    summer = datetime(2026, 10, 26, 12, tzinfo=UTC)
    weekly = schedule(store, ReadingsClock(summer))
    assert weekly._last_due(summer) == summer
    assert weekly._last_due(DUE) == DUE
