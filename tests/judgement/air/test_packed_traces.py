"""A packed trace is the same trace again."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.clock import to_ms
from monitor.judgement.air.packed_traces import PackedTrace, PackedTraces
from monitor.yard.reading import Channel, Flag, Trace
from tests.judgement import scene

NOW_MS = to_ms(scene.local(15, 2))
ROWS = st.lists(
    st.tuples(
        st.integers(NOW_MS - 400_000_000, NOW_MS) | st.integers(0, 2**45),
        st.integers(-(2**31), 2**31 - 1) | st.integers(-4000, 8000),
        st.sampled_from(Flag),
    ),
    max_size=12,
)


def trace_of(rows, channel=Channel.TEMPERATURE, update_s=None):
    at_ms, steps, flags = np.array(rows, dtype=np.int64).reshape(-1, 3).T
    return Trace(
        sensor="s",
        channel=channel,
        at_ms=at_ms,
        value=steps * channel.resolution,
        flag=flags.astype(np.int8),
        update_s=update_s,
    )


def assert_same(one: Trace, other: Trace):
    for name in ("at_ms", "value", "flag"):
        assert np.array_equal(getattr(one, name), getattr(other, name)), name
    assert (one.sensor, one.channel, one.update_s) == (other.sensor, other.channel, other.update_s)


@given(ROWS, st.sampled_from(Channel), st.none() | st.floats(1.0, 1e6))
def test_whatever_the_store_holds_is_unpacked_to_the_last_bit(rows, channel, update_s):
    trace = trace_of(rows, channel, update_s)
    assert_same(PackedTrace.of_trace(trace).to_trace(), trace)


@given(ROWS, ROWS, st.integers(NOW_MS - 300_000_000, NOW_MS))
def test_fresh_readings_stand_in_place_of_all_from_their_time_on(packed, fresh, fresh_ms):
    begin_ms = fresh_ms - 90_000_000
    old, new = (trace_of(sorted(each)) for each in (packed, fresh))
    joined = PackedTraces(
        {("s", old.channel): PackedTrace.of_trace(old)},
        {("s", old.channel): new},
        begin_ms,
        fresh_ms,
    )["s", old.channel]
    kept = [row for row in sorted(packed) if begin_ms <= row[0] < fresh_ms]
    assert_same(joined, trace_of([*kept, *sorted(fresh)]))


def test_a_reading_a_minute_takes_six_bytes_at_most():
    # 98 hours: time, value and flag took 8 + 8 + 1 bytes each.
    minutes = np.arange(98 * 60)
    trace = trace_of([(NOW_MS + 60_000 * n, 100 + n % 40, Flag.PASS) for n in minutes.tolist()])
    packed = PackedTrace.of_trace(trace)
    size = sum(each.nbytes for each in (packed.apart_ms, packed.steps, packed.flags))
    assert size <= 6 * minutes.size


def test_a_series_that_is_not_there_is_not_there():
    traces = PackedTraces({}, {}, 0, 0)
    assert ("s", Channel.HUMIDITY) not in traces
    assert traces.get(("s", Channel.HUMIDITY)) is None
    with pytest.raises(KeyError):
        traces["s", Channel.HUMIDITY]
