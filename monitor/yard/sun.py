"""Sunset and sunrise at the yard, and the dark hours that frost goes by."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone
from functools import lru_cache
from typing import NamedTuple
from zoneinfo import ZoneInfo

from monitor.yard.space import Yard


class Night(NamedTuple):
    """The night that begins on the evening of one date: both ends in UTC."""

    sunset: datetime
    sunrise: datetime

    @property
    def hours(self) -> float:
        """Length of the night [h]."""
        return (self.sunrise - self.sunset) / timedelta(hours=1)


def night_of(evening: date, latitude: float, longitude: float, zone: ZoneInfo) -> Night | None:
    """Sunset of one evening and sunrise of the morning after.

    Parameters
    ----------
    evening : date
        Date of the evening by the yard's clocks.
    latitude, longitude : float
        Degrees, north and east positive.
    zone : ZoneInfo
        The yard's zone.

    Returns
    -------
    Night or None
        None where the sun does not set or does not rise: no night to speak of, or no day.

    Notes
    -----
    Sun's centre at -0.833°; within 40 s of the NREL solar position algorithm through 2025.
    """
    from astral import Observer
    from astral.sun import sunrise, sunset

    # The library counts days in solar time here: in UTC or in the yard's zone a sunset near
    # midnight belongs to another date, and it then fails or finds the wrong evening.
    solar = timezone(timedelta(minutes=round(longitude * 4)))
    place = Observer(latitude=latitude, longitude=longitude)
    noon = datetime.combine(evening, time(12), tzinfo=zone).astimezone(solar)
    down = _first_after(noon, lambda day: sunset(place, date=day, tzinfo=solar))
    if down is None:
        return None
    up = _first_after(down, lambda day: sunrise(place, date=day, tzinfo=solar))
    return None if up is None else Night(down.astimezone(UTC), up.astimezone(UTC))


def _first_after(moment: datetime, event: Callable[[date], datetime]) -> datetime | None:
    """First of a daily event within a day after a moment; None if there is none."""
    found = []
    for days in (-1, 0, 1, 2):
        try:
            at = event(moment.date() + timedelta(days=days))
        except ValueError:  # the library's word for a sun that stays up or down
            continue
        if moment < at <= moment + timedelta(days=1):
            found.append(at)
    return min(found, default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class NightHours:
    """One night, named by its evening's date; times in UTC."""

    evening: date
    sunset: datetime
    sunrise: datetime

    @property
    def length_h(self) -> float:
        """Hours from sunset to sunrise."""
        return (self.sunrise - self.sunset) / timedelta(hours=1)


def night_hours_of(evening: date, yard: Yard) -> NightHours:
    """Sunset of an evening and the sunrise after it.

    Where the sun stays up or down, 18:00 to 06:00: frost comes by the clock even there.
    """
    return night_hours_at(evening, yard.latitude, yard.longitude, yard.zone)


@lru_cache(maxsize=1024)
def night_hours_at(evening: date, latitude: float, longitude: float, zone: ZoneInfo) -> NightHours:
    """Like `night_hours_of`, for a place."""
    found = night_of(evening, latitude, longitude, zone)
    if found is not None:
        return NightHours(evening=evening, sunset=found.sunset, sunrise=found.sunrise)
    morning = evening + timedelta(days=1)
    return NightHours(
        evening=evening,
        sunset=datetime.combine(evening, time(18), zone).astimezone(UTC),
        sunrise=datetime.combine(morning, time(6), zone).astimezone(UTC),
    )
