"""Spaces: heat and moisture in and out, heaters that fail, doors that stand open."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest

from simulator.air import relative_humidity
from simulator.building import Space
from simulator.craft import Circuit, Craft
from simulator.weather import Mark, scripted
from simulator.yard import Simulation, YardPlan

START = datetime(2026, 1, 10, tzinfo=UTC)


def steady(air_c, rh_pct=80.0, days=4, **more):
    ends = (START - timedelta(days=1), START + timedelta(days=days + 2))
    marks = [Mark(at=at, air_c=air_c, rh_pct=rh_pct, cloud=1.0, **more) for at in ends]
    return scripted(marks, latitude=70.0, longitude=0.0)  # polar night: no sun


def simulate(spaces, weather, hours, craft=(), step_s=60.0):
    plan = YardPlan(id="y", zone="UTC", spaces=tuple(spaces), craft=tuple(craft), weather=weather)
    begin = START.timestamp()
    return Simulation([plan], begin, begin + hours * 3600.0, step_s=step_s)


def water(space):
    circuit = Circuit(id="c", liquid_kg=0.2, lag_h=1.0, metal_kj_k=5.0)
    return Craft(id="K", name="K", space=space, circuits=(circuit,))


def test_a_shed_without_heat_or_slab_cools_with_its_own_time_constant():
    # Walls and air change in parallel: tau = C / (UA + rho c V n). Wind 2 m/s makes n its base.
    shed = Space(
        id="shed", start_c=6.0, volume_m3=1000, wall_w_k=300, air_kj_k=15000, floor_w_k=0,
        ground_w_k=0, floor_m2=0, roof_m2=0, air_changes_h=0.5,
    )  # fmt: skip
    craft = Craft(
        id="K", name="K", space="shed", engine_kj_k=0.5,
        circuits=(Circuit(id="c", liquid_kg=1e-3, lag_h=1.0, metal_kj_k=0.1),),
    )  # fmt: skip
    sim = simulate([shed], steady(-10.0, wind_m_s=2.0), 6, [craft])
    for _ in sim.samples():
        pass
    conductance = 300.0 + 1.27 * 1006.0 * 1000.0 * 0.5 / 3600.0
    expected = -10.0 + 16.0 * np.exp(-6 * 3600.0 * conductance / 15e6)
    assert sim.air_c[0] == pytest.approx(expected, abs=0.1)


def test_a_heated_shop_holds_its_set_point_and_falls_when_the_heater_fails():
    fails = (START.timestamp() + 24 * 3600.0, START.timestamp() + 48 * 3600.0)
    shop = Space(id="shop", start_c=7.0, heater_w=15000, set_point_c=7.0, heater_fails=(fails,))
    sim = simulate([shop], steady(-10.0), 72, [water("shop")])
    seen = {round((at - START.timestamp()) / 3600.0, 2): sim.air_c[0] for at in sim.samples()}
    held = [air for hour, air in seen.items() if 6 <= hour < 24 or hour > 60]
    assert min(held) > 6.0
    assert max(held) < 8.0
    assert seen[26.0] < 6.0
    lost = [seen[float(hour)] for hour in range(24, 48)]
    assert all(later < earlier for earlier, later in pairwise(lost))


def test_moisture_is_found_again_in_air_films_or_outdoors():
    door = (START.timestamp() + 20 * 3600.0, START.timestamp() + 30 * 3600.0)
    shed = Space(id="shed", start_c=-3.0, floor_damp=0.2, door_open=(door,), door_changes_h=4.0)
    bench = Space(
        id="bench", within="shed", start_c=-3.0, volume_m3=40, air_kj_k=300, floor_m2=8,
        floor_mj_k=1.0, floor_w_k=10, wall_w_k=30, roof_m2=8, air_changes_h=2.0,
    )  # fmt: skip
    sim = simulate([shed, bench], steady(6.0, rh_pct=95.0), 48, [water("shed")])

    def held_kg():
        spaces, fleet = sim.spaces, sim.fleet
        air = (spaces.vapour[: spaces.count] * spaces.volume_m3).sum()
        craft = (fleet.vapour * fleet.volume_m3 + fleet.film_kg + fleet.ran_off_kg).sum()
        return air + craft + spaces.film_kg.sum()

    start_kg = held_kg()
    for _ in sim.samples():
        pass
    came_kg = (sim.spaces.from_outdoors_kg + sim.spaces.from_ground_kg).sum()
    # It is not the sum of nothing: the front brings litres, and much of it lies on the floor.
    assert came_kg > 1.0
    assert held_kg() - start_kg == pytest.approx(came_kg, rel=1e-9)


def test_air_never_holds_more_than_saturation():
    shed = Space(id="shed", start_c=8.0, floor_damp=1.0, floor_mj_k=200, air_changes_h=0.1)
    sim = simulate([shed], steady(-15.0), 48, [water("shed")])
    for _ in sim.samples():
        # Over ice the air is saturated before RH over water says 100 %; never after.
        assert relative_humidity(sim.spaces.vapour[0], sim.air_c[0]) <= 100.5


def test_an_open_door_in_a_warm_front_wets_the_shed():
    hours = (START.timestamp(), START.timestamp() + 12 * 3600.0)
    sheds = [
        Space(id="shut", start_c=-3.0, air_changes_h=0.2),
        Space(id="open", start_c=-3.0, air_changes_h=0.2, door_open=(hours,), door_changes_h=4.0),
    ]
    sim = simulate(sheds, steady(6.0, rh_pct=95.0), 12, [water("shut"), water("open")])
    films = [sim.fleet.film_kg.copy() for _ in sim.samples()]
    shut, opened = np.max(films, axis=0)
    assert opened > 2.0 * shut


def test_open_air_spaces_have_the_weathers_air():
    sim = simulate([Space(id="rack", open_air=True)], steady(-4.0), 2, [water("rack")])
    for _ in sim.samples():
        assert sim.air_c[0] == pytest.approx(-4.0)


def test_a_clear_still_night_cools_a_bare_probe_below_the_air():
    # Weather services and growers: exposed surfaces fall 2 to 5 K below screen air (common
    # practice, no source); FAO's frost protection book speaks of the same inversion of surfaces.
    ends = (START - timedelta(days=1), START + timedelta(days=2))
    clear = [Mark(at=at, air_c=2.0, rh_pct=80.0, cloud=0.0) for at in ends]
    weather = scripted(clear, latitude=70.0, longitude=0.0)
    sim = simulate([Space(id="rack", open_air=True, sky_share=0.15)], weather, 24, [water("rack")])
    for _ in sim.samples():
        pass
    assert 2.0 < 2.0 - sim.network.temp_c[sim.probe_node[0]] < 5.0


def test_craft_in_no_space_are_refused():
    with pytest.raises(ValueError, match="stands in 'barn', no space"):
        YardPlan(id="y", zone="UTC", spaces=(), craft=(water("barn"),), weather=steady(0.0))
