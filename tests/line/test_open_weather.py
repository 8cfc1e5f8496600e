"""A January of a weather station, over a real broker: the dew points shown are the station's own.

Greensboro NC, typical meteorological year TMY3 of a US government laboratory, as pvlib ships it.
"""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx
import numpy as np
import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from monitor.clock import ReadingsClock, from_ms
from monitor.daemon.daemon import Daemon
from monitor.daemon.opening import open_store
from monitor.daemon.pace import Schedule
from monitor.intake.batch import BatchSummary
from monitor.settings.load import load_settings
from tests.line.connected import is_connected
from tests.outside.weather import WeatherYear, weather_years
from tests.real.need import wait_until

START = datetime(2026, 1, 1, tzinfo=UTC)
FIRST, HOURS = 240, 96  # four days from 11 January, with frost and thaw
SENSOR = "urn:dev:ops:station-screen"


@pytest.fixture
def yard(tmp_path: Path, broker) -> Path:
    file = tmp_path / "yard.toml"
    file.write_text(
        f"""
[yard]
id = "station"
name = "Station"
timezone = "America/New_York"
latitude = 36.1
longitude = -79.95
[broker]
port = {broker.port}
[web]
port = 0
access = "open"
[[spaces]]
id = "rack"
name = "Rack"
kind = "open"
[[sensors]]
name = "{SENSOR}"
space = "rack"
[[people]]
id = "ines"
name = "Ines Aldaz"
mail = "ines@station.example"
roles = ["operator"]
""",
        encoding="utf-8",
    )
    return file


@pytest.fixture
def publisher(broker) -> Iterator[mqtt.Client]:
    client = mqtt.Client(CallbackAPIVersion.VERSION2, "station")
    client.connect(broker.host, broker.port)
    client.loop_start()
    yield client
    client.loop_stop()
    client.disconnect()


def rounding_tolerance_k(air_c: np.ndarray, rh_pct: np.ndarray) -> np.ndarray:
    """How far the station's own columns may lie apart by their rounding.

    The station read air and dew point in whole degrees Fahrenheit or Celsius, so each may be
    half a kelvin off, and the relative humidity that was computed from them is off by both; it
    was then written in whole percent. By Magnus' formula (WMO-No. 8), dTd/dT at constant
    humidity is below 1, and dTd/dRH is taken at this hour.
    """
    gamma = np.log(rh_pct / 100) + 17.62 * air_c / (243.12 + air_c)
    slope = 243.12 * 17.62 / (17.62 - gamma) ** 2 / rh_pct
    return 0.5 + 0.5 + 0.5 * slope


def test_the_dew_points_shown_are_the_stations_own(yard, publisher):
    station = next(one for one in weather_years() if one.name.startswith("Greensboro"))
    settings = load_settings(yard)
    clock = ReadingsClock(START + timedelta(hours=FIRST))
    store = open_store(settings.store_url, settings.yard.id)

    def moved(batch: BatchSummary) -> None:
        if batch.newest_ms is not None:
            clock.advance_to(from_ms(batch.newest_ms))

    daemon = Daemon(
        settings, store, clock, pace=Schedule(round_gap_s=0.0, settle_s=0.0), on_batch=moved
    )
    daemon.start()
    shown = []
    try:
        wait_until(lambda: is_connected(daemon), 20, "the daemon to connect")
        for hour in range(FIRST, FIRST + HOURS):
            at = START + timedelta(hours=hour)
            publisher.publish("station/screen", pack(station, hour, at), 1).wait_for_publish(10)
            shown.append(dew_point_shown(daemon.page_address, at))
    finally:
        daemon.stop()
    hours = slice(FIRST, FIRST + HOURS)
    apart = np.abs(np.array(shown) - station.dew_point_c[hours])
    allowed = rounding_tolerance_k(station.air_c[hours], station.rh_pct[hours])
    damp = station.rh_pct[hours] >= 40  # drier, the station's own columns are rougher still
    assert damp.sum() > HOURS / 2
    assert station.air_c[hours].min() < 0 < station.air_c[hours].max()
    assert (apart[damp] <= allowed[damp]).all()
    # Errors of rounding fall to both sides: most hours agree far better than the worst.
    assert np.median(apart[damp]) < 0.25


def pack(station: WeatherYear, hour: int, at: datetime) -> str:
    records = [
        {"bn": f"{SENSOR}:", "bt": at.timestamp()},
        {"n": "temperature", "u": "Cel", "v": float(station.air_c[hour])},
        {"n": "humidity", "u": "%RH", "v": float(station.rh_pct[hour])},
    ]
    return json.dumps(records)


def dew_point_shown(page: str, at: datetime) -> float:
    """What the page's own JSON says, once the reading of that hour has been judged."""
    told: list[float] = []

    def judged() -> bool:
        told.extend(
            space["dew_point_c"]
            for space in httpx.get(f"{page}api/assess", timeout=10).json()["spaces"]
            if datetime.fromisoformat(space["judged_at"]) >= at and space["dew_point_c"] is not None
        )
        return bool(told)

    wait_until(judged, 20, f"the judgement of {at}")
    return told[-1]
