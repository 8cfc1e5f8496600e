"""What a public agency expects of the air outdoors, hour by hour, and how asking it went."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

STALE_AFTER = timedelta(hours=12)  # an agency's models run two to four times a day


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicForecast:
    """One issue of an agency's forecast. Times are UTC milliseconds since 1970, rising."""

    source: str
    issued: datetime  # as the agency says
    fetched: datetime  # when this yard first knew it: nothing was forecast by it before
    at_ms: NDArray[np.int64]  # (n,)
    air_c: NDArray[np.float64]  # (n,)
    dew_point_c: NDArray[np.float64]  # (n,) NaN where the agency does not say

    def __post_init__(self) -> None:
        if not self.at_ms.shape == self.air_c.shape == self.dew_point_c.shape:
            raise ValueError(f"{self.source}: a forecast's columns must be of one length")
        if np.any(np.diff(self.at_ms) <= 0):
            raise ValueError(f"{self.source}: a forecast's times must rise")


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastAsking:
    """How asking one source went: all that must outlive a restart, so that it stays polite."""

    source: str
    place: str = ""  # the address that was asked; another one means another place or agency
    confirmed: datetime | None = None  # the forecast at hand was last said to be the newest
    not_before: datetime | None = None  # never ask before then
    last_modified: str = ""  # the agency's own words, for If-Modified-Since
    links: tuple[str, ...] = ()  # where the agency said that this place's forecast is
    links_until: datetime | None = None
    failures: int = 0  # in a row
    problem: str = ""  # why the last attempt failed; empty if it did not

    def age(self, now: datetime) -> timedelta | None:
        """How long ago the forecast at hand was the newest; None where there is none."""
        return None if self.confirmed is None else now - self.confirmed

    def stale(self, now: datetime) -> bool:
        """Whether the forecast at hand is too old to be told without a warning."""
        age = self.age(now)
        return age is None or age > STALE_AFTER
