"""Hard winters: as fast, mild and badly read as real ones; ordinary ones stay as they were."""

from datetime import timedelta

import numpy as np
import pytest

from simulator import winter
from simulator.hardship import hard_weather
from simulator.weather import synthetic
from tests.simulator.test_winter import END, START

SEEDS = range(1, 13)


def fastest_fall_k_h(weather):
    """Over an hour: six steps of ten minutes."""
    return float(np.max(weather.air_c[:-6] - weather.air_c[6:]))


@pytest.fixture(scope="module")
def seasons():
    end = START + timedelta(days=60)
    return {seed: hard_weather(seed, START, end) for seed in SEEDS}


def test_fronts_fall_by_five_to_fifteen_kelvin_an_hour(seasons):
    fastest = np.array([fastest_fall_k_h(each) for each in seasons.values()])
    ordinary = [fastest_fall_k_h(synthetic(seed, START, END)) for seed in SEEDS]
    assert np.median(fastest) > 8.0
    assert fastest.max() < 20.0
    assert max(ordinary) < 5.0


def test_air_never_holds_more_water_than_it_can(seasons):
    for each in seasons.values():
        assert (each.dew_point_c < each.air_c).all()


def test_some_winters_lie_for_weeks_about_freezing(seasons):
    mild = [each for each in seasons.values() if np.median(each.air_c) > 0.0]
    assert 2 <= len(mild) <= 8
    near_zero = [np.mean(np.abs(each.air_c) < 6.0) for each in mild]
    assert min(near_zero) > 0.5


@pytest.fixture(scope="module")
def made():
    return [winter.make(seed, craft=2, start=START, end=END, hard=True) for seed in SEEDS]


def test_half_of_the_yards_have_no_bare_probe(made):
    probed = [any(each["mount"] == "surface" for each in one.records["sensors"]) for one in made]
    assert 2 <= sum(probed) <= 10
    for one in made:
        assert len(one.records["sensors"]) == len(one.faults)


def test_nothing_else_of_a_seed_is_changed(made):
    plain = winter.make(3, craft=2, start=START, end=END)
    assert made[2].records["craft"] == plain.records["craft"]
    assert made[2].plan.craft == plain.plan.craft


def test_sensors_speak_by_the_hour_in_whole_degrees_and_from_wet_heads(made):
    lived = winter.live(made)
    hourly = whole = wet = 0
    for one, seen in zip(made, lived, strict=True):
        for id_, fault in one.faults.items():
            stamps, values = seen.readings[f"urn:dev:ops:{one.plan.id}-{id_}"]
            if fault.get("every_s"):
                hourly += 1
                assert np.diff(stamps).min() > 3500.0
            if fault.get("resolution_c") == 1.0:
                whole += 1
                assert np.array_equal(values["temperature"], np.round(values["temperature"]))
            for spell in fault.get("wet_spells", ()):
                inside = (stamps - 300.0 >= spell.start_s) & (stamps + 300.0 < spell.end_s)
                wet += int(inside.any())
                assert (values["humidity"][inside] > 97.0).all()
    assert min(hourly, whole, wet) > 5
