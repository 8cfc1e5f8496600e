"""A cold building over its floor: what readings show of it, and how far it is counted on."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.clock import to_ms
from monitor.judgement.air.building import (
    Building,
    Floor,
    building_over_floor,
    fit_building_floor,
    unheated_air_series,
)
from monitor.judgement.air.grid import space_airs
from monitor.judgement.air.past_weeks import SpacePast
from tests.judgement import scene
from tests.physics.test_floor import two_nodes, weather
from tests.tried import tried

NOW = scene.local(25, 16)
DAYS = 14


def past_of(air_c, hours):
    at = [to_ms(NOW + timedelta(hours=float(each))) for each in hours]
    values = np.round(air_c, 1)
    return SpacePast(
        at_ms=np.array(at), air_c=values, low_c=values, dew_point_c=np.full(values.size, np.nan)
    )


def shed_and_outdoors(seed=7, share=0.35, days=DAYS):
    """Two weeks of a shed over its floor, and the twenty hours that followed."""
    hours = np.arange(-24.0 * days, 21.0)
    outside = weather(seed, hours)
    inside, _ = two_nodes(hours, outside, 4.0, 60.0, share, [outside[0], 6.0])
    return hours, inside, outside


def air_now(space=scene.SHED):
    yard = scene.yard_of(space)
    return space_airs((space,), yard.sensors, {}, NOW)[space.id]


def built(hours, inside, outside, space=scene.SHED):
    until = hours <= 0.0
    pasts = past_of(inside[until], hours[until]), past_of(outside[until], hours[until])
    fit = fit_building_floor(air_now(space), *pasts)
    return None if fit is None else building_over_floor(fit, *pasts)


@pytest.mark.parametrize("seed", [7, 8, 9])
def test_a_shed_goes_where_its_floor_lets_it(seed):
    hours, inside, outside = shed_and_outdoors(seed)
    building = built(hours, inside, outside)
    ahead = hours > 0.0
    now = float(inside[hours == 0.0][0])
    course = unheated_air_series(building, now, outside[hours >= 0.0], hours[ahead])
    assert course == pytest.approx(inside[ahead], abs=0.5)


def test_a_floor_is_counted_on_less_when_warm_than_when_cold():
    hours, inside, outside = shed_and_outdoors()
    stirred = inside + np.random.default_rng(1).normal(0.0, 0.7, inside.size)
    floor = built(hours, stirred, outside).floor
    assert 0.0 < floor.share_if_warm < floor.share_if_cold < 0.6


def test_where_readings_show_no_floor_none_is_counted_on():
    hours, inside, outside = shed_and_outdoors(days=1)
    assert built(hours, inside, outside) is None
    heated = replace(scene.SHED, kind=scene.BARN.kind)
    assert built(*shed_and_outdoors(), heated) is None
    hours, inside, outside = shed_and_outdoors(share=0.0)
    assert built(hours, inside, outside) is None


def test_a_hole_in_the_readings_takes_away_what_was_known_of_the_floor():
    hours, inside, outside = shed_and_outdoors()
    until = hours <= 0.0
    whole = past_of(inside[until], hours[until]), past_of(outside[until], hours[until])
    fit = fit_building_floor(air_now(), *whole)
    silent = until & ~((hours > -40.0) & (hours < -20.0))
    holed = past_of(inside[silent], hours[silent]), past_of(outside[silent], hours[silent])
    assert building_over_floor(fit, *whole) is not None
    assert building_over_floor(fit, *holed) is None


@given(
    less=st.floats(0.0, 0.9),
    more=st.floats(0.0, 0.9),
    floor_c=st.floats(-5.0, 12.0),
    outside=st.lists(st.floats(-25.0, 15.0), min_size=13, max_size=13),
)
@settings(max_examples=tried(40), deadline=None)
def test_the_less_a_floor_is_sure_the_colder_the_building_goes(less, more, floor_c, outside):
    hours = np.arange(1.0, 13.0) / 2.0

    def course(share):
        floor = Floor(lag_h=60.0, share_if_warm=share, share_if_cold=0.9, now_c=floor_c)
        building = Building(lag_h=4.0, lift_k=0.3, floor=floor)
        return unheated_air_series(building, 4.0, np.array(outside), hours)

    few, many = sorted([less, more])
    assert (course(few) <= course(many) + 1e-9).all()


def test_a_building_in_steady_weather_is_drawn_between_outdoors_and_its_floor():
    floor = Floor(lag_h=60.0, share_if_warm=0.25, share_if_cold=0.5, now_c=4.0)
    building = Building(lag_h=4.0, lift_k=0.5, floor=floor)
    assert building.driven_c(-4.0) == pytest.approx(-4.0 + 0.25 * 8.0 + 0.5)
    assert building.driven_c(12.0) == pytest.approx(12.0 - 0.5 * 8.0 + 0.5)
    assert Building(lag_h=4.0, lift_k=0.5).driven_c(-4.0) == -3.5
