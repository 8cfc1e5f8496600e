"""The dark hours of one date at the yard, whatever the sun does there."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from monitor.yard.space import Yard
from monitor.yard.sun import night_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Dark:
    """One night, named by its evening's date; times in UTC."""

    evening: date
    sunset: datetime
    sunrise: datetime

    @property
    def length_h(self) -> float:
        """Hours from sunset to sunrise."""
        return (self.sunrise - self.sunset) / timedelta(hours=1)


def dark_of(evening: date, yard: Yard) -> Dark:
    """Sunset of an evening and the sunrise after it.

    Where the sun stays up or down, 18:00 to 06:00: frost comes by the clock even there.
    """
    return dark_at(evening, yard.latitude, yard.longitude, yard.zone)


@lru_cache(maxsize=1024)
def dark_at(evening: date, latitude: float, longitude: float, zone: ZoneInfo) -> Dark:
    """Like `dark_of`, for a place."""
    found = night_of(evening, latitude, longitude, zone)
    if found is not None:
        return Dark(evening=evening, sunset=found.sunset, sunrise=found.sunrise)
    morning = evening + timedelta(days=1)
    return Dark(
        evening=evening,
        sunset=datetime.combine(evening, time(18), zone).astimezone(UTC),
        sunrise=datetime.combine(morning, time(6), zone).astimezone(UTC),
    )
