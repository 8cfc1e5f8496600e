"""MET Norway's locationforecast 2.0: one answer, a series of moments whose step widens.

Documented at https://docs.api.met.no/doc/locationforecast/datamodel.
"""

from monitor.intake.forecast.document import (
    Expected,
    expected_air,
    member_at,
    rows_at,
    table_at,
    temperature_of,
    time_of,
)
from monitor.intake.forecast.settings import ForecastSettings, degrees_text
from monitor.physics.moist_air import dew_point


def forecast_address(settings: ForecastSettings) -> str:
    """Where a place's forecast is."""
    lat, lon = degrees_text(settings.latitude), degrees_text(settings.longitude)
    return f"{settings.address}/compact?lat={lat}&lon={lon}"


def expected_of(document: object) -> Expected:
    """Read a forecast; moments are taken as they come, hourly at first and then wider apart.

    Raises
    ------
    ForecastError
        If it is none, or holds what cannot be.
    """
    meta = member_at(document, "properties", "meta")
    unit = member_at(meta, "units", "air_temperature")
    moments = [
        (time_of(member_at(row, "time")), table_at(row, "data", "instant", "details"))
        for row in rows_at(document, "properties", "timeseries")
    ]
    air = [
        (at, temperature_of(member_at(details, "air_temperature"), unit)) for at, details in moments
    ]
    dew = [
        (at, _dew_point(details, air_c, unit))
        for (at, details), (_, air_c) in zip(moments, air, strict=True)
    ]
    return expected_air(time_of(member_at(meta, "updated_at")), air, dew)


def _dew_point(details: dict[str, object], air_c: float, unit: object) -> float:
    said = details.get("dew_point_temperature")
    if said is not None:
        return temperature_of(said, unit)
    humidity = details.get("relative_humidity")
    if isinstance(humidity, bool) or not isinstance(humidity, int | float):
        return float("nan")
    return float(dew_point(air_c, humidity)) if 0.0 < humidity <= 100.0 else float("nan")
