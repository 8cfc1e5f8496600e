"""Sweating metal: the warm damp front after the hard night, and what the film does."""

from datetime import timedelta

import numpy as np
import pytest

from monitor.craft.stored import Surface
from monitor.judgement.judge import judge
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.reading import Channel
from tests.judgement import scene

BLOCK = Surface(id="block", name="Engine block", lag_low_h=3.0, lag_high_h=6.0, length_m=0.3)


def judged_damp(air, rh, now, space=scene.SHED, outdoors=None):
    since = now - timedelta(hours=90)
    readings = scene.trace(f"air-{space.id}", Channel.TEMPERATURE, air, since, now)
    readings |= scene.trace(f"air-{space.id}", Channel.HUMIDITY, rh, since, now)
    spaces = [space]
    if outdoors is not None:
        spaces.append(scene.RACK)
        readings |= scene.trace("air-lee-rack", Channel.TEMPERATURE, outdoors[0], since, now)
        readings |= scene.trace("air-lee-rack", Channel.HUMIDITY, outdoors[1], since, now)
    craft = scene.stored(space, (scene.circuit(), scene.water()), surfaces=(BLOCK,))
    return judge(scene.yard_of(*spaces), [craft], readings, now)


def front(from_c, to_c, hours_ago):
    return lambda hours: np.where(hours < 90.0 - hours_ago, from_c, to_c)


def test_a_warm_damp_front_over_cold_metal_sweats_and_says_until_when():
    now = scene.local(15, 14)
    # +6 °C and 95 % RH for an hour over metal at -2 °C: dew point 5.3 °C (psychrometric tables).
    judged = judged_damp(front(-2.0, 6.0, 1.0), 95.0, now)
    found = scene.pick(judged, Hazard.DAMP, "block", "k1")
    assert found.standing in {Standing.SWEATING, Standing.FROSTING}
    assert found.limit_c == pytest.approx(5.3, abs=0.1)
    # First order by hand: -2 + 8 (1 - exp(-1/6)) = -0.77 °C after the hour.
    assert found.now_c == pytest.approx(-0.77, abs=0.3)
    assert "shut" in found.act
    # The metal passes the dew point after 6 ln((6 + 0.77) / (6 - 5.3)) = 13.6 h, by hand.
    assert found.figures["clear_in_h"] == pytest.approx(13.6, abs=1.5)


def test_metal_above_the_dew_point_is_dry_or_wetting_by_the_iso_rule():
    now = scene.local(15, 14)
    dry = scene.pick(judged_damp(8.0, 60.0, now), Hazard.DAMP, "block", "k1")
    wet = scene.pick(judged_damp(8.0, 85.0, now), Hazard.DAMP, "block", "k1")
    frosty = scene.pick(judged_damp(-8.0, 85.0, now), Hazard.DAMP, "block", "k1")
    assert dry.standing is Standing.DRY
    assert wet.standing is Standing.WETTING  # ISO 9223: over 80 % and above 0 °C
    assert frosty.standing is Standing.DRY  # 85 % over water is below saturation over ice there


def test_frost_forms_on_metal_that_is_warmer_than_the_dew_point():
    now = scene.local(15, 14)
    # Air at -5 °C and 95 %: dew point -5.68, frost point -5.03 (Sonntag 1990).
    judged = judged_damp(front(-6.2, -5.0, 4.0), 95.0, now)
    found = scene.pick(judged, Hazard.DAMP, "block", "k1")
    assert -5.68 < found.now_c < -5.03
    assert found.standing is Standing.FROSTING


def test_the_film_grows_with_the_hours_and_is_told():
    now = scene.local(15, 14)
    short = scene.pick(judged_damp(front(4.0, 12.0, 0.5), 85.0, now), Hazard.DAMP, "block", "k1")
    long = scene.pick(judged_damp(front(4.0, 12.0, 3.0), 85.0, now), Hazard.DAMP, "block", "k1")
    # Worked by hand: air 12 °C, 85 %, block 4 °C, 0.3 m high: 29.7 g/m² an hour at the start.
    assert 5.0 < short.figures["film_g_m2"] < 20.0
    assert short.figures["film_g_m2"] < long.figures["film_g_m2"] <= 100.0


def test_without_humidity_nothing_is_called_dry():
    now = scene.local(15, 14)
    readings = scene.trace(
        "air-long-shed", Channel.TEMPERATURE, 5.0, now - timedelta(hours=90), now
    )
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.water()), surfaces=(BLOCK,))
    judged = judge(scene.yard_of(scene.SHED), [craft], readings, now)
    assert scene.pick(judged, Hazard.DAMP, "block", "k1").standing is Standing.NOT_KNOWN


@pytest.mark.parametrize(
    ("outdoors", "drying"),
    [
        # Inside 5 °C and 85 %: 4.57 g/kg. Outside 12 °C and 60 % holds 0.62 g/kg more and wets;
        # -2 °C and 95 % holds 1.5 g/kg less and dries (ASHRAE ideal-gas form by hand).
        ((12.0, 60.0), -1.0),
        ((-2.0, 95.0), 1.0),
    ],
)
def test_water_content_and_not_relative_humidity_decides_on_opening_up(outdoors, drying):
    judged = judged_damp(5.0, 85.0, scene.local(15, 14), outdoors=outdoors)
    found = next(
        each for each in judged if each.hazard is Hazard.AIR and each.subject.space == scene.SHED.id
    )
    assert found.figures["vent_drying"] == drying
    assert found.figures["vent_water_g_kg"] == pytest.approx(
        0.62 if drying < 0 else -1.49, abs=0.05
    )
