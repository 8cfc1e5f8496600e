"""A winter stood through: against sums by hand, an integration of its own, and colder weather."""

import gzip
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import inf, log
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from monitor.craft.plan.step import JobPlan
from monitor.craft.protection import LayupState
from monitor.craft.record import stored_craft
from monitor.intake.weather_file import read_weather_file
from monitor.intake.winter_weather import lay_over_winter
from monitor.judgement.winter.stand_winter import stand_winter
from monitor.judgement.winter.winter_air import LearntYard, WinterNights, winter_air
from monitor.wording import Wording
from monitor.yard.hard_winter import (
    IN_DANGER,
    Following,
    WinterOutcome,
    WinterWeather,
    standard_zone,
    winter_ahead,
)
from tests.craft import scene as craft_scene
from tests.craft.plan.follow import followed
from tests.judgement import scene

DENVER = Path(__file__).parents[2] / "outside" / "data" / "denver_tmy3.csv.gz"
BEGIN = datetime(2026, 11, 20, 18, tzinfo=UTC)  # noon in the yard
YARD = replace(
    scene.yard_of(scene.RACK, scene.SHED, replace(scene.BARN, thermostat_c=7.0)),
    design_low_c=-20.0,
)
RANK = list(WinterOutcome)


def weather_of(air_c, step_h=1.0):
    air = np.asarray(air_c, dtype=float)
    return WinterWeather(
        source="made", begin=BEGIN, step_h=step_h, air_c=air, dew_point_c=np.full(air.size, np.nan)
    )


def stood(craft, weather, learnt=None, heat_off=None):
    _, found = stand_winter(
        YARD, craft, weather, learnt or LearntYard(), heat_off or {}, suspect={}
    )
    return {one.craft.id: one for one in found}


def bare(lag_h, space=scene.SHED, craft_id="k1", **more):
    """A circuit of one lag alone, full of water, in a shed that has none itself."""
    made = scene.circuit(lag_h, lag_high_h=lag_h, volume_l=0.4, **more)
    return scene.stored(space, (made, scene.water()), craft_id=craft_id)


def test_water_in_a_step_of_cold_freezes_when_its_lag_and_latent_heat_say(monkeypatch):
    # By hand: 6 h x ln((4 + 10) / 10) to 0 °C; then a third of 0.4 kg x 333.43 kJ/kg (IAPWS) leaves
    # through 20 kJ/K / 6 h at 10 K. In a row, and without a sky: a shed would lag itself.
    monkeypatch.setattr(
        "monitor.judgement.winter.winter_air.share_of_clear_sky", lambda draws, _: 0 * draws.sky
    )
    first_h = 6.0 * log(14.0 / 10.0)
    third_h = first_h + 0.4 * 333.43 / 3.0 / (20.0 / 6.0 * 10.0)
    step_h, before = 0.02, 12.0
    hours = np.arange(0.0, 72.0, step_h)
    craft = [bare(6.0, scene.RACK)]

    held = stood(craft, weather_of(np.where(hours < before, 4.0, -10.0), step_h))["k1"]
    assert held.outcome is WinterOutcome.LOST
    assert held.chance == 1.0
    due_h = (held.due_at - BEGIN) / timedelta(hours=1)
    likely_h = (held.likely_at - BEGIN) / timedelta(hours=1)
    assert due_h == pytest.approx(before + first_h, abs=2 * step_h)
    assert likely_h == pytest.approx(before + third_h, abs=2 * step_h)

    # The cold ends when less than a third is ice: a tenth of the loss is feared, and no more.
    ends = before + first_h + 0.5 * (third_h - first_h)
    short = np.where((hours < before) | (hours > ends), 4.0, -10.0)
    saved = stood(craft, weather_of(short, step_h))["k1"]
    assert saved.chance == pytest.approx(0.1)
    assert saved.outcome is WinterOutcome.AT_RISK
    assert saved.likely_at is None


@pytest.fixture(scope="module")
def denver():
    rows = read_weather_file(DENVER, standard_zone(YARD))
    return lay_over_winter(rows, YARD, *winter_ahead(BEGIN, YARD))


def test_a_winter_whose_humidity_is_left_out_is_never_the_milder_one(denver):
    unheard = replace(denver, dew_point_c=np.full(denver.hours.size, np.nan))
    craft = [bare(lag_h, scene.RACK, f"k{n}") for n, lag_h in enumerate((1.0, 4.0, 12.0))]
    with_it = stood(craft, denver)
    without = stood(craft, unheard)
    for craft_id, held in with_it.items():
        assert without[craft_id].chance >= held.chance
    around = WinterNights.of_weather(denver, YARD).around_craft
    colder_k = around(scene.RACK, denver.air_c, denver.dew_point_c) - around(
        scene.RACK, denver.air_c, unheard.dew_point_c
    )
    assert (colder_k >= 0.0).all()
    assert (colder_k > 0.0).any()


def test_the_denver_winter_freezes_a_circuit_in_the_hour_of_an_integration_of_its_own(denver):
    # The file read by pandas, a shed and a circuit in it as two lags by a general solver.
    with gzip.open(DENVER, "rt") as text:
        table = pd.read_csv(text)
    at = pd.to_datetime(
        {"year": np.where(table.month >= 7, 2026, 2027), "month": table.month, "day": table.day}
    ) + pd.to_timedelta(table.hour_ending, unit="h")
    air = pd.Series(table.t_c.to_numpy(), index=at).sort_index()
    air = air[~air.index.duplicated()].loc["2026-11-20 12:00":]
    hours = (air.index - air.index[0]) / pd.Timedelta(hours=1)
    shed_lag_h, lag_h = 5.0, 6.0

    def rates(t, body):
        outside = np.interp(t, hours, air)
        return [(outside - body[0]) / shed_lag_h, (body[0] - body[1]) / lag_h]

    def freezes(_, body):
        return body[1]

    freezes.terminal, freezes.direction = True, -1
    run = solve_ivp(
        rates, (0.0, 1200.0), [air.iloc[0], air.iloc[0]], events=freezes, max_step=0.5, rtol=1e-8
    )
    (first_h,) = run.t_events[0]
    told = stood([bare(lag_h)], denver)["k1"]
    # Air in a shed bends between its hours, and is taken to run straight there.
    assert (told.due_at - denver.begin) / timedelta(hours=1) == pytest.approx(first_h, abs=0.2)
    lowest = air.min()
    assert np.nanmin(denver.air_c) == pytest.approx(lowest)


KINDS = [
    scene.stored(space, (scene.circuit(lag_h), held), craft_id=f"{space.id}-{lag_h}-{n}")
    for space in (scene.RACK, scene.SHED, scene.BARN)
    for lag_h in (0.5, 3.0)
    for n, held in enumerate(
        (scene.water(), scene.water(state=LayupState.HEAT_ONLY), scene.mix(-12.0), scene.mix(-25.0))
    )
]


@st.composite
def fortnights(draw):
    mean_c = draw(st.floats(-12.0, 4.0))
    swing_k = draw(st.floats(0.0, 8.0))
    front_k = draw(st.floats(0.0, 12.0))
    hours = np.arange(14 * 24)
    front = front_k * np.exp(-(((hours - draw(st.integers(48, 288))) / 20.0) ** 2))
    return mean_c + swing_k * np.cos(2 * np.pi * (hours - 21) / 24.0) - front


@given(air_c=fortnights(), by_k=st.floats(0.0, 8.0), off=st.booleans())
@settings(max_examples=8, deadline=None)
def test_colder_weather_never_saves_a_craft(air_c, by_k, off):
    heat_off = {"stove-barn": BEGIN + timedelta(days=3)} if off else {}
    weather = weather_of(air_c)
    mild, hard = (
        stood(KINDS, each, heat_off=heat_off) for each in (weather, weather.colder_by(by_k))
    )
    for name, one in mild.items():
        assert hard[name].chance >= one.chance
        assert RANK.index(hard[name].outcome) <= RANK.index(one.outcome)


@given(
    air_c=fortnights(),
    holes=st.lists(st.tuples(st.integers(1, 330), st.integers(1, 60)), min_size=1, max_size=4),
)
@settings(max_examples=8, deadline=None)
def test_a_hole_in_the_weather_never_makes_a_craft_safe(air_c, holes):
    whole = stood(KINDS, weather_of(air_c))
    less = air_c.copy()
    for begin, length in holes:
        less[begin : begin + length] = np.nan
    # What is missing lies within ten kelvin of what is known: the bound that the report states.
    if np.nanmin(less) - 10.0 > air_c.min():
        return
    known = stood(KINDS, weather_of(less))
    for name, one in whole.items():
        if one.outcome in IN_DANGER:
            assert known[name].outcome in IN_DANGER, name


def test_the_job_that_it_names_saves_the_craft(denver):
    # One of each type that nothing was done to; its own plan done to the letter, and stood again.
    colder = denver.colder_by(4.0)
    yard = replace(YARD, spaces=craft_scene.yard().spaces)
    records = {
        name: craft_scene.record(profile=name, id=name)
        for name in ("pwc-two-stroke", "outboard", "sterndrive-raw-water", "head")
    }

    def stood_as(some, at):
        words = Wording(zone=craft_scene.ZONE, units=None)
        craft = [
            stored_craft(replace(one, stays=(replace(one.stays[0], craft=name),)),
                         craft_scene.SHELTERS, at, words)
            for name, one in some.items()
        ]  # fmt: skip
        _, found = stand_winter(yard, craft, colder, LearntYard(), {}, suspect={})
        return {one.craft.id: one for one in found}

    before = stood_as(records, craft_scene.EVE)
    assert {one.outcome for one in before.values()} == {WinterOutcome.LOST}
    after = {}
    for name, record in records.items():
        job = JobPlan(craft=name, low_c=0.0, steps=before[name].steps)
        after[name] = followed(record, job)[-1][0]
    done = stood_as(after, craft_scene.EVE + timedelta(days=1))
    assert {one.outcome for one in done.values()} == {WinterOutcome.HOLDS}, done


def test_a_heated_space_of_which_nothing_is_known_counts_as_without_heat():
    weather = weather_of(np.full(240, -8.0))
    unknown, air_c = winter_air(scene.BARN, weather.air_c, weather, None)
    assert unknown.heat_unknown
    assert air_c[-1] < -7.0
    held, air_c = winter_air(replace(scene.BARN, thermostat_c=7.0), weather.air_c, weather, None)
    assert held.follows is Following.HEAT_SET
    assert (air_c > 0.0).all()
    craft = [scene.stored(scene.BARN, (scene.circuit(), scene.water(state=LayupState.HEAT_ONLY)))]
    assert stood(craft, weather)["k1"].outcome is WinterOutcome.BY_HEAT
    failed = stood(craft, weather, heat_off={"stove-barn": BEGIN + timedelta(days=2)})["k1"]
    assert failed.outcome is WinterOutcome.LOST
    assert failed.due_at > BEGIN + timedelta(days=2)


def test_a_craft_in_a_space_that_the_yard_has_not_counts_as_in_the_open():
    weather = weather_of(np.full(96, -6.0))
    nowhere = replace(scene.BARN, id="gone")
    craft = [
        scene.stored(space, (scene.circuit(), scene.water()), craft_id=space.id)
        for space in (nowhere, scene.BARN)
    ]
    found = stood(craft, weather)
    assert found["gone"].outcome is WinterOutcome.LOST
    assert found["stove-barn"].outcome is WinterOutcome.BY_HEAT


def test_what_holds_nothing_stands_and_what_was_in_ice_is_never_told_as_standing():
    weather = weather_of(np.full(240, 10.0))
    made = scene.circuit()
    _, (found,) = stand_winter(
        YARD, [scene.stored(scene.RACK, (made, scene.water()))], weather, LearntYard(), {},
        suspect={("k1", "head"): BEGIN - timedelta(days=3)},
    )  # fmt: skip
    assert found.outcome is WinterOutcome.SUSPECT
    assert stood([scene.stored(scene.RACK, (made, scene.water()))], weather)["k1"].outcome is (
        WinterOutcome.HOLDS
    )
    assert found.circuits[0].room_k < inf


def test_what_only_a_gap_may_damage_is_due_before_the_gap_and_its_job_holds_that_cold():
    air_c = np.full(20 * 24, -4.0)
    air_c[10 * 24 : 11 * 24] = np.nan
    craft = [scene.stored(scene.RACK, (scene.circuit(0.5), scene.mix(-8.0)))]
    told = stood(craft, weather_of(air_c))["k1"]
    assert told.outcome is WinterOutcome.NOT_KNOWN
    assert told.due_at - BEGIN > timedelta(days=9)
    assert told.due_at - BEGIN < timedelta(days=11)
    assert told.circuits[0].job_low_c < -13.0
