"""What the store no longer holds is read from the archive, and is what the store had."""

from contextlib import closing
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import delete

from monitor.clock import to_ms
from monitor.errors import ArchiveError
from monitor.reports.export_rows import sent_readings
from monitor.store.archive_folder import month_after, month_bounds
from monitor.store.archiving import archive_months
from monitor.store.closing_days import close_due_days
from monitor.store.store import Store
from monitor.store.tables import landed_readings, readings
from monitor.store.verifying_days import verify_days
from monitor.yard.reading import Channel, Flag, Reading
from tests.tried import tried

YARD = "kettlemoss"
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
AIR, DAMP, VOLTS = Channel.TEMPERATURE, Channel.HUMIDITY, Channel.VOLTAGE
# The last days of months: a clock set forward and one set back in Europe, and the end of a year.
MONTHS = {date(2026, 3, 1): 28, date(2026, 10, 1): 25, date(2026, 12, 1): 31}


def drop(store, month):
    """Delete a month's rows as a retention would."""
    begin_ms, end_ms = month_bounds(month)
    gone = 0
    with store.transaction() as tx:
        for table in (readings, landed_readings):
            within = (table.c.at_ms >= begin_ms) & (table.c.at_ms < end_ms)
            gone += tx._connection.execute(delete(table).where(within)).rowcount
    return gone


def put(store, new):
    with store.transaction() as tx:
        tx.reading_writer.add(new)


def all_read(store, begin_ms, end_ms):
    """All that the readers of readings give of a stretch, to be compared."""
    with store.snapshot() as tx:
        known = tx.series.known_series()
        traces = tx.readings.traces_between(list(known), begin_ms, end_ms)
        found = {
            key: (
                *(one.tolist() for one in (trace.at_ms, trace.value, trace.flag)),
                *(
                    [column.tolist() for column in read]
                    for read in (
                        tx.readings.sent_steps(known[key], begin_ms, end_ms),
                        tx.readings.steps_of_series(known[key], begin_ms, end_ms - 1),
                        tx.readings.steps_of_series(known[key], begin_ms, end_ms - 1, 3),
                    )
                ),
                tx.readings.oldest_ms(known[key]),
                tx.readings.oldest_ms(known[key], begin_ms),
            )
            for key, trace in traces.items()
        }
    found["export"] = [
        (one.sensor, one.channel, one.at_ms.tolist(), one.value.tolist())
        for one in sent_readings(store, 0, end_ms)
    ]
    return found


def full_hour_ms(n):
    """Where leaves meet."""
    return n * 3_600_000


@st.composite
def yard_readings(draw):
    """Readings of three sensors over the end of a month, and such as come late for it."""
    month = draw(st.sampled_from(sorted(MONTHS)))
    begin = datetime(month.year, month.month, MONTHS[month], tzinfo=UTC)
    span_ms = month_bounds(month)[1] - to_ms(begin) + int(2 * DAY / timedelta(milliseconds=1))
    one = st.builds(
        lambda sensor, channel, after_ms, value, off, flag: Reading(
            sensor=sensor,
            channel=channel,
            at_ms=to_ms(begin) + after_ms,
            value=value,
            raw=value + off,
            flag=flag,
        ),
        st.sampled_from(["post", "beam", "mast-7"]),
        st.sampled_from([AIR, DAMP, VOLTS]),
        st.integers(0, span_ms - 1) | st.integers(0, span_ms // 3_600_000 - 1).map(full_hour_ms),
        st.floats(-40.0, 100.0),
        st.sampled_from([0.0, 0.0, 0.5, -3.25]),
        st.sampled_from(list(Flag)),
    )
    first = draw(st.lists(one, min_size=1, max_size=60))
    return month, begin, first, draw(st.lists(one, max_size=10))


@settings(
    max_examples=tried(6),
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(said=yard_readings())
def test_archived_and_dropped_readings_are_read_as_they_were(stores, tmp_path_factory, said):
    month, begin, first, late = said
    folder = tmp_path_factory.mktemp("archive")
    begin_ms, end_ms = to_ms(begin - DAY), month_bounds(month)[1] + 3 * 86_400_000
    end = datetime.combine(month_after(month), datetime.min.time(), UTC)
    with closing(Store(stores.new_url(), YARD)) as store:
        put(store, first)
        close_due_days(store, end + 2 * HOUR)
        put(store, late)
        close_due_days(store, end + 4 * DAY)
        before = all_read(store, begin_ms, end_ms)
        states = [one.state.value for one in archive_months(store, YARD, folder)]
        assert set(states) <= {"written"}
        gone = drop(store, month)
        assert bool(gone) == bool(states)
        store.use_archive(folder)
        assert all_read(store, begin_ms, end_ms) == before
        # Each hour of its own too, as a replay asks.
        for at_ms in range(end_ms - 6 * 86_400_000, end_ms, 7 * 3_600_000):
            part = all_read(store, at_ms, at_ms + 7 * 3_600_000)
            for key, whole in before.items():
                if key != "export":
                    kept = [n for n, t in enumerate(whole[0]) if at_ms <= t < at_ms + 7 * 3_600_000]
                    assert part[key][0] == [whole[0][n] for n in kept]
                    assert part[key][1] == [whole[1][n] for n in kept]
        with store.snapshot() as tx:
            assert verify_days(tx).whole
        if gone:
            store.use_archive(None)
            assert all_read(store, begin_ms, end_ms) != before
            with store.snapshot() as tx:
                assert not verify_days(tx).whole


BEGIN = datetime(2026, 12, 30, tzinfo=UTC)
DECEMBER = date(2026, 12, 1)


@pytest.fixture
def folder(tmp_path):
    """Where the archive is."""
    return tmp_path


@pytest.fixture
def kept(store, folder):
    """Two sensors over the end of a year, the old year archived; the archive is asked."""
    put(
        store,
        [
            Reading(sensor=s, channel=AIR, at_ms=to_ms(BEGIN + n * HOUR), value=n / 10, raw=1.0)
            for n in range(72)
            for s in ("beam", "post")
        ],
    )
    close_due_days(store, BEGIN + 3 * DAY + 2 * HOUR)
    assert [one.rows for one in archive_months(store, YARD, folder)] == [96]
    store.use_archive(folder)
    return store


def times(store, sensor="post", since=BEGIN, until=BEGIN + 3 * DAY):
    with store.snapshot() as tx:
        key = (sensor, AIR)
        return tx.readings.traces_between([key], to_ms(since), to_ms(until))[key].at_ms


def flip(folder):
    [file] = folder.glob("*.parquet")
    whole = bytearray(file.read_bytes())
    whole[len(whole) // 2] ^= 1
    file.write_bytes(whole)
    return file


def test_a_store_that_has_all_asks_no_file(kept, folder):
    flip(folder)
    assert times(kept).size == 72
    for file in folder.iterdir():
        file.unlink()
    folder.rmdir()
    assert times(kept).size == 72
    folder.mkdir()  # for whoever cleans up


def test_a_damaged_file_that_is_needed_is_named_with_the_remedy(kept, folder):
    drop(kept, DECEMBER)
    file = flip(folder)
    with pytest.raises(ArchiveError, match=r"is damaged.*take the file from a backup") as caught:
        times(kept)
    assert str(file) in str(caught.value)
    assert times(kept, since=BEGIN + 2 * DAY).size == 24  # what the store has is given


def test_a_folder_that_is_not_there_is_named_where_readings_are_needed(kept, folder):
    drop(kept, DECEMBER)
    kept.use_archive(folder / "nas")
    with pytest.raises(ArchiveError, match="mount its disk"):
        times(kept)
    assert times(kept, since=BEGIN + 2 * DAY).size == 24


def test_one_sensor_that_lost_its_hours_is_filled_up_and_the_others_are_not_doubled(kept):
    with kept.transaction() as tx:
        post = tx.series.known_series()["post", AIR]
        until = readings.c.at_ms < to_ms(BEGIN + DAY)
        tx._connection.execute(delete(readings).where(readings.c.series_id == post, until))
    assert np.diff(times(kept)).tolist() == [3_600_000] * 71
    assert times(kept, "beam").size == 72


def test_verify_counts_hours_that_only_a_file_has_and_calls_them_no_break(kept, folder):
    drop(kept, DECEMBER)
    with kept.snapshot() as tx:
        found = verify_days(tx)
    assert found.whole
    assert found.archived == {folder / f"{YARD}-2026-12.parquet": 96}


def test_verify_names_a_damaged_file_beside_the_break_that_it_cannot_mend(kept, folder):
    drop(kept, DECEMBER)
    file = flip(folder)
    with kept.snapshot() as tx:
        found = verify_days(tx)
    assert [one.part for one in found.breaks] == ["readings of beam", "readings of post"]
    assert len(found.archive_faults) == 1
    assert str(file) in found.archive_faults[0]


def test_verify_takes_no_file_s_word_for_readings_that_were_changed(kept):
    with kept.transaction() as tx:
        one = readings.c.at_ms == to_ms(BEGIN)
        tx._connection.execute(readings.update().where(one).values(value=readings.c.value + 5))
    with kept.snapshot() as tx:
        found = verify_days(tx)
    assert len(found.breaks) == 2
    assert found.archived == {}


def test_archiving_again_leaves_a_month_that_is_in_its_file_alone(kept, folder):
    drop(kept, DECEMBER)
    kept.use_archive(None)
    [one] = archive_months(kept, YARD, folder)
    assert (one.state.value, one.rows) == ("in the file alone", 96)
    file = flip(folder)
    [one] = archive_months(kept, YARD, folder)
    assert (one.state.value, str(file) in one.words) == ("does not fit", True)
