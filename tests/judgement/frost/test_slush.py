"""A mix that was a third ice stays in doubt once it has thawed; a computed mix counts for less."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from monitor.craft.layup import Liquid
from monitor.craft.protection import Basis
from monitor.judgement.frost.slush import short_of_glycol
from monitor.judgement.judge import judge_yard
from monitor.phrases.figures import figures_of
from monitor.yard.assessment import Hazard, Severity, Standing
from monitor.yard.reading import Channel
from tests.judgement import scene

NOW = scene.local(15, 12)
COLD_NIGHT = scene.local(15, 6)  # the last air of -12 °C
YARD = scene.yard_of(scene.SHED)


def thawed(protection, low_c=-12.0, *, earlier=(), now=NOW):
    """A shed that was cold until six and has been at +6 °C since."""
    begin = now - timedelta(hours=97)
    ends_h = (COLD_NIGHT - begin) / timedelta(hours=1)

    def air(hours):
        return np.where((hours > ends_h - 12.0) & (hours < ends_h), low_c, 6.0)

    readings = scene.trace("air-long-shed", Channel.TEMPERATURE, air, begin, now)
    craft = [scene.stored(scene.SHED, (scene.circuit(lag_h=1.0), protection))]
    judged = judge_yard(YARD, craft, readings, now, earlier)
    return judged, scene.pick(judged, Hazard.FROST, "head", "k1")


def test_a_mix_that_was_a_third_ice_is_in_doubt_after_the_thaw():
    # 16 % of propylene glycol: first ice at -5.2 °C; a third of it is ice near -9.6 °C, where
    # the liquid left holds 24 % (lever rule on the table).
    _, found = thawed(scene.mix(-5.2, fraction=0.16))
    assert found.now_c > 0.0
    assert found.standing is Standing.SUSPECT
    assert "sample" in scene.act_words(found)


def test_such_a_mix_is_to_be_looked_at_and_made_stronger_before_the_next_cold():
    begin = NOW - timedelta(hours=97)

    def air(hours):  # four nights to -13 °C at three in the morning, days to +5 °C
        return -4.0 + 9.0 * np.cos(2.0 * np.pi * (hours - 4.0) / 24.0)

    readings = scene.trace("air-long-shed", Channel.TEMPERATURE, air, begin, NOW)
    craft = [scene.stored(scene.SHED, (scene.circuit(lag_h=1.0), scene.mix(-5.2, fraction=0.16)))]
    found = scene.pick(judge_yard(YARD, craft, readings, NOW), Hazard.FROST, "head", "k1")
    assert found.low_c < -9.6
    assert found.standing is Standing.SUSPECT
    said = scene.act_words(found, *craft)
    assert said.startswith("Do not start it: thaw the head passages, look for")
    assert "of 50 % propylene glycol through the head passages" in said
    assert "; all before " in said


def test_some_slush_leaves_no_doubt():
    _, found = thawed(scene.mix(-5.2, fraction=0.16), low_c=-7.0)
    assert found.standing is not Standing.SUSPECT


def test_a_sample_read_after_the_thaw_ends_the_doubt_and_one_before_it_does_not():
    mix = scene.mix(-5.2, fraction=0.16)
    early = replace(mix, sampled_at=COLD_NIGHT - timedelta(days=3))
    late = replace(mix, sampled_at=NOW - timedelta(hours=1))
    assert thawed(early)[1].standing is Standing.SUSPECT
    assert thawed(late)[1].standing is not Standing.SUSPECT


def test_the_doubt_outlasts_the_readings_that_are_looked_at():
    judged, _ = thawed(scene.mix(-5.2, fraction=0.16))
    later = NOW + timedelta(days=9)
    begin = later - timedelta(hours=97)
    mild = scene.trace("air-long-shed", Channel.TEMPERATURE, 6.0, begin, later)
    craft = [scene.stored(scene.SHED, (scene.circuit(lag_h=1.0), scene.mix(-5.2, fraction=0.16)))]
    again = judge_yard(YARD, craft, mild, later, judged)
    assert scene.pick(again, Hazard.FROST, "head", "k1").standing is Standing.SUSPECT


def test_antifreeze_poured_in_and_read_does_not_undo_ice_that_was_water():
    judged, iced = thawed(scene.water())
    assert iced.standing is Standing.SUSPECT
    treated = replace(scene.mix(-30.0, fraction=0.49), sampled_at=NOW)
    _, found = thawed(treated, earlier=judged, now=NOW + timedelta(hours=1))
    assert found.standing is Standing.SUSPECT
    looked = replace(treated, inspected_at=NOW)
    _, found = thawed(looked, earlier=judged, now=NOW + timedelta(hours=1))
    assert found.standing is Standing.HOLDING


def test_a_computed_mix_is_judged_with_a_tenth_less_glycol():
    # 14 fl oz of a 30 % product on 8 fl oz of water: 19.3 %, first ice at -6.7 °C. A tenth less
    # is 17.4 %, between the 15 and 20 % rows of the table, -4.8 and -7.1 °C: about -5.9 °C.
    point_c, left = short_of_glycol(-6.7, Liquid.PROPYLENE, 0.193)
    assert left == pytest.approx(0.174, abs=0.001)
    assert point_c == pytest.approx(-5.9, abs=0.1)
    computed = replace(scene.mix(-6.7, fraction=0.193), basis=Basis.COMPUTED)
    _, found = thawed(computed, low_c=2.0)
    assert found.limit_c == pytest.approx(-5.9, abs=0.1)
    assert "10% less glycol" in scene.basis_words(found)
    _, measured = thawed(scene.mix(-6.7, fraction=0.193), low_c=2.0)
    assert measured.limit_c == -6.7


def test_nothing_is_taken_off_what_holds_no_glycol():
    assert short_of_glycol(-20.0, None, None) == (-20.0, None)


def stands(air_c, protection):
    """Air that has stood still for days, so that the circuit is as cold as it, and stays so.

    Near the end of the night, when little more can come.
    """
    now = scene.local(15, 5, 30)
    air = scene.trace("air-long-shed", Channel.TEMPERATURE, air_c, now - timedelta(hours=90), now)
    craft = scene.stored(scene.SHED, (scene.circuit(0.5), protection))
    return scene.pick(judge_yard(YARD, [craft], air, now), Hazard.FROST, "head", "k1")


# Propylene glycol that first ices at -5 °C is a third ice near -8 °C, by the lever rule on its
# freezing curve.
@pytest.mark.parametrize(
    ("air_c", "standing"),
    [(3.0, Standing.HOLDING), (-5.5, Standing.SLUSH), (-9.5, Standing.ICING)],
)
def test_slush_comes_before_a_third_of_it_is_ice(air_c, standing):
    assert stands(air_c, scene.mix(-5.0)).standing is standing


def test_slush_asks_for_nothing():
    found = stands(-5.5, scene.mix(-5.0))
    assert (scene.act_words(found), found.severity) == ("", Severity.MINOR)
    assert 0.0 < figures_of(found)["ice_fraction"] < 1.0 / 3.0


def test_a_third_of_ice_asks_for_heat_and_a_stronger_mix_and_is_remembered():
    found = stands(-9.5, scene.mix(-5.0))
    assert figures_of(found)["ice_fraction"] > 1.0 / 3.0
    assert "third_ice_at_unix_s" in figures_of(found)
    assert "iced_at_unix_s" not in figures_of(found)
    assert "gentle heat" in scene.act_words(found)
    assert "of 50 % propylene glycol through the head" in scene.act_words(found)
    assert "iced_at_unix_s" in figures_of(stands(-9.5, scene.water()))
