"""Sunset and sunrise against the solar position algorithm, on dates that trip libraries up."""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from pvlib.solarposition import spa_python

from monitor.yard.sun import night_of

PLACES = {
    "Minnesota": (45.0, -93.0, "America/Chicago"),
    "Alaska": (60.0, -165.0, "America/Anchorage"),  # sets after midnight by the clock in June
    "Finland": (60.0, 25.0, "Europe/Helsinki"),
    "New Zealand": (-45.0, 175.0, "Pacific/Auckland"),
}


@pytest.mark.parametrize("place", PLACES)
def test_every_evening_of_a_year_has_its_night_within_40_seconds_of_the_algorithm(place):
    latitude, longitude, zone = PLACES[place]
    days = [date(2025, 1, 1) + timedelta(days=n) for n in range(0, 365, 9)]
    nights = [night_of(day, latitude, longitude, ZoneInfo(zone)) for day in days]
    moments = pd.DatetimeIndex([at for night in nights for at in (night.sunset, night.sunrise)])
    now = spa_python(moments, latitude, longitude).elevation.to_numpy()
    later = spa_python(moments + pd.Timedelta("60s"), latitude, longitude).elevation.to_numpy()
    # NREL solar position algorithm (pvlib): seconds until its sun stands at -0.833°.
    seconds_off = 60 * (now + 0.833) / (later - now)
    assert abs(seconds_off).max() < 40
    for day, night in zip(days, nights, strict=True):
        noon = pd.Timestamp(day, tz=zone) + pd.Timedelta(hours=12)
        assert noon < night.sunset <= noon + pd.Timedelta(hours=16)
        assert 0 < night.hours < 24


def test_a_sun_that_stays_up_or_down_makes_no_night():
    zone = ZoneInfo("Europe/Oslo")
    assert night_of(date(2025, 6, 21), 70.0, 25.0, zone) is None
    assert night_of(date(2025, 12, 21), 70.0, 25.0, zone) is None
