"""Each evening's first round keeps what it says of the night, and enters what nights came to."""

from datetime import date, timedelta

import numpy as np
import pytest

from monitor.clock import ReadingsClock, to_ms
from monitor.judgement.evening_word import evening_due
from monitor.judgement.round import Round
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.reading import Channel, Flag
from tests.judgement.scene import RACK, local, yard_of

YARD = yard_of(RACK)
BEGIN, LOWEST_H = local(8, 0), 6  # coldest at six in the morning
SILENCE = (6 * 24.0, 6 * 24.0 + 8.0)  # hours after BEGIN: the morning of the 14th


@pytest.fixture
def store(tmp_path):
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    migrate(url)
    opened = Store(url, YARD.id)
    yield opened
    opened.close()


def air_c(hours: np.ndarray) -> np.ndarray:
    """Each night a degree colder than the one before."""
    return 6.0 - hours / 24.0 - 5.0 * np.cos((hours - LOWEST_H) * 2 * np.pi / 24.0)


def read(store, until, *, without=()):
    hours = np.arange(0.0, (until - BEGIN) / timedelta(hours=1), 0.25)
    hours = hours[[not any(a <= each < b for a, b in without) for each in hours]]
    with store.transaction() as tx:
        for channel, values in (
            (Channel.TEMPERATURE, air_c(hours)), (Channel.HUMIDITY, np.full(hours.size, 80.0)),
        ):  # fmt: skip
            (series,) = tx.series.series_ids([(f"air-{RACK.id}", channel)]).values()
            steps = np.round(values / channel.resolution).astype(int).tolist()
            at = (to_ms(BEGIN) + np.round(hours * 3_600_000).astype(int)).tolist()
            rows = zip(at, steps, strict=True)
            tx.reading_writer.append_rows([(series, t, v, None, int(Flag.PASS)) for t, v in rows])


def rounds(store, *times):
    watch = ReadingsClock(times[0])
    turn = Round(store, YARD, watch)
    for at in times:
        watch.advance_to(at)
        turn.run(())
    with store.snapshot() as tx:
        return tx.said_nights.nights_since(date(2026, 11, 1))


def test_the_evenings_first_round_is_kept_and_no_later_one(store):
    read(store, local(13, 20))
    times = (local(13, 16, 59), local(13, 17, 1), local(13, 17, 2), local(13, 19))
    (night,) = rounds(store, *times)
    assert (night.space, night.evening) == (RACK.id, date(2026, 11, 13))
    assert night.said_at == local(13, 17, 1)
    assert night.cold_c < night.expected_c < night.warm_c <= night.air_c
    assert night.low_c is None


def test_a_restart_in_the_evening_changes_nothing_of_what_was_said(store):
    read(store, local(13, 20))
    first = rounds(store, local(13, 17, 1))
    assert rounds(store, local(13, 18, 30)) == first


def test_the_next_evening_enters_what_the_night_came_to(store):
    read(store, local(14, 18))
    night, tonight = rounds(store, local(13, 17, 1), local(14, 17, 1))
    lowest_h = (local(14, LOWEST_H) - BEGIN) / timedelta(hours=1)
    assert night.low_c == pytest.approx(float(air_c(np.array(lowest_h))), abs=0.1)
    assert tonight.low_c is None


def test_a_night_of_which_hours_were_not_read_is_not_told_as_known(store):
    read(store, local(14, 18), without=[SILENCE])
    night, _ = rounds(store, local(13, 17, 1), local(14, 17, 1))
    assert night.low_c is None


def test_a_backlog_that_came_late_puts_the_low_right(store):
    read(store, local(14, 18), without=[SILENCE])
    rounds(store, local(13, 17, 1), local(14, 17, 1))
    read(store, local(15, 18))
    night, *_ = rounds(store, local(15, 17, 1))
    assert night.low_c is not None


@pytest.mark.parametrize(("hour", "due"), [(16, False), (17, True), (19, True), (20, False)])
def test_only_the_evening_counts(hour, due):
    assert (evening_due(local(13, hour), YARD) == date(2026, 11, 13)) is due


def test_a_space_that_nobody_reads_is_not_spoken_of(store):
    assert rounds(store, local(13, 17, 1)) == []
