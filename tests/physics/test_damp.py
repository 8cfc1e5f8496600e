"""Wet hours, films, corrosivity and mould at their edges."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.physics import corrosivity, moist_air, mould, wetness


@pytest.mark.parametrize(
    ("hours", "number"),
    [(0, 1), (10, 1), (11, 2), (250, 2), (251, 3), (2500, 3), (2501, 4), (5500, 4), (5501, 5)],
)
def test_wetness_classes_end_where_iso_9223_ends_them(hours, number):
    # T1 to T3 published (corrosion handbook quoting ISO 9223), T4 and T5 from memory.
    assert wetness.wetness_class(hours) == number


def test_wetness_is_scaled_to_a_year_and_no_hours_say_nothing():
    assert wetness.wetness_class(100, 8766 / 4) == 3
    assert np.isnan(wetness.wetness_class(0, 0))


def test_wetness_rule_is_strict_on_both_sides():
    assert not wetness.is_wet([0.0, 5.0, np.nan], [99.0, 80.0, 99.0]).any()
    assert wetness.is_wet(0.1, 80.1)


@pytest.mark.parametrize(
    ("air_c", "rh_pct", "wet"),
    [
        (5.0, [70.0, 79.9, 80.0], False),
        (5.0, [70.0, 80.1, 79.0, 77.5], True),
        (5.0, [80.1, np.nan, 78.0], True),
        (5.0, [80.1, 77.0, 79.9], False),
        (5.0, [80.1, 77.0, 80.1], True),
        ([0.1, -0.3], [90.0, 90.0], True),
        ([0.1, -0.5], [90.0, 90.0], False),
        (-5.0, [90.0, 95.0], False),
        (5.0, [np.nan, np.nan], False),
    ],
)
def test_what_became_wet_stays_so_through_a_sensors_scatter(air_c, rh_pct, wet):
    assert wetness.ends_wet(air_c, rh_pct) == wet


@given(
    st.lists(st.floats(60, 100), min_size=1, max_size=12),
    st.lists(st.floats(0, 10), min_size=12, max_size=12),
)
def test_damper_air_never_ends_dry_where_drier_air_ends_wet(rh_pct, more):
    damper = np.minimum(np.array(rh_pct) + more[: len(rh_pct)], 100.0)
    assert wetness.ends_wet(5.0, damper) or not wetness.ends_wet(5.0, rh_pct)


@given(st.floats(-10, 30), st.floats(5, 100), st.floats(-15, 30))
def test_a_surface_gains_water_exactly_below_the_condensation_point(air_c, rh, surface_c):
    rate = wetness.condensation_rate(air_c, rh, surface_c, 3.0)
    margin = surface_c - moist_air.condensation_point(air_c, rh)
    if abs(margin) > 0.02:  # rounding, and the 0.01 K between 0 °C and the triple point
        assert (rate > 0) == (margin < 0)


def test_a_film_dries_to_nothing_and_runs_off_when_full():
    hours = np.arange(0, 50, 1.0)
    film = wetness.film_series(hours, np.where(hours < 20, 10.0, -15.0))
    assert film.max() == 100.0
    assert film[-1] == 0.0
    assert film[5] == pytest.approx(50.0)


@given(
    st.lists(st.tuples(st.floats(0.05, 5.0), st.floats(-90.0, 90.0)), min_size=2, max_size=40),
    st.floats(0.0, 100.0),
)
def test_a_film_is_what_it_gained_step_by_step_between_dry_and_full(steps, start):
    hours = np.cumsum([step for step, _ in steps])
    rate = np.array([each for _, each in steps])
    water, expected = start, [start]
    for i in range(1, hours.size):  # the definition, one step after the other
        step = min(hours[i] - hours[i - 1], 2.0)
        water = min(max(water + 0.5 * (rate[i - 1] + rate[i]) * step, 0.0), 100.0)
        expected.append(water)
    np.testing.assert_allclose(wetness.film_series(hours, rate, start), expected, atol=1e-9)


@given(st.floats(100, 1500), st.floats(0, 1500), st.floats(0, 2), st.floats(0.1, 20))
def test_air_in_a_hull_lies_between_its_surroundings_and_saturation(around, more, water, changes):
    def inside(water, changes):
        return float(wetness.enclosed_vapour_pressure(around, around + more, water, changes))

    assert around <= inside(water, changes) <= around + more + 1e-9
    assert inside(0.0, changes) == around
    assert inside(water + 0.1, changes) >= inside(water, changes)
    assert inside(water, changes * 2.0) <= inside(water, changes)


@given(st.floats(0.1, 20.0), st.floats(0.01, 100.0))
def test_a_compartment_lets_no_more_water_in_than_its_air_change_brings(film, brought):
    share = float(wetness.share_let_in(film, brought))
    assert 0.0 < share < 1.0
    # Saturated metal takes at most all the vapour that is carried in: rate <= brought * density.
    free = float(wetness.condensation_rate(10.0, 100.0, -20.0, film))
    density_g_m3 = 9.4  # of water in saturated air at 10 °C (psychrometric tables)
    assert free * share <= brought * density_g_m3 * 1.03
    assert float(wetness.share_let_in(film, np.inf)) == 1.0


def test_evaporation_into_still_air_agrees_with_the_lewis_relation_of_the_film():
    # The same water by the condensation rate: 0.0243 g/m2/h/Pa for each W/m2/K, h = 3 W/m2/K,
    # against 9.4 m/h times the vapour's density (461.5 J/kg/K): 5 % for the air's temperature.
    by_film = wetness.condensation_rate(10.0, 100.0, 5.0, 3.0)
    pascals = moist_air.saturation_pressure_water(10.0) - moist_air.saturation_pressure_water(5.0)
    by_density = 9.4 * 1000.0 * pascals / (461.5 * 283.15)
    assert by_film == pytest.approx(float(by_density), rel=0.05)


def test_films_of_many_surfaces_go_side_by_side():
    hours = np.arange(0, 5, 1.0)
    rates = np.array([[10.0] * 5, [-1.0] * 5])
    film = wetness.film_series(hours, rates, [0.0, 3.0])
    np.testing.assert_allclose(film[:, -1], [40.0, 0.0])


def test_lewis_relation_agrees_with_properties_of_air():
    # Air of 12 °C and 85 % over metal of 4 °C, h 3.23: 28.1 g/m²/h with density, heat and
    # diffusivity of air at 8 °C from CoolProp and a handbook; ours is 6 % higher.
    assert wetness.condensation_rate(12.0, 85.0, 4.0, 3.23) == pytest.approx(28.1, rel=0.07)


def test_wetness_alone_allows_a_range_and_deposition_narrows_it():
    alone = corrosivity.category_of_wetness(3)
    clean = corrosivity.category_of_wetness(3, sulphur=0, chloride=0)
    assert alone == (2, 5)
    assert clean == (2, 3)
    with pytest.raises(ValueError, match="wetness class 6"):
        corrosivity.category_of_wetness(6)


@given(st.integers(1, 4), st.integers(0, 2), st.integers(0, 2))
def test_more_water_or_more_dirt_never_makes_a_milder_category(wet, sulphur, chloride):
    here = corrosivity.category_of_wetness(wet, sulphur, chloride)
    for worse in ((wet + 1, sulphur, chloride), (wet, sulphur + 1, chloride)):
        there = corrosivity.category_of_wetness(*worse)
        assert there[0] >= here[0]
        assert there[1] >= here[1]


def test_mould_needs_weeks_and_then_is_just_seen_under_a_microscope():
    # Hukka & Viitanen 1999: 20 °C and 90 % on pine, index 1 after 4.2 weeks.
    hours = np.arange(0, 4.3 * 168, 1.0)
    course = mould.mould_index_series(hours, np.full(hours.size, 20.0), np.full(hours.size, 90.0))
    reached = hours[course >= 1.0][0] / 168
    assert reached == pytest.approx(4.2, abs=0.1)  # slowing towards the ceiling adds a little


def test_mould_never_outgrows_its_ceiling_and_never_falls_below_clean():
    hours = np.arange(0, 3000, 2.0)
    damp = mould.mould_index_series(hours, np.full(hours.size, 20.0), np.full(hours.size, 90.0))
    assert damp.max() <= mould.index_ceiling(20.0, 90.0) + 1e-6
    dry = mould.mould_index_series(
        hours, np.full(hours.size, 20.0), np.full(hours.size, 40.0), start=0.1
    )
    assert dry.min() == 0.0


@pytest.mark.parametrize("temperature", [-5.0, 0.0, 55.0])
def test_nothing_grows_in_the_frost_or_the_heat(temperature):
    assert mould.growth_per_day(temperature, 99.0) == 0.0
    assert np.isinf(mould.weeks_to_first_growth(temperature, 99.0))


def test_missing_hours_hold_the_index():
    course = mould.mould_index_series(
        [0, 1, 2], [20.0, np.nan, 20.0], [90.0, 90.0, 90.0], start=1.0
    )
    assert course[2] == course[1] > course[0]


def test_resistant_surfaces_grow_slower():
    kinds = ["very sensitive", "sensitive", "medium resistant", "resistant"]
    rates = [float(mould.growth_per_day(20.0, 97.0, 0.0, kind)) for kind in kinds]
    assert rates == sorted(rates, reverse=True)
