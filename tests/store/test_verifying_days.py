"""Closed days against the store: what another hand changed is named, and nothing else."""

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import delete, insert, update

from monitor.clock import to_ms
from monitor.craft.breaks import Tampering
from monitor.store.closing_days import close_due_days
from monitor.store.tables import day_groups, readings
from monitor.store.verifying_days import verify_days
from monitor.yard.reading import Channel, Flag, Reading

BEGIN = datetime(2026, 11, 4, tzinfo=UTC)
DAY, HOUR, MINUTE = timedelta(days=1), timedelta(hours=1), timedelta(minutes=1)
AIR, DAMP = Channel.TEMPERATURE, Channel.HUMIDITY


def put(store, *new):
    with store.transaction() as tx:
        tx.reading_writer.add(
            [
                Reading(
                    sensor=sensor, channel=channel, at_ms=to_ms(at), value=v, raw=v, flag=Flag.PASS
                )
                for sensor, channel, at, v in new
            ]
        )


def verified(store):
    told = []
    with store.snapshot() as tx:
        return verify_days(tx, lambda *said: told.append(said)), told


@pytest.fixture
def kept(store):
    """Two sensors over three days that are closed; one reading came a day late, one channel too."""
    hours = [BEGIN + n * HOUR for n in range(72)]
    put(store, *(("post", AIR, at, n / 10) for n, at in enumerate(hours)))
    put(store, *(("beam", AIR, at, 5.0) for at in hours))
    close_due_days(store, BEGIN + DAY + 2 * HOUR)
    put(store, ("post", AIR, BEGIN + 3 * HOUR + MINUTE, -4.1), ("post", DAMP, BEGIN + HOUR, 81.0))
    close_due_days(store, BEGIN + 3 * DAY + 2 * HOUR)
    return store


def tamper(store, statement):
    """What somebody does with the plain tool of the database."""
    with store.transaction() as tx:
        assert tx._connection.execute(statement).rowcount > 0


def row(store, sensor, at):
    with store.snapshot() as tx:
        series = tx.series.known_series()[sensor, AIR]
    return (readings.c.series_id == series) & (readings.c.at_ms == to_ms(at))


def test_what_nobody_touched_is_whole_and_each_sensor_is_told(kept):
    found, told = verified(kept)
    assert (found.whole, found.days, found.sensors, found.hours) == (True, 3, 2, 144)
    assert told == [(1, 2, "beam"), (2, 2, "post")]


def test_what_came_late_and_waits_for_its_leaf_is_no_break(kept):
    put(kept, ("post", AIR, BEGIN + 5 * HOUR + MINUTE, 9.0), ("new", AIR, BEGIN + HOUR, 1.0))
    assert verified(kept)[0].whole


def test_a_store_without_a_closed_day_has_nothing_to_compare(store):
    put(store, ("post", AIR, BEGIN, 1.0))
    found, _ = verified(store)
    assert (found.whole, found.days, found.hours) == (True, 0, 0)


def test_a_reading_that_was_changed_is_named_with_what_it_was(kept):
    at = BEGIN + 30 * HOUR
    tamper(kept, update(readings).where(row(kept, "post", at)).values(value=400))
    [found] = verified(kept)[0].breaks
    assert found.what is Tampering.CHANGED
    assert found.words.startswith("Readings of post in the hour from 2026-11-05 06:00 UTC are not")
    assert "temperature: 1 reading, 3 to 3 Cel then, 1 reading, 4 to 4 Cel now" in found.words


def test_a_time_that_was_changed_within_its_hour_is_named_too(kept):
    at = BEGIN + 30 * HOUR
    later = update(readings).where(row(kept, "post", at)).values(at_ms=to_ms(at + MINUTE))
    tamper(kept, later)
    [found] = verified(kept)[0].breaks
    assert "single readings not" in found.words


def test_readings_that_are_gone_and_such_as_were_put_in_are_told_apart(kept):
    put(kept, ("new", AIR, BEGIN + 5 * DAY, 1.0))
    moved = update(readings).where(row(kept, "new", BEGIN + 5 * DAY))
    tamper(kept, moved.values(at_ms=to_ms(BEGIN + HOUR)))
    tamper(kept, delete(readings).where(row(kept, "post", BEGIN + 30 * HOUR)))
    found = [(one.part, one.what) for one in verified(kept)[0].breaks]
    assert found == [
        ("readings of new", Tampering.ADDED),
        ("readings of post", Tampering.DELETED),
    ]


def test_several_hours_of_a_sensor_are_counted(kept):
    tamper(kept, update(readings).values(value=readings.c.value + 100))
    found = verified(kept)[0].breaks
    assert [one.part for one in found] == ["readings of beam", "readings of post"]
    assert all("; and 71 more of its hours" in one.words for one in found)


def test_leaves_that_were_changed_or_taken_away_are_named_by_their_day(kept):
    with kept.transaction() as tx:
        of_day = day_groups.c.day == "2026-11-05"
        tx._connection.execute(update(day_groups).where(of_day).values(root="0" * 64))
        tx._connection.execute(delete(day_groups).where(day_groups.c.day == "2026-11-06"))
    found = {one.part: one for one in verified(kept)[0].breaks}
    assert found["day 2026-11-05"].what is Tampering.CHANGED
    assert found["day 2026-11-06"].what is Tampering.DELETED
    assert "had 2 groups of leaves, and has 0" in found["day 2026-11-06"].words


def test_leaves_that_are_no_leaves_any_more_stop_no_check_of_others(kept):
    first = (day_groups.c.day == "2026-11-04") & (day_groups.c.n == 0)
    tamper(kept, update(day_groups).where(first).values(leaves=b"nonsense"))
    tamper(kept, update(readings).values(value=readings.c.value + 100))
    parts = [one.part for one in verified(kept)[0].breaks]
    assert sorted(one.partition(" ")[0] for one in parts) == ["day", "readings"]


def test_a_day_that_no_link_tells_of_is_named(kept):
    with kept.transaction() as tx:
        [one, *_] = tx._connection.execute(day_groups.select()).mappings()
        tx._connection.execute(insert(day_groups).values({**one, "day": "2026-11-09"}))
    assert "day 2026-11-09" in {one.part for one in verified(kept)[0].breaks}
