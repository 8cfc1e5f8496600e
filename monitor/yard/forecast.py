"""What is said of the coming air: by a public agency for each hour, by this yard for a night."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import isfinite

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


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidNight:
    """One night of one space, named by its evening's date.

    Invariant: ``cold_c <= expected_c <= warm_c``, the 10, 50 and 90 % quantiles of the lowest
    air from ``said_at`` until the noon after.
    """

    space: str
    evening: date
    said_at: datetime
    air_c: float  # at that time
    cold_c: float
    expected_c: float
    warm_c: float
    below_zero: float | None = None  # chance of air below 0 °C; None: no chance was said
    low_c: float | None = None  # what the air came to; None: not over, or not read

    def __post_init__(self) -> None:
        if not self.cold_c <= self.expected_c <= self.warm_c:  # refuses NaN too
            raise ValueError(
                f"{self.space}, night of {self.evening}: quantiles {self.cold_c},"
                f" {self.expected_c} and {self.warm_c} °C must rise"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdAhead:
    """The coldest air that a space may come to, and who says so."""

    coldest_c: float  # -inf: nobody knows
    by_forecast: str = ""  # the agency that says so; empty: of tonight, by the yard's own readings

    @property
    def is_known(self) -> bool:
        """Whether anybody knows how cold it may get."""
        return isfinite(self.coldest_c)
