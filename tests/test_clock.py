"""Times: every one names a moment, and the readings' clock never goes back."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.clock import ReadingsClock, from_ms, to_ms

NOON = datetime(2026, 11, 14, 12, tzinfo=UTC)


@given(st.integers(0, 4_102_444_800_000))  # 1970 to 2100
def test_a_stored_time_comes_back_to_the_millisecond(at_ms):
    assert to_ms(from_ms(at_ms)) == at_ms


def test_one_moment_is_stored_alike_from_every_zone():
    # RFC 3339, section 5.8: both name the same moment.
    one, other = "1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57+00:00"
    assert to_ms(datetime.fromisoformat(one)) == to_ms(datetime.fromisoformat(other))


def test_a_time_without_a_zone_is_refused():
    naive = NOON.replace(tzinfo=None)
    for use in (to_ms, ReadingsClock, ReadingsClock(NOON).advance_to):
        with pytest.raises(ValueError, match="add an offset"):
            use(naive)


def test_the_readings_clock_goes_on_and_never_back():
    clock = ReadingsClock(NOON)
    clock.advance_to(NOON + timedelta(hours=1))
    clock.advance_to(NOON - timedelta(days=1))
    assert clock.now() == NOON + timedelta(hours=1)
