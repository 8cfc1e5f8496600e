"""The US weather service's API: a place leads to its grid cell, and that to layers or periods.

Documented at https://www.weather.gov/documentation/services-web-api.
"""

from collections.abc import Iterator
from datetime import datetime
from urllib.parse import urlsplit

from monitor.errors import ForecastError
from monitor.intake.forecast.document import (
    Expected,
    expected_air,
    hours_of,
    member_at,
    rows_at,
    table_at,
    temperature_of,
    time_of,
)
from monitor.intake.forecast.settings import ForecastSettings, degrees_text


def place_address(settings: ForecastSettings) -> str:
    """What knows the grid cell of a place."""
    place = f"{degrees_text(settings.latitude)},{degrees_text(settings.longitude)}"
    return f"{settings.address}/points/{place}"


def links_of(document: object, address: str) -> tuple[str, str]:
    """Where the place's grid data and its hourly forecast are, in this order.

    Only the paths of the links are believed: whatever an answer says, no other host is asked
    in the yard's name.
    """
    found = [
        member_at(document, "properties", name) for name in ("forecastGridData", "forecastHourly")
    ]
    try:
        paths = [urlsplit(link).path if isinstance(link, str) else "" for link in found]
    except ValueError:  # as of a host in half a bracket
        paths = [""]
    if not all(path.startswith("/") for path in paths):
        raise ForecastError("the answer's links to the forecast are none")
    return f"{address}{paths[0]}", f"{address}{paths[1]}"


def expected_of(document: object) -> Expected:
    """Read grid data or an hourly forecast, whichever it is.

    Raises
    ------
    ForecastError
        If it is neither, or holds what cannot be.
    """
    properties = table_at(document, "properties")
    return _of_periods(properties) if "periods" in properties else _of_grid(properties)


def _of_grid(layers: dict[str, object]) -> Expected:
    return expected_air(
        time_of(member_at(layers, "updateTime")),
        _layer_values(layers, "temperature"),
        _layer_values(layers, "dewpoint") if layers.get("dewpoint") else (),
    )


def _layer_values(layers: dict[str, object], name: str) -> Iterator[tuple[datetime, float]]:
    unit = member_at(layers, name, "uom")
    for row in rows_at(layers, name, "values"):
        value = temperature_of(member_at(row, "value"), unit)
        for at in hours_of(member_at(row, "validTime")):
            yield at, value


def _of_periods(properties: dict[str, object]) -> Expected:
    issued = properties.get("updateTime") or member_at(properties, "generatedAt")
    periods = rows_at(properties, "periods")
    return expected_air(
        time_of(issued), _column_values(periods, "temperature"), _column_values(periods, "dewpoint")
    )


def _column_values(periods: list[dict[str, object]], name: str) -> Iterator[tuple[datetime, float]]:
    """A plain number with its unit beside it, or an object that carries both."""
    for period in periods:
        start = time_of(member_at(period, "startTime"))
        value = period.get(name)
        if isinstance(value, dict):
            yield start, temperature_of(member_at(value, "value"), value.get("unitCode"))
        else:
            yield start, temperature_of(value, period.get("temperatureUnit"))
