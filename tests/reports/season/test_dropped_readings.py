"""A season record says what it said once its winter's raw readings are in the archive alone."""

import math
from datetime import UTC, date, datetime, timedelta

import pytest

from monitor.clock import ReadingsClock
from monitor.errors import ArchiveError
from monitor.reports.air import read_hourly_air
from monitor.reports.season.season_json import season_json
from monitor.store.archiving import archive_months
from monitor.store.closing_days import close_due_days
from monitor.store.droppable import due_months
from monitor.store.dropping import drop_months
from monitor.store.rolling_up import make_due_hours
from tests.reports.season import winter
from tests.reports.season.winter import (
    ARRIVED,
    NOW,
    SHED,
    ZONE,
    cold_nights,
    put_craft,
    put_readings,
)

LATER = datetime(2028, 12, 1, tzinfo=UTC)
COLD = [date(2026, 11, 14), date(2026, 11, 15), date(2026, 12, 31)]


@pytest.fixture
def store(tmp_path):
    """The winter's end of 2026 and one day two years later, closed, rolled up and archived."""
    made = winter.open_store(tmp_path)
    put_craft(made)
    # No two readings of a night alike, so that each extreme has one time of its own.
    chill = cold_nights(COLD)
    put_readings(
        made,
        ARRIVED,
        NOW,
        lambda at: chill(at) - 2 * math.sin((at.hour * 60 + at.minute) / 200),
        rh_pct=lambda at: 70 + at.hour,
    )
    put_readings(made, LATER - timedelta(days=1), LATER, lambda _: 1.0)
    close_due_days(made, datetime(2027, 2, 1, 3, tzinfo=UTC))
    make_due_hours(made, LATER)
    (tmp_path / "archive").mkdir()
    list(archive_months(made, "kettlemoss", tmp_path / "archive"))
    yield made
    made.close()


def told(store):
    """The record's figures."""
    return season_json(winter.figures_of(store), winter.yard())


def extremes(store):
    """Lowest and highest reading of the old year's last week, each with its time."""
    since, until = (datetime(*at, tzinfo=ZONE) for at in ((2026, 12, 28), (2027, 1, 1)))
    with store.snapshot() as tx:
        air = read_hourly_air(tx, winter.yard(), since, until)[SHED]
    return air.low, air.high


def test_the_record_of_a_winter_is_the_same_from_the_archive(store, tmp_path):
    before = told(store)
    week = extremes(store)
    assert week[0].at.minute == 50  # an hour's middle would be what is left of it
    folder = tmp_path / "archive"
    with store.snapshot() as tx:
        due = due_months(tx, "kettlemoss", folder, LATER)
    outcomes = list(drop_months(store, "kettlemoss", due, ReadingsClock(LATER)))
    assert {one.state for one in outcomes} == {"dropped"}
    assert sum(one.removed for one in outcomes) > 10_000
    assert told(store) == before  # of the rollups
    with pytest.raises(ArchiveError, match=r"\[archive\] folder"):
        extremes(store)
    store.use_archive(folder, only_dropped=True)  # as the daemon
    assert (told(store), extremes(store)) == (before, week)
    (folder / "kettlemoss-2026-12.parquet").unlink()
    with pytest.raises(ArchiveError, match=r"kettlemoss-2026-12.parquet is not there"):
        extremes(store)
    assert told(store) == before
