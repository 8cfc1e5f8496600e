"""New readings land in a table led by the time; nobody who reads can tell which one holds them."""

import os
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.clock import to_ms
from monitor.store.migrate import migrate
from monitor.store.reading_rows import ReadingRow
from monitor.store.rolling_up import move_landed
from monitor.store.store import Store
from monitor.yard.reading import Channel, Flag
from tests.tried import tried

BEGIN = datetime(2026, 11, 14, tzinfo=UTC)
BEGIN_MS, MINUTE_MS = to_ms(BEGIN), 60_000
KEYS = [(sensor, Channel.TEMPERATURE) for sensor in ("barn", "shed", "row")]
PAGE_BYTES = 4096


def row(series_id, minute, value=5, flag=Flag.PASS):
    return ReadingRow(series_id, BEGIN_MS + minute * MINUTE_MS, value, value + 1, flag)


minutes = st.integers(0, 300)
series_ids = st.integers(1, len(KEYS))
rows = st.builds(row, series_ids, minutes, st.integers(0, 3), st.sampled_from([Flag.PASS]))
steps = st.lists(
    st.one_of(
        st.tuples(st.just("append"), st.lists(rows, max_size=12)),
        st.tuples(st.just("amend"), st.lists(st.tuples(series_ids, minutes), max_size=3)),
        st.tuples(st.just("retime"), st.tuples(series_ids, minutes, st.integers(-90, 90))),
        st.tuples(st.just("move"), minutes),  # of which some are a clock that was set back
    ),
    min_size=3,
    max_size=12,
)


def take_step(tx, what, of):
    if what == "append":
        return tx.reading_writer.append_rows(of)
    if what == "amend":
        at = [(series, BEGIN_MS + minute * MINUTE_MS) for series, minute in of]
        return tx.reading_writer.amend_flags(
            [(series, at_ms, Flag.SUSPECT) for series, at_ms in at]
        )
    series, minute, by = of
    times = [BEGIN_MS + (minute + n) * MINUTE_MS for n in range(20)]
    return tx.reading_writer.move_in_time(series, times, by * MINUTE_MS)


def take_steps(store, steps, *, may_land):
    """Take all steps in one transaction; tells of each how many readings were new."""
    with store.transaction() as tx:
        tx.series.series_ids(KEYS)
        new = []
        for what, of in steps:
            if what != "move":
                new.append(take_step(tx, what, of))
            elif may_land:
                tx.landing.move_mark(BEGIN_MS + of * MINUTE_MS)
    return new


def everything_read(store):
    """What each way of reading says, over all times and over a part of them."""
    seen = []
    with store.snapshot() as tx:
        for since, until in ((-1000, 1000), (60, 180)):
            span = BEGIN_MS + since * MINUTE_MS, BEGIN_MS + until * MINUTE_MS
            traces = tx.readings.traces_between(KEYS, *span)
            seen += [(t.at_ms.tolist(), t.value.tolist(), t.flag.tolist()) for t in traces.values()]
            for one in range(1, len(KEYS) + 1):
                seen.append([each.tolist() for each in tx.readings.steps_of_series(one, *span)])
                seen.append(tx.readings.hours_read(one, *span))
                seen.append(tx.readings.oldest_ms(one, span[0]))
                seen.append(sorted(tx.readings.times_flagged(one, Flag.SUSPECT, span[0])))
        at = [BEGIN_MS + minute * MINUTE_MS for minute in range(301)]
        seen.append(
            tx.reading_writer.raw_steps([(one, at_ms) for one in (1, 2, 3) for at_ms in at])
        )
        seen += [(tx.readings.newest_ms(n), tx.readings.oldest_ms(n)) for n in (1, 2, 3)]
        seen += [tx.yard_readings.count_readings(), tx.yard_readings.latest_readings()]
    return seen


@settings(max_examples=tried(8), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=steps)
def test_wherever_the_mark_is_moved_every_reader_sees_what_it_saw_without(url, steps):
    migrate(url)
    landing, plain = (Store(url, os.urandom(4).hex()) for _ in range(2))
    try:
        assert take_steps(landing, steps, may_land=True) == take_steps(plain, steps, may_land=False)
        assert everything_read(landing) == everything_read(plain)
    finally:
        landing.close()
        plain.close()


def test_a_repeat_of_a_reading_that_has_moved_on_is_known(store):
    with store.transaction() as tx:
        tx.series.series_ids(KEYS)
    assert move_landed(store, BEGIN)
    with store.transaction() as tx:
        assert tx.reading_writer.append_rows([row(1, 1), row(2, 1)]) == 2
    assert move_landed(store, BEGIN + timedelta(hours=2))
    with store.transaction() as tx:
        assert tx.reading_writer.append_rows([row(1, 1), row(2, 1), row(3, 1)]) == 1
        assert tx.yard_readings.count_readings() == 3


def test_the_mark_moves_once_an_hour_and_back_with_the_clock(store):
    assert move_landed(store, BEGIN)
    assert not move_landed(store, BEGIN + timedelta(minutes=55))
    assert move_landed(store, BEGIN + timedelta(days=300))  # a clock that was wrong for a moment
    assert move_landed(store, BEGIN + timedelta(hours=1))
    with store.snapshot() as tx:
        assert tx.landing.mark_ms() == BEGIN_MS + 50 * MINUTE_MS


def test_readings_of_many_series_that_come_together_change_few_pages(tmp_path):
    url, count = f"sqlite:///{tmp_path}/laidup.db", 300
    migrate(url)
    store = Store(url, "kettlemoss")
    with store.transaction() as tx:
        tx.series.series_ids([(f"n{n}", Channel.TEMPERATURE) for n in range(count)])
        for minute in range(300):  # more than a page of each series
            tx.reading_writer.append_rows([row(n + 1, minute) for n in range(count)])
    assert move_landed(store, BEGIN + timedelta(minutes=310))
    log = tmp_path / "laidup.db-wal"
    pages = []
    for minute in range(310, 330):
        before = log.stat().st_size
        with store.transaction() as tx:
            tx.reading_writer.append_rows([row(n + 1, minute) for n in range(count)])
        pages.append((log.stat().st_size - before) // PAGE_BYTES)
    store.close()
    # 300 readings of some 17 bytes fill one page and a half; 300 series have 300 last pages.
    assert max(pages) < 12


@pytest.mark.parametrize("at_minute", [0, 59])
def test_an_hour_in_either_table_gives_the_same_rollup(store, at_minute):
    with store.transaction() as tx:
        tx.series.series_ids(KEYS)
        tx.reading_writer.append_rows([row(1, minute) for minute in range(0, 180, 5)])
    with store.snapshot() as tx:
        before = tx.rollups.hours_between(["barn"], BEGIN_MS, BEGIN_MS + 180 * MINUTE_MS)
    with store.transaction() as tx:
        tx.landing.move_mark(BEGIN_MS + at_minute * MINUTE_MS)
    with store.snapshot() as tx:
        after = tx.rollups.hours_between(["barn"], BEGIN_MS, BEGIN_MS + 180 * MINUTE_MS)
    told = [trace["barn", Channel.TEMPERATURE] for trace in (before, after)]
    assert told[0].mean.tolist() == told[1].mean.tolist() != []
