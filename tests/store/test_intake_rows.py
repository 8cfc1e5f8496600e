"""What intake keeps beside readings, on both databases: clocks, promises, first values, aside."""

from datetime import UTC, datetime, timedelta

from monitor.store.aside import KeptAside
from monitor.store.reading_rows import ReadingRow
from monitor.yard.reading import Channel

NOW = datetime(2026, 1, 10, 3, tzinfo=UTC)
KEY = ("urn:dev:ops:kettlemoss-barn", Channel.TEMPERATURE)


def test_a_wrong_clock_keeps_the_time_since_when(store):
    with store.transaction() as tx:
        tx.sensor_clocks.note_clocks({"a": 3600.0, "b": -86400.0}, NOW)
        tx.sensor_clocks.note_clocks({"a": 7200.0, "b": None, "c": None}, NOW + timedelta(hours=1))
    with store.snapshot() as tx:
        assert tx.sensor_clocks.wrong_clocks() == {"a": (7200.0, NOW)}


def test_what_was_sent_is_told_by_series_and_time_whatever_was_made_of_it(store):
    with store.transaction() as tx:
        (one,) = tx.series.series_ids([KEY]).values()
        tx.reading_writer.append_rows(
            [ReadingRow(one, 1000, 150, 190, 1), ReadingRow(one, 2000, 7, None, 1)]
        )
        asked = {(one, 1000), (one, 2000), (one, 3000), (one + 1, 1000)}
        assert tx.reading_writer.raw_steps(asked) == {(one, 1000): 190, (one, 2000): 7}


def test_a_promise_comes_with_the_trace_of_its_series(store):
    with store.transaction() as tx:
        (one,) = tx.series.series_ids([KEY]).values()
        assert tx.readings.traces_between([KEY], 0, 9)[KEY].update_s is None
        tx.series.keep_promises({one: 600.0})
    with store.snapshot() as tx:
        assert tx.readings.traces_between([KEY], 0, 9)[KEY].update_s == 600.0


def test_what_is_aside_is_gone_through_once_though_many_came_at_one_time(store):
    with store.transaction() as tx:
        for n in range(25):
            tx.aside.keep_all(
                [KeptAside("a", "not JSON", b"%d!" % n, NOW - timedelta(minutes=n // 10))]
            )
        seen, after = [], None
        while rows := tx.aside.oldest_of_use(4, after):
            seen += rows
            after = rows[-1]
    assert len({row.digest for row in seen}) == len(seen) == 25
    assert [row.last_at for row in seen] == sorted(row.last_at for row in seen)
