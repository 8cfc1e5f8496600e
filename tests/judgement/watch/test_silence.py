"""Silence: late, silent, and what it means."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.clock import to_ms
from monitor.judgement.air.last_heard import silence_standing
from monitor.judgement.judge import judge_yard
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
        judge_yard(scene.yard_of(scene.SHED), [], heard, now), Hazard.SILENCE, "air-long-shed"
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
    found = scene.pick(judge_yard(yard, [], heard, now), Hazard.SILENCE, "corner")
    assert (found.standing, found.urgency) == (Standing.SILENT, urgency)
    assert (found.severity is Severity.MODERATE) is (urgency is Urgency.IMMEDIATE)


@pytest.mark.parametrize(
    ("quiet_min", "standing"),
    [(55, Standing.STEADY), (65, Standing.LATE), (125, Standing.SILENT)],
)
def test_a_sensor_is_held_to_the_update_time_that_it_promises(quiet_min, standing):
    # RFC 8428, section 4.3: ut is the longest time before an updated reading. This one sends when
    # something changes, every ten minutes on that day, and at least every hour.
    last = scene.local(14, 12)
    now = last + timedelta(minutes=quiet_min)
    heard = scene.trace("air-long-shed", Channel.TEMPERATURE, 8.0, last - timedelta(hours=9), last)
    heard = {key: replace(trace, update_s=3600.0) for key, trace in heard.items()}
    found = scene.pick(
        judge_yard(scene.yard_of(scene.SHED), [], heard, now), Hazard.SILENCE, "air-long-shed"
    )
    assert found.standing is standing
    assert "it promises to send every 60 min" in scene.basis_words(found)


def test_an_interval_of_the_yards_file_goes_before_a_promise():
    last = scene.local(14, 12)
    heard = scene.trace("corner", Channel.TEMPERATURE, 8.0, last - timedelta(hours=9), last)
    heard = {key: replace(trace, update_s=86400.0) for key, trace in heard.items()}
    corner = replace(scene.air_sensor(scene.SHED, "corner"), interval_s=600.0)
    judged = judge_yard(
        scene.yard_of(scene.SHED, sensors=(corner,)), [], heard, last + timedelta(minutes=40)
    )
    assert scene.pick(judged, Hazard.SILENCE, "corner").standing is Standing.SILENT


SENSOR = "air-long-shed"
LAST = scene.local(14, 12)


def test_a_sensor_that_stops_sending_its_temperature_is_silent_while_its_humidity_comes():
    # A broken element: the radio goes on, and nobody hears the air any more.
    now = LAST + timedelta(minutes=45)
    start = LAST - timedelta(hours=70)
    heard = scene.trace(SENSOR, Channel.TEMPERATURE, 1.0, start, LAST)
    heard |= scene.trace(SENSOR, Channel.HUMIDITY, 70.0, start, now)
    found = scene.pick(
        judge_yard(scene.yard_of(scene.SHED), [], heard, now), Hazard.SILENCE, SENSOR
    )
    assert (found.standing, found.urgency) == (Standing.SILENT, Urgency.IMMEDIATE)
    assert "still sends, but no temperature since 12:00" in scene.basis_words(found)


def test_a_channel_stays_silent_when_its_last_reading_is_too_old_to_be_looked_at():
    start, yard = LAST - timedelta(hours=70), scene.yard_of(scene.SHED)
    now = LAST + timedelta(hours=1)
    heard = scene.trace(SENSOR, Channel.TEMPERATURE, 1.0, start, LAST)
    heard |= scene.trace(SENSOR, Channel.HUMIDITY, 70.0, start, now)
    earlier = judge_yard(yard, [], heard, now)
    later = now + timedelta(days=6)
    humid = scene.trace(SENSOR, Channel.HUMIDITY, 70.0, later - timedelta(hours=90), later)
    silent = scene.pick(judge_yard(yard, [], humid, later, earlier), Hazard.SILENCE, SENSOR)
    assert silent.standing is Standing.SILENT
    back = humid | scene.trace(
        SENSOR, Channel.TEMPERATURE, 2.0, later - timedelta(minutes=10), later
    )
    heard_again = judge_yard(yard, [], back, later, [silent])
    assert scene.pick(heard_again, Hazard.SILENCE, SENSOR).standing is Standing.STEADY


def test_a_channel_that_is_sent_when_it_changes_is_held_to_its_own_longer_steps():
    # Humidity every four hours beside a temperature every ten minutes: no silence at six hours.
    start = LAST - timedelta(hours=72)
    heard = scene.trace(SENSOR, Channel.TEMPERATURE, 8.0, start, LAST)
    heard |= scene.trace(
        SENSOR, Channel.HUMIDITY, 70.0, start, LAST - timedelta(hours=6), every_s=14400.0
    )
    found = scene.pick(
        judge_yard(scene.yard_of(scene.SHED), [], heard, LAST), Hazard.SILENCE, SENSOR
    )
    assert found.standing is Standing.STEADY


def silence_of(heard, now, earlier=(), yard=None):
    judged = judge_yard(yard or scene.yard_of(scene.SHED), [], heard, now, earlier)
    return scene.pick(judged, Hazard.SILENCE, SENSOR)


def test_lost_humidity_wakes_nobody_and_hides_no_later_silence_of_the_sensor():
    start = LAST - timedelta(hours=70)
    heard = scene.trace(SENSOR, Channel.TEMPERATURE, 1.0, start, LAST)
    heard |= scene.trace(SENSOR, Channel.HUMIDITY, 70.0, start, LAST - timedelta(hours=20))
    damp = silence_of(heard, LAST)
    assert (damp.standing, damp.urgency) == (Standing.SILENT, Urgency.EXPECTED)
    later = LAST + timedelta(minutes=45)
    whole = silence_of(heard, later, [damp])
    assert (whole.standing, whole.urgency) == (Standing.SILENT, Urgency.IMMEDIATE)
    # And so is its temperature alone, though its humidity fell silent long before.
    heard |= scene.trace(SENSOR, Channel.VOLTAGE, 3.0, start, later)
    cold = silence_of(heard, later, [damp])
    assert (cold.facts.channel, cold.urgency) == (Channel.TEMPERATURE, Urgency.IMMEDIATE)


def test_a_channel_that_the_yards_file_names_no_more_is_missed_no_more():
    # A sensor without humidity was put in the place of one that had it, under the same name.
    heard = scene.trace(SENSOR, Channel.TEMPERATURE, 8.0, LAST - timedelta(hours=70), LAST)
    both = heard | scene.trace(
        SENSOR, Channel.HUMIDITY, 70.0, LAST - timedelta(hours=70), LAST - timedelta(hours=9)
    )
    silent = silence_of(both, LAST)
    assert silent.standing is Standing.SILENT
    bare = scene.yard_of(scene.SHED)
    (sensor,) = bare.sensors
    bare = replace(bare, sensors=(replace(sensor, labels={"t": Channel.TEMPERATURE}),))
    assert silence_of(heard, LAST, [silent], bare).standing is Standing.STEADY


def test_humidity_that_pauses_night_after_night_is_no_silence_and_one_that_fails_is():
    # It is sent when it changes: every ten minutes, but not from midnight to six.
    start, until = LAST - timedelta(hours=84), LAST + timedelta(hours=18)
    heard = scene.trace(SENSOR, Channel.TEMPERATURE, 8.0, start, until)
    damp = scene.trace(SENSOR, Channel.HUMIDITY, 70.0, start, until)[SENSOR, Channel.HUMIDITY]
    hour = (12.0 + (damp.at_ms - to_ms(LAST)) / 3.6e6) % 24.0
    fails = damp.at_ms > to_ms(LAST + timedelta(hours=4))
    kept = (hour >= 6.0) & ~fails
    damp = replace(damp, at_ms=damp.at_ms[kept], value=damp.value[kept], flag=damp.flag[kept])
    heard[SENSOR, Channel.HUMIDITY] = damp
    for hours in range(-7, 5):
        assert silence_of(heard, LAST + timedelta(hours=hours)).standing is Standing.STEADY
    assert silence_of(heard, LAST + timedelta(hours=14)).standing is Standing.SILENT


def test_gaps_of_the_whole_sensor_are_no_pauses_of_its_channel():
    # A radio that is away for six hours each night is no reason to wait so long for an element.
    start, until = LAST - timedelta(hours=84), LAST + timedelta(hours=1)
    heard = scene.trace(SENSOR, Channel.HUMIDITY, 70.0, start, until)
    heard |= scene.trace(SENSOR, Channel.TEMPERATURE, 8.0, start, LAST)
    for key, one in heard.items():
        kept = (12.0 + (one.at_ms - to_ms(LAST)) / 3.6e6) % 24.0 >= 6.0
        heard[key] = replace(one, at_ms=one.at_ms[kept], value=one.value[kept], flag=one.flag[kept])
    assert silence_of(heard, until).facts.channel is Channel.TEMPERATURE
