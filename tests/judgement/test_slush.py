"""A proven mix below its ice point: slush at first, then a third of it ice, which counts."""

from datetime import timedelta

import pytest

from monitor.judgement.judge import judge
from monitor.yard.assessment import Hazard, Severity, Standing, Urgency
from monitor.yard.reading import Channel
from tests.judgement import scene

NOW = scene.local(14, 20)


def mix_at(air_c, ice_point_c=-5.0):
    """Air that has stood still for days, so that the circuit is as cold as it."""
    air = scene.trace("air-long-shed", Channel.TEMPERATURE, air_c, NOW - timedelta(hours=90), NOW)
    craft = scene.stored(scene.SHED, (scene.circuit(0.5), scene.mix(ice_point_c)))
    return scene.pick(
        judge(scene.yard_of(scene.SHED), [craft], air, NOW), Hazard.FROST, "head", "k1"
    )


# Propylene glycol that first ices at -5 °C is a third ice near -8 °C, by the lever rule on its
# freezing curve (published; `tests/physics/test_antifreeze.py` holds the curve against tables).
@pytest.mark.parametrize(
    ("air_c", "standings"),
    [
        (3.0, {Standing.HOLDING}),
        (-5.5, {Standing.SLUSH, Standing.EXPOSED}),
        (-9.5, {Standing.ICING}),
    ],
)
def test_slush_comes_before_a_third_of_it_is_ice(air_c, standings):
    assert mix_at(air_c).standing in standings


def test_slush_is_logged_and_asks_for_nothing():
    found = mix_at(-5.5)
    assert found.standing is Standing.SLUSH
    assert found.act == ""
    assert found.severity is Severity.MINOR
    assert 0.0 < found.figures["ice_fraction"] < 1.0 / 3.0


def test_a_third_of_ice_asks_for_heat_or_a_stronger_mix():
    found = mix_at(-9.5)
    assert found.figures["ice_fraction"] > 1.0 / 3.0
    assert "third_ice_c" in found.figures
    assert (found.severity, found.urgency) == (Severity.SEVERE, Urgency.IMMEDIATE)
    assert "gentle heat" in found.act
    assert "stronger mix" in found.act


def test_plain_water_has_no_third():
    air = scene.trace("air-long-shed", Channel.TEMPERATURE, -9.5, NOW - timedelta(hours=90), NOW)
    craft = scene.stored(scene.SHED, (scene.circuit(0.5), scene.water()))
    found = scene.pick(
        judge(scene.yard_of(scene.SHED), [craft], air, NOW), Hazard.FROST, "head", "k1"
    )
    assert "third_ice_c" not in found.figures
