"""Craft that are moved: their metal and ice follow, and nothing else in the yard changes."""

from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from simulator import winter
from simulator.moves import Move, Stay
from simulator.truth import Recorder
from simulator.yard import Simulation

START = datetime(2026, 1, 5, 12, tzinfo=ZoneInfo(winter.ZONE))
END = START + timedelta(days=12)


def make(seed, **more):
    return winter.make(seed, craft=12, start=START, end=END, **more)


def yard(space, *stays):
    """One craft that stands in a space first; the shop's heater does not fail."""
    plan = make(5, moved=False).plan
    craft = (replace(plan.craft[0], space=space),)
    spaces = tuple(replace(one, heater_fails=()) for one in plan.spaces)
    moves = (Move(craft=craft[0].id, stays=stays),) if stays else ()
    return replace(plan, craft=craft, spaces=spaces, moves=moves)


def live_truth(plan):
    """What happened to the only craft of a plan."""
    simulation = Simulation([plan], START.timestamp(), END.timestamp())
    recorder = Recorder(simulation)
    for at_s in simulation.samples():
        recorder.note(at_s)
    (craft,) = recorder.truth()["craft"]
    return craft


def truth_of(lived, craft):
    return next(one for one in lived.truth["craft"] if one["craft"] == craft)


@pytest.fixture(scope="module")
def with_and_without():
    seeds = (2, 5, 12)
    moving, staying = ([make(seed, moved=moved) for seed in seeds] for moved in (True, False))
    return moving, winter.live(moving), winter.live(staying)


def test_whoever_is_not_moved_has_the_same_truth_to_the_last_digit(with_and_without):
    for made, moving, staying in zip(*with_and_without, strict=True):
        (move,) = made.plan.moves
        assert moving.truth["spaces"] == staying.truth["spaces"]
        others = [[one for one in lived.truth["craft"] if one["craft"] != move.craft]
                  for lived in (moving, staying)]  # fmt: skip
        assert others[0] == others[1]
        assert len(others[0]) == 11


def test_every_sensor_reads_the_same_to_the_last_digit(with_and_without):
    for _, moving, staying in zip(*with_and_without, strict=True):
        assert moving.readings.keys() == staying.readings.keys()
        for name, (stamps, channels) in moving.readings.items():
            np.testing.assert_array_equal(stamps, staying.readings[name][0])
            for label, values in channels.items():
                np.testing.assert_array_equal(values, staying.readings[name][1][label])


def test_the_move_is_on_record_and_in_the_truth(with_and_without):
    for made, moving, staying in zip(*with_and_without, strict=True):
        (move,) = made.plan.moves
        stays = [{"space": one["space"], "since": one["since"]} for one in made.records["moves"]]
        assert truth_of(moving, move.craft)["moved"] == stays
        assert all(one["craft"] == move.craft for one in made.records["moves"])
        assert truth_of(staying, move.craft)["moved"] == []
        without = {key: value for key, value in made.records.items() if key != "moves"}
        still = make(made.seed, moved=False).records
        assert without == {key: value for key, value in still.items() if key != "moves"}


@pytest.mark.parametrize("space", ["rack", "row", "long-shed", "shop"])
def test_a_double_that_has_not_moved_yet_is_as_cold_as_its_craft(space):
    begin_s = START.timestamp()
    plan = yard(space, Stay("shop", begin_s + 1e9))
    simulation = Simulation([plan], begin_s, begin_s + 2 * 86400.0)
    for _ in simulation.samples():
        pass
    ((original, double),) = simulation.double_of.items()
    fleet = simulation.fleet
    # Its surroundings are one node where its craft has air, sky and sun: only rounding differs.
    assert simulation.engine_c[double] == pytest.approx(simulation.engine_c[original], abs=1e-6)
    ours, its = (simulation.circuit_c[fleet.owner == one] for one in (double, original))
    np.testing.assert_allclose(ours, its, atol=1e-6)
    assert fleet.film_kg[double] == pytest.approx(fleet.film_kg[original], abs=1e-9)


def test_a_craft_brought_into_the_heat_takes_the_shops_temperature():
    begin_s = START.timestamp()
    since_s = begin_s + 86400.0
    plan = yard("rack", Stay("shop", since_s))
    simulation = Simulation([plan], begin_s, since_s + 4 * 86400.0)
    ((original, double),) = simulation.double_of.items()
    before_c = None
    for at_s in simulation.samples():
        if at_s == since_s:
            before_c = simulation.engine_c[double]
    shop_c = simulation.air_c[simulation.space_index("shop")]
    assert before_c < 0.0 < shop_c
    # Four days are many times any engine's lag; the shop's heater switches within 0.8 K.
    assert simulation.engine_c[double] == pytest.approx(shop_c, abs=1.0)
    assert simulation.engine_c[original] < shop_c - 3.0


def test_cold_metal_sweats_where_it_is_brought_in_and_not_where_it_came_from():
    samples_s = START.timestamp() + np.arange(2 * 86400.0, 10 * 86400.0, 300.0)
    since_s = float(samples_s[yard("row").weather.during(samples_s).air_c.argmin()])
    plan = yard("row", Stay("shop", since_s))
    damp = tuple(replace(one, floor_damp=0.5) if one.id == "shop" else one for one in plan.spaces)
    simulation = Simulation([replace(plan, spaces=damp)], START.timestamp(), since_s + 3 * 3600.0)
    ((original, double),) = simulation.double_of.items()
    film = {original: [], double: []}
    for at_s in simulation.samples():
        for one, course in film.items():
            if at_s >= since_s:
                course.append(
                    1000.0 * simulation.fleet.film_kg[one] / simulation.fleet.area_m2[one]
                )
    # The rime that both bring along is the same; what the damp heat adds is grams.
    assert film[double][0] == pytest.approx(film[original][0], abs=1e-6)
    assert max(film[double]) > max(film[original]) + 3.0


def test_water_taken_out_of_the_heat_freezes_and_does_not_without_the_move():
    out_s = START.timestamp() + 5 * 86400.0
    plan = yard("shop", Stay("rack", out_s))
    water = tuple(
        replace(one, liquid_kg=max(one.liquid_kg, 0.2), glycol_mass_fraction=0.0)
        for one in plan.craft[0].circuits
    )
    plan = replace(plan, craft=(replace(plan.craft[0], circuits=water),))
    out, still = (live_truth(replace(plan, moves=moves)) for moves in (plan.moves, ()))
    assert not any(one["ice"] for one in still["circuits"])
    found = [one["first_ice_at"] for one in out["circuits"]]
    assert all(datetime.fromisoformat(at).timestamp() > out_s for at in found)


def test_winters_move_craft_both_ways_and_few():
    kinds = set()
    for seed in range(1, 13):
        made = winter.make(seed, craft=12, start=START - timedelta(days=30), end=END)
        assert len(made.plan.moves) <= 1
        for move in made.plan.moves:
            first = next(one for one in made.plan.craft if one.id == move.craft)
            assert not first.battery.aboard
            kinds.add(("shop" in {first.space}, len(move.stays)))
    assert kinds == {(True, 1), (False, 1), (False, 2)}


def test_a_move_of_nobody_or_to_nowhere_is_refused():
    made = make(5, moved=False)
    with pytest.raises(ValueError, match="no craft"):
        replace(made.plan, moves=(Move(craft="C99", stays=(Stay("shop", 0.0),)),))
    with pytest.raises(ValueError, match="no space"):
        replace(made.plan, moves=(Move(craft="C01", stays=(Stay("moon", 0.0),)),))
    with pytest.raises(ValueError, match="order of time"):
        Move(craft="C01", stays=(Stay("shop", 2.0), Stay("row", 1.0)))
