"""Quality flags against the IOOS library, and one reading at a time against all at once."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.intake.quality import bounds_of, quality_flags, unchanged_ms
from monitor.intake.track import Track
from monitor.yard.reading import Channel
from monitor.yard.space import Limits

VECTORS = json.loads((Path(__file__).parent / "vectors" / "qartod.json").read_text())
CASES = {case["test"]: case for case in reversed(VECTORS["cases"])}
MINUTE = 60_000


def flags_of(values, *, every_min=5.0, channel=Channel.TEMPERATURE, **limits):
    at = np.arange(len(values)) * round(every_min * MINUTE)
    steps = np.round(np.array(values) / channel.resolution).astype(np.int64)
    return quality_flags(at, steps, bounds_of(channel, Limits(**limits))).tolist()


def present(case, flags):
    """Readings that are there: the library's missing value is no row here."""
    kept = [n for n, value in enumerate(case["values"]) if value is not None]
    return [case["values"][n] for n in kept], [flags[n] for n in kept], kept


# Flags computed with ioos_qc 3.0.0, the IOOS library; own input.
def test_gross_range_agrees_with_the_ioos_library():
    case = CASES["gross_range"]
    values, expected, _ = present(case, case["flags"])
    low, high = case["params"]["fail"]
    operator_low, operator_high = case["params"]["suspect"]
    got = flags_of(
        values,
        every_min=600.0,  # far apart: only the gross range is tested
        sensor_low=low,
        sensor_high=high,
        operator_low=operator_low,
        operator_high=operator_high,
    )
    assert got == expected


def test_rate_of_change_agrees_with_the_ioos_library():
    case = CASES["rate_of_change"]
    per_min = case["params"]["suspect_per_s"] * 60
    values, expected, kept = present(case, case["flags"])
    at = np.array(kept) * 5 * MINUTE
    steps = np.round(np.array(values) / 0.01).astype(np.int64)
    bounds = bounds_of(
        Channel.TEMPERATURE,
        Limits(rise_per_min=per_min, fall_per_min=per_min, spike_suspect=99.0, spike_fail=99.0),
    )
    assert quality_flags(at, steps, bounds).tolist() == expected


def test_flat_line_begins_and_ends_with_the_ioos_library():
    # With its tolerance of one step of ours, the library asks for less than one step: equality.
    case = CASES["flat_line"]
    suspect_s = case["params"]["suspect_s"]
    got = flags_of(case["values"], flat_h=suspect_s / 3600)
    assert [flag >= 3 for flag in got] == [flag >= 3 for flag in case["flags"]]


def test_a_spike_is_flagged_and_its_neighbours_are_not():
    case = CASES["spike"]
    values = case["values"][:5]
    limits = {f"spike_{name}": case["params"][name] for name in ("suspect", "fail")}
    got = flags_of(values, **limits)
    # The library's mean of both neighbours also doubts those beside the spike; the differential
    # form does not, and agrees on the spike itself.
    assert got[2] == case["flags"][2] == 4
    assert got == [1, 1, 4, 1, 1]


def test_a_step_to_a_new_level_is_no_spike_and_is_doubted_once():
    assert flags_of([8.0, 8.1, -12.0, -12.3, -12.1]) == [1, 1, 3, 1, 1]


def test_air_warmed_by_a_hand_is_doubted_while_a_fall_of_the_same_size_is_not():
    assert flags_of([4.0, 14.0, 13.5]) == [1, 3, 1]
    assert flags_of([14.0, 4.0, 4.1]) == [1, 1, 1]


@pytest.mark.parametrize(("value", "flag"), [(85.0, 4), (-127.0, 9), (-60.1, 4)])
def test_a_probe_that_is_open_shorted_or_just_switched_on_is_not_believed(value, flag):
    assert flags_of([2.0, value, 2.1]) == [1, flag, 1]


def test_cold_beyond_what_yards_have_seen_is_suspect_not_wrong():
    assert flags_of([-49.5, -50.0, -50.5]) == [1, 1, 3]


def test_humidity_stuck_at_99_9_is_doubted_after_a_day_and_believed_when_it_moves():
    got = flags_of([99.9] * 26 + [97.0], every_min=60.0, channel=Channel.HUMIDITY)
    assert got == [1] * 24 + [3, 3, 1]


def test_a_battery_that_loses_its_clamps_is_believed_at_once():
    assert flags_of([13.6, 13.6, 0.0, 0.0], channel=Channel.VOLTAGE) == [1, 1, 1, 1]


def test_a_gap_in_the_readings_is_no_sign_of_a_stuck_sensor():
    at = np.array([0, 1, 100, 101]) * 3_600_000
    assert unchanged_ms(at, np.zeros(4, dtype=np.int64)).tolist() == [0, 3_600_000, 0, 3_600_000]


minutes = st.sampled_from([0.2, 1, 5, 5, 5, 59, 61, 361, 800])
celsius = st.sampled_from([-127.0, -61, -52, -3, -3, -3, 1, 2.5, 6, 20, 61, 85]) | st.floats(-5, 5)


@given(st.lists(st.tuples(minutes, celsius), max_size=40))
def test_one_reading_at_a_time_gives_the_flags_of_all_at_once(series):
    bounds = bounds_of(Channel.TEMPERATURE, Limits(flat_h=8.0))
    at = np.cumsum([round(gap * MINUTE) for gap, _ in series]).astype(np.int64)
    steps = np.array([round(value / 0.01) for _, value in series], dtype=np.int64)
    track = Track("urn:dev:ops:a", Channel.TEMPERATURE, bounds)
    flags: dict[int, int] = {}
    for at_ms, value in zip(at.tolist(), steps.tolist(), strict=True):
        flag, amended = track.flag_next(at_ms, value)
        if amended is not None:
            flags[track.amended_ms] = amended
        flags[at_ms] = flag
    assert list(flags.values()) == quality_flags(at, steps, bounds).tolist()
