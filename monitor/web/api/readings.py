"""Readings and their hours as JSON, page by page: what each series told."""

import json
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Annotated, Any, Literal

from fastapi import APIRouter, HTTPException, Query, Request, Response
from pydantic import AwareDatetime, BaseModel, Field

from monitor.clock import from_ms, to_ms
from monitor.phrases.complaints import SENSOR
from monitor.reports.export_rows import reading_time
from monitor.store.transaction import Transaction
from monitor.units import json_number
from monitor.web.api.desk import ApiDesk, Since, Until, link_next_page, stretch_asked_for
from monitor.yard.hourly import HOUR_MS, HourlyTrace
from monitor.yard.reading import Channel

_LONGEST_OF_HOURS = timedelta(days=400)
_USUAL_HOURS = timedelta(days=7)
# The unit ends the name; what a share of a sensor's battery or of mains is has none.
_VALUE_KEY = {
    Channel.TEMPERATURE: "temperature_c",
    Channel.HUMIDITY: "rh_pct",
    Channel.VOLTAGE: "voltage_v",
    Channel.CURRENT: "current_a",
    Channel.CHARGE: "charge_pct",
    Channel.MAINS: "mains",
    Channel.SENSOR_BATTERY: "sensor_battery_pct",
}
_HOUR_UNIT = {Channel.TEMPERATURE: "c", Channel.HUMIDITY: "pct"}

SensorName = Annotated[str, Query(pattern=SENSOR, description="as /api/series lists it")]
Cursor = Annotated[
    str | None,
    Query(pattern=r"^[0-9]{1,13}$", description="from the Link to the next page; never made up"),
]


class ReadingOut(BaseModel):
    """One reading; of the values the one of its channel is there."""

    at: AwareDatetime
    flag: int = Field(description="QARTOD: 1 pass, 2 not evaluated, 3 suspect, 4 fail, 9 missing")
    temperature_c: float | None = None
    rh_pct: float | None = Field(default=None, description="over water")
    voltage_v: float | None = None
    current_a: float | None = None
    charge_pct: float | None = None
    mains: float | None = Field(default=None, description="1 while there is mains, else 0")
    sensor_battery_pct: float | None = None


class ReadingsPage(BaseModel):
    """Readings of one series in order of time."""

    sensor: str
    channel: Channel
    readings: list[ReadingOut]


class HourOut(BaseModel):
    """One hour; null where nothing is known. ``_c`` of temperature, ``_pct`` of humidity."""

    hour: AwareDatetime = Field(description="its beginning")
    readings: int
    seen: float = Field(description="share of the hour of which the value is known, 0 to 1")
    low_c: float | None = None
    mean_c: float | None = None
    high_c: float | None = None
    low_pct: float | None = None
    mean_pct: float | None = None
    high_pct: float | None = None
    frost_min: float | None = Field(default=None, description="minutes below 0 °C")
    frost_kh: float | None = Field(default=None, description="degree-hours below 0 °C")
    wet_min: float | None = Field(
        default=None, description="minutes above 80 % RH with the air above 0 °C (ISO 9223)"
    )


class HoursPage(BaseModel):
    """Hours of one series in order of time; those of which nothing is known are left out."""

    sensor: str
    channel: Channel
    hours: list[HourOut]


def reading_routes(desk: ApiDesk) -> APIRouter:
    """Make the routes of readings."""
    routes = APIRouter(prefix="/api", tags=["readings"])

    @routes.get("/readings", response_model=ReadingsPage)
    def read_readings(
        request: Request,
        sensor: SensorName,
        channel: Channel,
        since: Since = None,
        until: Until = None,
        limit: Annotated[int, Query(ge=1, le=5000)] = 500,
        cursor: Cursor = None,
    ) -> Response:
        """Tell readings of one series, the oldest first; without `since`, of one day.

        A reading that comes late, behind a page that was told, is not told in a later one.
        """
        asked = stretch_asked_for(since, until, desk.clock.now())
        begin_ms, end_ms = to_ms(asked.since), to_ms(asked.until)
        if cursor is not None:
            begin_ms = max(begin_ms, int(cursor) + 1)
        with desk.store.snapshot() as tx:
            series_id = _series_id(tx, sensor, channel)
            at_ms, steps, flags = tx.readings.steps_of_series(
                series_id, begin_ms, end_ms - 1, limit + 1
            )
        told = at_ms[:limit].tolist()
        rows = list(zip(told, steps.tolist(), flags.tolist(), strict=False))
        answer = _json_response(sensor, channel, "readings", _reading_rows(channel, rows))
        if len(at_ms) > limit:
            link_next_page(
                answer,
                request,
                since=asked.since.isoformat(),
                until=asked.until.isoformat(),
                cursor=told[-1],
            )
        return answer

    @routes.get("/rollups", response_model=HoursPage)
    def read_hours(
        request: Request,
        sensor: SensorName,
        channel: Literal[Channel.TEMPERATURE, Channel.HUMIDITY],
        since: Since = None,
        until: Until = None,
        limit: Annotated[
            int, Query(ge=1, le=744, description="hours of a page, known or not")
        ] = 168,
        cursor: Cursor = None,
    ) -> Response:
        """Tell one series hour by hour, the oldest first; without `since`, of one week.

        A page is a stretch of so many hours: it may hold fewer, or none, and yet not be the last.
        """
        asked = stretch_asked_for(
            since, until, desk.clock.now(), _USUAL_HOURS, longest=_LONGEST_OF_HOURS
        )
        begin_ms = _hour_on_or_after(to_ms(asked.since))
        end_ms = to_ms(asked.until)
        if cursor is not None:
            begin_ms = max(begin_ms, _hour_on_or_after(int(cursor)))
        page_end_ms = min(end_ms, begin_ms + limit * HOUR_MS)
        with desk.store.snapshot() as tx:
            _series_id(tx, sensor, channel)
            hours = tx.rollups.hours_between([sensor], begin_ms, page_end_ms)[sensor, channel]
        answer = _json_response(sensor, channel, "hours", _hour_rows(channel, hours))
        if page_end_ms < end_ms:
            link_next_page(
                answer,
                request,
                since=asked.since.isoformat(),
                until=asked.until.isoformat(),
                cursor=page_end_ms,
            )
        return answer

    return routes


def _series_id(tx: Transaction, sensor: str, channel: Channel) -> int:
    found = tx.series.series_of(sensor).get(channel)
    if found is None:
        raise HTTPException(
            404, f"sensor {sensor!r} has told no {channel}; /api/series lists what there is"
        )
    return found


def _hour_on_or_after(at_ms: int) -> int:
    return -(-at_ms // HOUR_MS) * HOUR_MS


def _reading_rows(
    channel: Channel, rows: Sequence[tuple[int, int, int]]
) -> list[dict[str, object]]:
    key, step = _VALUE_KEY[channel], channel.resolution
    places = len(f"{step:g}".partition(".")[2])
    return [
        {"at": reading_time(at_ms), key: round(value * step, places), "flag": flag}
        for at_ms, value, flag in rows
    ]


def _hour_rows(channel: Channel, hours: HourlyTrace) -> list[dict[str, object]]:
    unit = _HOUR_UNIT[channel]
    columns: dict[str, Any] = {
        f"low_{unit}": hours.low,
        f"mean_{unit}": hours.mean,
        f"high_{unit}": hours.high,
        "seen": hours.seen,
    }
    if channel is Channel.TEMPERATURE:
        columns |= {"frost_min": hours.frost_min, "frost_kh": hours.frost_kh}
    else:
        columns["wet_min"] = hours.wet_min
    return [
        {"hour": _hour_text(from_ms(int(at_ms))), "readings": int(count)}
        | {name: json_number(float(values[n]), 3) for name, values in columns.items()}
        for n, (at_ms, count) in enumerate(zip(hours.hour_ms, hours.readings, strict=True))
    ]


def _hour_text(at: datetime) -> str:
    return at.isoformat().replace("+00:00", "Z")


def _json_response(
    sensor: str, channel: Channel, key: str, rows: Sequence[dict[str, object]]
) -> Response:
    # Not through the models: they say what it looks like, and cost ten times the writing.
    content = json.dumps({"sensor": sensor, "channel": str(channel), key: rows})
    return Response(content, media_type="application/json")
