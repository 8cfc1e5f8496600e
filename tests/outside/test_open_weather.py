"""Dew point of every hour of four open weather years against the year's own column."""

import numpy as np
import pytest

from monitor.physics import moist_air
from tests.outside.weather import WeatherYear, weather_years


@pytest.fixture(scope="module", params=range(4), ids=lambda i: weather_years()[i].name)
def year(request) -> WeatherYear:
    return weather_years()[request.param]


def test_every_hour_has_a_dew_point_where_it_has_air_and_humidity(year):
    assert year.air_c.size > 8700
    computed = moist_air.dew_point(year.air_c, year.rh_pct)
    measured = (year.air_c >= -100.0) & (year.air_c <= 60.0)
    measured &= (year.rh_pct >= 0.0) & (year.rh_pct <= 100.0)
    assert np.array_equal(np.isfinite(computed), measured)


def test_every_hour_is_the_reported_one_within_what_rounding_can_do(year):
    # Greensboro and Newark give whole degrees in °C or °F and RH in whole per cent: propagated,
    # 1.5 K at 40 % RH. Sand Point and Denver give tenths: 0.25 K. Drier hours have no bound, and
    # seams between months of different years are no weather. In the real year 0.3 % of hours
    # are plainly bad rows, such as 27 °C and 93 % with a dew point of 20 °C.
    differences = year.differences()
    assert differences.size > 3000
    largest = 0.25 if year.over_ice else 1.5
    assert (differences > largest).mean() <= (0.003 if "2013" in year.name else 0.0)


def test_median_hour_agrees_within_its_last_digit(year):
    assert np.median(year.differences()) < 0.1


def test_below_zero_each_set_follows_the_rule_that_it_is_read_by(year):
    # Over water both columns: a set read by the wrong rule is 2 to 4 points of humidity off.
    judged = (year.air_c < -1.0) & (year.rh_pct >= 40.0) & ~year.at_seam
    air, dew = year.air_c[judged], year.dew_point_c[judged]
    ice = moist_air.saturation_pressure_ice
    by_ice = np.nanmedian(100 * ice(dew) / ice(air) - year.rh_pct[judged])
    by_water = np.nanmedian(moist_air.relative_humidity(air, dew) - year.rh_pct[judged])
    right, wrong = (by_ice, by_water) if year.over_ice else (by_water, by_ice)
    assert abs(right) < 0.25
    assert abs(wrong) > 2.0
