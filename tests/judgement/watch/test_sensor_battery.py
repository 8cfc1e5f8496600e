"""A sensor's own battery: told while it can still be changed, and no sign of life by itself."""

from datetime import timedelta

import pytest

from monitor.judgement.judge import judge_yard
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.reading import Channel
from tests.judgement import scene

SENSOR = "air-long-shed"
NOW = scene.local(14, 12)
START = NOW - timedelta(hours=70)


def judged(left_pct, heard_until=NOW):
    readings = scene.trace(SENSOR, Channel.TEMPERATURE, 5.0, START, heard_until)
    readings |= scene.trace(SENSOR, Channel.SENSOR_BATTERY, left_pct, START, NOW)
    return judge_yard(scene.yard_of(scene.SHED), [], readings, NOW)


@pytest.mark.parametrize(("left_pct", "is_low"), [(74.0, False), (16.0, False), (15.0, True)])
def test_a_sensor_tells_of_its_battery_at_fifteen_percent(left_pct, is_low):
    found = [one for one in judged(left_pct) if one.hazard is Hazard.SENSOR_BATTERY]
    assert bool(found) is is_low
    if found:
        assert "15 % of its own battery is left" in scene.basis_words(found[0])
        assert "Change the battery" in scene.act_words(found[0])


def test_a_battery_that_still_tells_of_itself_is_no_sign_that_its_sensor_measures():
    found = scene.pick(judged(80.0, NOW - timedelta(hours=2)), Hazard.SILENCE, SENSOR)
    assert found.standing is Standing.SILENT
