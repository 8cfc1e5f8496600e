"""Which sensors and channels there are, as JSON, page by page.

A series is one channel of one sensor; it is there once it has a reading, and stays when the sensor
leaves the yard's file.
"""

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, Field

from monitor.web.api.desk import ApiDesk, link_next_page
from monitor.yard.reading import Channel

_CURSOR = r"^[a-z_]{1,32}@[A-Za-z0-9][A-Za-z0-9\-:./_]{0,127}$"  # channel, and a sensor's name


class SeriesOut(BaseModel):
    """One channel of one sensor."""

    sensor: str
    channel: Channel
    unit: str = Field(description="of the values, in the SenML units registry (RFC 8428)")
    space: str | None = Field(description="null: the sensor is no longer in the yard's file")


class SeriesList(BaseModel):
    """Series that ever had a reading, in order of sensor and channel."""

    series: list[SeriesOut]


def series_routes(desk: ApiDesk) -> APIRouter:
    """Make the route."""
    routes = APIRouter(prefix="/api", tags=["readings"])
    spaces = {sensor.name: sensor.space for sensor in desk.yard.sensors}

    @routes.get("/series", response_model=SeriesList)
    def list_series(
        request: Request,
        response: Response,
        limit: Annotated[int, Query(ge=1, le=5000)] = 1000,
        cursor: Annotated[
            str | None, Query(pattern=_CURSOR, description="from the Link to the next page")
        ] = None,
    ) -> SeriesList:
        """Tell which sensors and channels there are."""
        channel, _, sensor = (cursor or "@").partition("@")
        with desk.store.snapshot() as tx:
            found = sorted(one for one in tx.series.known_series() if one > (sensor, channel))
        told = found[:limit]
        if len(found) > limit:
            last_sensor, last_channel = told[-1]
            link_next_page(response, request, cursor=f"{last_channel}@{last_sensor}")
        return SeriesList(
            series=[
                SeriesOut(sensor=one, channel=of, unit=of.senml_unit, space=spaces.get(one))
                for one, of in told
            ]
        )

    return routes
