"""A building's air that was wetting for a whole day, by hours (ISO 9223: RH > 80 %, above 0 °C)."""

from datetime import timedelta

import pytest

from monitor.judgement.judge import judge_yard
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.reading import Channel
from tests.judgement import scene

NOW = scene.local(14, 20)


def day(humidity, air_c=6.0, space=scene.SHED, hours=40.0):
    since = NOW - timedelta(hours=hours)
    readings = scene.trace(f"air-{space.id}", Channel.TEMPERATURE, air_c, since, NOW)
    readings |= scene.trace(f"air-{space.id}", Channel.HUMIDITY, humidity, since, NOW)
    judged = judge_yard(scene.yard_of(space), [], readings, NOW)
    return [each for each in judged if each.hazard is Hazard.DAMP and not each.subject.craft]


@pytest.mark.parametrize(
    ("humidity", "air_c", "standing"),
    [
        (92.0, 6.0, Standing.DAMP),
        (79.0, 6.0, Standing.DRY),
        (92.0, -1.0, Standing.DRY),  # ice does not wet
    ],
)
def test_a_day_above_eighty_per_cent_and_above_zero(humidity, air_c, standing):
    (found,) = day(humidity, air_c)
    assert found.standing is standing
    assert bool(scene.act_words(found)) is (standing is Standing.DAMP)


def test_one_dry_hour_within_the_day_is_no_day_of_wetness():
    (found,) = day(lambda hours: 92.0 - 20.0 * ((hours > 30.0) & (hours < 31.0)))
    assert found.standing is Standing.DRY


def test_less_than_a_day_heard_is_not_known():
    (found,) = day(92.0, hours=15.0)
    assert found.standing is Standing.NOT_KNOWN


def test_rows_and_racks_are_wet_by_nature():
    assert day(95.0, space=scene.ROW) == day(95.0, space=scene.RACK) == []
