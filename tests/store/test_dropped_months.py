"""Before the mark of dropped months nothing changes, and nobody reads it as if it had not been."""

import shutil
from datetime import UTC, date, datetime, timedelta

import pytest

from monitor.clock import to_ms
from monitor.errors import ArchiveError, StoreError
from monitor.intake.backfill import file_decoder, import_readings_file
from monitor.store.archive_folder import month_bounds
from monitor.store.archiving import archive_months
from monitor.store.closing_days import close_due_days
from monitor.store.rolling_up import make_all_anew, make_due_hours, repair_hours
from monitor.store.verifying_days import verify_days
from monitor.yard.reading import Channel, Reading
from monitor.yard.space import Mount, Sensor
from tests.store.test_archived_readings import drop

YARD = "kettlemoss"
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
AIR = Channel.TEMPERATURE
BEGIN = datetime(2025, 9, 29, tzinfo=UTC)  # two days of September, one of October, one of December
OCTOBER = datetime(2025, 10, 1, tzinfo=UTC)
SEPTEMBER = date(2025, 9, 1)
LATER = datetime(2025, 12, 1, tzinfo=UTC)
NOW = LATER + 2 * DAY
BEGIN_MS, END_MS = to_ms(BEGIN - DAY), to_ms(NOW)


def put(store, *new):
    with store.transaction() as tx:
        tx.reading_writer.add(new)


def hourly(begin, hours, sensor="post"):
    return [
        Reading(
            sensor=sensor,
            channel=AIR,
            at_ms=to_ms(begin + n * HOUR / 4),
            value=5 + n % 7,
            raw=5 + n % 7,
        )
        for n in range(4 * hours)
    ]


def hours_told(store, begin_ms=BEGIN_MS):
    with store.snapshot() as tx:
        found = tx.rollups.hours_between(["post"], begin_ms, END_MS)["post", AIR]
    return [found.hour_ms.tolist(), *(one.tolist() for one in (found.low, found.high, found.mean))]


@pytest.fixture
def kept(store, tmp_path):
    """Readings of four days rolled up, all days closed, the months archived."""
    put(store, *hourly(BEGIN, 72), *hourly(LATER, 24))
    close_due_days(store, NOW)
    make_due_hours(store, NOW)
    folder = tmp_path / "archive"
    folder.mkdir()
    assert [one.state for one in archive_months(store, YARD, folder)] == ["written", "written"]
    return store


def mark(store, month=SEPTEMBER):
    with store.transaction() as tx:
        tx.dropped_months.begin_month(month, month_bounds(month)[1], NOW)


@pytest.fixture
def dropped(kept):
    """The same without September's raw readings."""
    mark(kept)
    assert drop(kept, SEPTEMBER) == 192
    return kept


def test_a_reading_before_the_mark_cannot_be_added_flagged_or_moved(dropped):
    for at in (BEGIN, OCTOBER - HOUR, OCTOBER + 3 * HOUR):
        with pytest.raises(StoreError, match="raw readings before 2025-10-01 are in the archive"):
            put(dropped, *hourly(at, 1))
    with dropped.transaction() as tx:
        (one,) = tx.series.series_of("post").values()
    with (
        pytest.raises(StoreError, match="cannot be changed"),
        dropped.transaction() as tx,
    ):
        tx.reading_writer.amend_flags([(one, to_ms(OCTOBER + HOUR), 4)])
    put(dropped, *hourly(OCTOBER + 5 * HOUR + timedelta(minutes=1), 1))


def import_csv(store, tmp_path, *lines):
    file = tmp_path / "late.csv"
    file.write_text("sensor,at,temperature [Cel]\n" + "\n".join(lines) + "\n", encoding="utf-8")
    decoder = file_decoder([Sensor(name="post", space="shed", mount=Mount.AIR)])
    return import_readings_file(store, decoder, file, NOW, lambda _: None)


def test_a_reading_that_comes_too_late_is_kept_aside_with_the_reason(dropped, tmp_path):
    before = hours_told(dropped)
    done = import_csv(
        dropped,
        tmp_path,
        "post,2025-09-29T00:07:00Z,-9.5",  # of the month that was dropped
        "post,2025-10-20T00:00:00Z,-9.5",  # its flag rests on days before it
        "post,2025-11-29T00:00:00Z,-9.5",
    )
    assert (done.new, done.too_late) == (1, 2)
    with dropped.snapshot() as tx:
        reasons = [one.reason for one in tx.aside.newest_by_topic()]
        # Trying again what may be of use later never meets them.
        assert tx.aside.oldest_of_use(10) == []
        noted = tx.late_hours.noted_hours(100)
    assert len(reasons) == 2
    assert all("before 2025-10-01 are in the archive" in one for one in reasons)
    assert {one.hour_ms for one in noted} == {to_ms(datetime(2025, 11, 29, tzinfo=UTC))}
    make_due_hours(dropped, NOW)
    after = hours_told(dropped)
    told_before = [n for n, hour in enumerate(before[0]) if hour < to_ms(OCTOBER + 2 * DAY)]
    assert [[column[n] for n in told_before] for column in after] == [
        [column[n] for n in told_before] for column in before
    ]


def test_without_a_mark_a_reading_of_any_age_is_taken(kept, tmp_path):
    assert import_csv(kept, tmp_path, "post,2025-09-29T00:07:00Z,-9.5").new == 1


@pytest.mark.parametrize(
    "work",
    [
        lambda store: make_all_anew(store, NOW),
        lambda store: repair_hours(store, datetime(1970, 1, 3, tzinfo=UTC)),
        lambda store: (make_due_hours(store, BEGIN + DAY), make_due_hours(store, NOW)),
    ],
    ids=["all hours anew", "the night's repair with a clock of 1970", "a clock that was set back"],
)
def test_rollups_of_dropped_readings_stay_whatever_is_made_anew(kept, work):
    work(kept)
    make_due_hours(kept, NOW)
    before = hours_told(kept)
    assert len(before[0]) > 90
    mark(kept)
    drop(kept, SEPTEMBER)
    work(kept)
    assert hours_told(kept) == before
    make_due_hours(kept, NOW)
    assert hours_told(kept) == before


def test_while_the_clock_is_set_back_the_rollups_are_told_as_before(dropped):
    before = hours_told(dropped)
    make_due_hours(dropped, BEGIN + DAY)
    assert hours_told(dropped) == before


def test_while_all_hours_are_made_anew_the_rollups_are_told_as_before(dropped):
    before = hours_told(dropped)
    with dropped.transaction() as tx:
        tx.rollups.clear_hours()  # whoever reads now gets what is to be made out of the readings
    assert hours_told(dropped) == before


def times(store, since=BEGIN, until=NOW):
    with store.snapshot() as tx:
        found = tx.readings.traces_between([("post", AIR)], to_ms(since), to_ms(until))
        return found["post", AIR].at_ms.size


def test_without_its_archive_a_dropped_month_is_refused_and_all_later_is_read(dropped):
    with pytest.raises(ArchiveError, match=r"post before 2025-10-01 are no longer.*\[archive\]"):
        times(dropped)
    assert times(dropped, since=OCTOBER) == 192
    half_an_hour_ms = 30 * 60_000  # as midnight of some zones: such hours are made of readings
    with pytest.raises(ArchiveError, match="are no longer in the store"):
        hours_told(dropped, BEGIN_MS + half_an_hour_ms)
    with dropped.snapshot() as tx:
        # Of a sensor that was not there yet nothing was dropped.
        assert tx.readings.traces_between([("new", AIR)], 0, END_MS)["new", AIR].at_ms.size == 0
        (one,) = tx.series.series_of("post").values()
        assert tx.readings.newest_ms(one) == to_ms(LATER + 23.75 * HOUR)
        with pytest.raises(ArchiveError):
            tx.readings.newest_ms(one, to_ms(OCTOBER))


@pytest.mark.parametrize("only_dropped", [False, True], ids=["a command's", "the daemon's"])
def test_with_its_archive_hours_that_begin_at_the_half_are_as_before(kept, tmp_path, only_dropped):
    kept.use_archive(tmp_path / "archive", only_dropped=only_dropped)
    half_an_hour_ms = 30 * 60_000
    asked = BEGIN_MS + half_an_hour_ms
    before = (hours_told(kept, asked), times(kept))  # this process saw all in the store
    mark(kept)
    drop(kept, SEPTEMBER)
    assert (hours_told(kept, asked), times(kept)) == before
    with kept.snapshot() as tx:
        (one,) = tx.series.series_of("post").values()
        assert tx.readings.newest_ms(one, to_ms(OCTOBER)) == to_ms(OCTOBER - HOUR / 4)
        assert tx.readings.oldest_ms(one) == to_ms(BEGIN)
        assert verify_days(tx).whole


def test_a_file_that_is_gone_or_comes_back_is_seen_by_a_process_that_runs(dropped, tmp_path):
    dropped.use_archive(tmp_path / "archive", only_dropped=True)
    file = tmp_path / "archive" / "kettlemoss-2025-09.parquet"
    aside = tmp_path / "kettlemoss-2025-09.parquet"
    shutil.move(file, aside)
    with pytest.raises(ArchiveError, match=r"kettlemoss-2025-09.parquet is not there"):
        times(dropped)
    with dropped.snapshot() as tx:
        found = verify_days(tx)
    assert not found.whole
    assert any("kettlemoss-2025-09.parquet is not there" in one for one in found.archive_faults)
    shutil.move(aside, file)
    assert times(dropped) == 384
    whole = bytearray(file.read_bytes())
    whole[len(whole) // 2] ^= 1
    file.write_bytes(whole)
    with pytest.raises(ArchiveError, match="is damaged"):
        times(dropped)
    (tmp_path / "archive").rename(tmp_path / "away")
    with pytest.raises(ArchiveError, match="archive"):
        times(dropped)


def test_archiving_again_leaves_the_file_of_a_dropped_month_alone(dropped, tmp_path):
    folder = tmp_path / "archive"
    file = folder / "kettlemoss-2025-09.parquet"
    whole = file.read_bytes()
    states = [(one.month.month, one.state.value) for one in archive_months(dropped, YARD, folder)]
    assert states[0] == (9, "in the file alone")
    file.write_bytes(whole[:-40])
    found = next(iter(archive_months(dropped, YARD, folder)))
    assert found.state == "does not fit"
    assert file.read_bytes() == whole[:-40]
