"""Silence: late, silent, and what it means."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.judgement.judge import judge
from monitor.judgement.silence import silence_standing
from monitor.yard.assessment import Hazard, Severity, Standing, Urgency
from monitor.yard.reading import Channel
from tests.judgement import scene


@pytest.mark.parametrize(
    ("quiet_min", "standing"),
    [(14, Standing.STEADY), (25, Standing.LATE), (35, Standing.SILENT)],
)
def test_a_sensor_of_ten_minutes_is_late_after_two_and_silent_after_three(quiet_min, standing):
    last = scene.local(14, 12)
    now = last + timedelta(minutes=quiet_min)
    heard = scene.trace("air-long-shed", Channel.TEMPERATURE, 8.0, last - timedelta(hours=9), last)
    found = scene.pick(
        judge(scene.yard_of(scene.SHED), [], heard, now), Hazard.SILENCE, "air-long-shed"
    )
    assert found.standing is standing


def test_a_short_gap_of_a_quick_sensor_is_no_silence():
    assert silence_standing(20 * 60.0, 60.0) is Standing.LATE
    assert silence_standing(31 * 60.0, 60.0) is Standing.SILENT


@given(
    pace_s=st.floats(1.0, 7200.0), quiet_s=st.floats(0.0, 90000.0), more_s=st.floats(0.0, 9000.0)
)
def test_longer_quiet_is_never_less_silent(pace_s, quiet_s, more_s):
    order = [Standing.STEADY, Standing.LATE, Standing.SILENT]
    one, other = silence_standing(quiet_s, pace_s), silence_standing(quiet_s + more_s, pace_s)
    assert order.index(other) >= order.index(one)


@pytest.mark.parametrize(("air_c", "urgency"), [(1.0, Urgency.IMMEDIATE), (15.0, Urgency.EXPECTED)])
def test_silence_in_the_cold_cannot_wait(air_c, urgency):
    last = scene.local(14, 12)
    now = last + timedelta(minutes=40)
    heard = scene.trace("corner", Channel.TEMPERATURE, air_c, last - timedelta(hours=70), last)
    heard |= scene.trace(
        "air-long-shed", Channel.TEMPERATURE, air_c, last - timedelta(hours=70), now
    )
    yard = scene.yard_of(scene.SHED, sensors=(scene.air_sensor(scene.SHED, "corner"),))
    found = scene.pick(judge(yard, [], heard, now), Hazard.SILENCE, "corner")
    assert (found.standing, found.urgency) == (Standing.SILENT, urgency)
    assert (found.severity is Severity.MODERATE) is (urgency is Urgency.IMMEDIATE)
