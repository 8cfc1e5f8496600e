"""Two agencies' documented shapes, read; and everything that is not of that shape, refused."""

import copy
import json
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.clock import to_ms
from monitor.errors import ForecastError
from monitor.intake.forecast import met_norway, us_weather_service
from monitor.intake.forecast.document import hours_of, parse_json, temperature_of, time_of
from monitor.intake.forecast.settings import Agency, ForecastSettings, degrees_text
from tests.tried import tried

# Own synthetic answers in the shapes that the agencies document: the API reference of the US
# weather service (properties of gridpoints and of hourly forecasts) and the data model of
# locationforecast 2.0. What each must expand to was worked out by hand beside them.
SAMPLES = json.loads((Path(__file__).parent / "samples.json").read_text(encoding="utf-8"))
READERS = {
    "gridpoint": us_weather_service.expected_of,
    "hourly_periods": us_weather_service.expected_of,
    "point_series": met_norway.expected_of,
}


def sample(name):
    return copy.deepcopy(SAMPLES[name]["response"])


@pytest.mark.parametrize("name", sorted(READERS))
def test_a_documented_answer_gives_the_hours_beside_it(name):
    found = READERS[name](sample(name))
    times = [to_ms(datetime.fromisoformat(at)) for at, _ in SAMPLES[name]["hourly"]]
    values = [np.nan if value is None else value for _, value in SAMPLES[name]["hourly"]]
    assert found.at_ms.tolist() == times
    # The samples round to hundredths.
    np.testing.assert_allclose(found.air_c, values, atol=0.005)


@pytest.mark.parametrize(
    ("name", "issued"),
    [
        ("gridpoint", datetime(2026, 1, 9, 20, 12, tzinfo=UTC)),
        ("hourly_periods", datetime(2026, 1, 9, 20, 30, tzinfo=UTC)),
        ("point_series", datetime(2026, 1, 9, 19, 40, tzinfo=UTC)),
    ],
)
def test_the_time_of_issue_is_the_agency_s_own(name, issued):
    assert READERS[name](sample(name)).issued == issued


def test_the_dew_point_of_a_grid_is_its_own_layer():
    document = sample("gridpoint")
    document["properties"]["dewpoint"] = {
        "uom": "wmoUnit:degF",
        "values": [{"validTime": "2026-01-09T20:00:00+00:00/PT2H", "value": 14}],
    }
    found = us_weather_service.expected_of(document)
    assert found.dew_point_c[:2] == pytest.approx([-10.0, -10.0])  # 14 °F, by definition
    assert np.isnan(found.dew_point_c[2:]).all()


def test_humidity_stands_in_for_a_dew_point():
    # At 1.2 °C and 71 % the Magnus formula over water (WMO-No. 8, annex 4.B) gives -3.5 °C.
    found = met_norway.expected_of(sample("point_series"))
    assert found.dew_point_c[0] == pytest.approx(-3.5, abs=0.1)


def test_a_stretch_that_comes_twice_counts_as_last_said():
    document = sample("gridpoint")
    document["properties"]["temperature"]["values"].append(
        {"validTime": "2026-01-09T21:00:00+00:00/PT1H", "value": -9.0}
    )
    found = us_weather_service.expected_of(document)
    assert found.air_c[1] == -9.0
    assert np.all(np.diff(found.at_ms) > 0)


@pytest.mark.parametrize(
    ("interval", "hours"),
    [
        ("2026-01-09T20:00:00+00:00/PT1H", 1),
        ("2026-01-09T20:00:00+00:00/P1DT2H", 26),
        ("2026-01-09T20:00:00Z/P1W", 168),
        ("2026-01-09T20:00:00+00:00/PT30M", 1),
        ("2026-01-09T20:00:00+00:00/PT90M", 2),
        ("2026-01-09T14:00:00-06:00/2026-01-09T23:00:00+00:00", 3),
    ],
)
def test_an_interval_holds_every_hour_that_begins_in_it(interval, hours):
    found = hours_of(interval)
    assert len(found) == hours
    assert found[0] == datetime(2026, 1, 9, 20, tzinfo=UTC)


@pytest.mark.parametrize(
    "interval",
    [
        "2026-01-09T20:00:00+00:00",
        "2026-01-09T20:00:00+00:00/",
        "2026-01-09T20:00:00+00:00/P",
        "2026-01-09T20:00:00+00:00/PT0H",
        "2026-01-09T20:00:00+00:00/P9999D",
        "2026-01-09T20:00:00/PT1H",
        "2026-01-09T20:00:00+00:00/2026-01-08T20:00:00+00:00",
        "9999-12-31T23:00:00-06:00/PT1H",
        None,
        7,
    ],
)
def test_what_is_no_interval_is_refused(interval):
    with pytest.raises(ForecastError):
        hours_of(interval)


@pytest.mark.parametrize(
    ("value", "unit", "celsius"),
    [(34, "F", 1.1111), (-40, "wmoUnit:degF", -40.0), (-1.5, "unit:degC", -1.5), (3, "celsius", 3)],
)
def test_temperatures_come_in_the_agency_s_unit(value, unit, celsius):
    assert temperature_of(value, unit) == pytest.approx(celsius, abs=1e-4)


@pytest.mark.parametrize(
    ("value", "unit"),
    [(273.15, "K"), (281, "C"), (-91, "C"), (True, "C"), ("4", "C"), (1, None), (10**400, "C")],
)
def test_what_is_no_temperature_of_air_is_refused(value, unit):
    with pytest.raises(ForecastError):
        temperature_of(value, unit)


def test_null_is_not_known_and_nothing_else():
    assert np.isnan(temperature_of(None, "C"))


@pytest.mark.parametrize("text", ["2026-01-09T20:00:00", "now", "", None, 1767988800])
def test_a_time_without_an_offset_names_no_moment(text):
    with pytest.raises(ForecastError):
        time_of(text)


@pytest.mark.parametrize("body", [b"", b"<html>", b'{"a": NaN}', b"\xff\xfe", b"[" * 100_000])
def test_what_is_no_json_is_refused(body):
    with pytest.raises(ForecastError, match="no JSON"):
        parse_json(body)


def test_only_nulls_are_no_forecast():
    document = sample("gridpoint")
    for row in document["properties"]["temperature"]["values"]:
        row["value"] = None
    with pytest.raises(ForecastError, match="no temperature"):
        us_weather_service.expected_of(document)


def places_in(document, path=()):
    yield path
    parts = document.items() if isinstance(document, dict) else ()
    parts = enumerate(document) if isinstance(document, list) else parts
    for key, value in parts:
        yield from places_in(value, (*path, key))


@pytest.mark.parametrize("name", sorted(READERS))
@given(data=st.data())
@settings(max_examples=tried(60), deadline=None)
def test_one_wrong_place_never_raises_anything_but_its_own_error(name, data):
    document = sample(name)
    place = data.draw(st.sampled_from(sorted(places_in(document), key=str)))
    wrong = data.draw(st.sampled_from([None, [], {}, "x", 1e9, True, [None], {"value": []}]))
    if not place:
        document = wrong
    else:
        here = document
        for step in place[:-1]:
            here = here[step]
        here[place[-1]] = wrong
    try:
        found = READERS[name](document)
    except ForecastError:
        return
    assert np.isfinite(found.air_c).any()
    assert np.all(np.diff(found.at_ms) > 0)


@pytest.mark.parametrize(
    ("value", "text"),
    [(44.977753, "44.9778"), (-93.265, "-93.265"), (45.0, "45"), (-0.00001, "0"), (100.0, "100")],
)
def test_a_place_has_at_most_four_decimals_and_no_trailing_zeros(value, text):
    assert degrees_text(value) == text


def test_links_keep_to_the_address_that_the_yard_chose():
    asked = ForecastSettings(
        agency=Agency.US_WEATHER_SERVICE, contact="a@b.example", latitude=45.0, longitude=-97.5
    )
    document = {
        "properties": {
            "forecastGridData": "https://elsewhere.example/gridpoints/MPX/107,71",
            "forecastHourly": "https://elsewhere.example/gridpoints/MPX/107,71/forecast/hourly",
        }
    }
    assert us_weather_service.place_address(asked).endswith("/points/45,-97.5")
    assert us_weather_service.links_of(document, "http://127.0.0.1:1/api") == (
        "http://127.0.0.1:1/api/gridpoints/MPX/107,71",
        "http://127.0.0.1:1/api/gridpoints/MPX/107,71/forecast/hourly",
    )
    with pytest.raises(ForecastError):
        us_weather_service.links_of({"properties": {}}, "http://127.0.0.1:1")
    # Found by tests.bench.fuzz: no address at all by its brackets.
    half = {"forecastGridData": "https://[half/a", "forecastHourly": "https://h/b"}
    with pytest.raises(ForecastError, match="are none"):
        us_weather_service.links_of({"properties": half}, "http://127.0.0.1:1")
