"""A season's air hour by hour: of each space read once, of a craft put together where it stood."""

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from functools import cached_property
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.clock import from_ms, to_ms
from monitor.physics.lag import lag_response
from monitor.reports.season.figures import BIN_K, COLD_LIMITS_C, AirStoodIn, Gap, Kept
from monitor.store.transaction import Transaction
from monitor.yard.hourly import HOUR_MS, HourlyTrace
from monitor.yard.reading import Channel
from monitor.yard.space import Mount, Yard

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)
_HEARD = 0.5  # an hour of which less is known is a gap
_GUESSED = 0.1  # share of an unknown start from which a body is not known
_DIGITS = 6  # sums of shares of hours carry the noise of floats


@dataclass(frozen=True, slots=True, kw_only=True)
class AirHours:
    """Air hour by hour, arrays of one length; NaN where nothing was read, and shares 0.

    Several sensors: of each hour the coldest, and the one that saw most of it below zero or wet.
    """

    low_c: Floats
    mean_c: Floats  # of the sensor whose mean was lowest
    high_c: Floats
    heard: Floats  # share of the hour
    humidity_heard: Floats
    both_heard: Floats  # by one sensor: without its temperature nobody knows whether damp wets
    frost_min: Floats  # below 0 °C
    frost_kh: Floats
    wet_min: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class AirAround:
    """Air around a craft hour by hour; NaN where nothing was read or it was not there."""

    low_c: Floats
    mean_c: Floats
    heard: Floats  # share of the hour


@dataclass(frozen=True, kw_only=True)
class Hours:
    """The hours of a season: where each begins, and what of it lies before the end."""

    begin_ms: Ints
    until_ms: int

    @classmethod
    def hours_between(cls, since: datetime, until: datetime) -> "Hours":
        """All hours of UTC that touch ``since <= at < until``."""
        first = to_ms(since) // HOUR_MS * HOUR_MS
        return cls(
            begin_ms=np.arange(first, to_ms(until), HOUR_MS, dtype=np.int64),
            until_ms=to_ms(until),
        )

    @cached_property
    def middle_ms(self) -> Ints:
        """The middle of each hour: where a craft stood then, it stood for the whole of it."""
        return self.begin_ms + HOUR_MS // 2

    @cached_property
    def length_h(self) -> Floats:
        """Length of each hour [h]: the last one may only have begun."""
        return np.minimum(self.until_ms - self.begin_ms, HOUR_MS) / HOUR_MS

    def slice_between(self, since: datetime, until: datetime) -> slice:
        """Hours whose middle lies in ``since <= at < until``."""
        middles = self._middles
        return slice(bisect_left(middles, to_ms(since)), bisect_left(middles, to_ms(until)))

    @cached_property
    def _middles(self) -> list[int]:
        return self.middle_ms.tolist()  # type: ignore[no-any-return]


class SeasonAir:
    """The air of a yard's spaces over one season; each space is read once, when first asked for.

    A sensor that was moved counts to each place for its time there. What ``left_out`` names, by a
    sensor's name stretches of ``since <= at < until``, counts as not heard.
    """

    def __init__(
        self,
        tx: Transaction,
        yard: Yard,
        hours: Hours,
        left_out: Mapping[str, Sequence[tuple[datetime, datetime]]] = MappingProxyType({}),
    ) -> None:
        self._tx, self._yard, self.hours, self._left_out = tx, yard, hours, left_out
        self._places = {one.name: one for one in (*yard.earlier_sensors, *yard.sensors)}
        self._spaces: dict[str, AirHours] = {}
        self._heard: dict[str, Floats] = {}  # by sensor: share of each hour
        self._bodies: dict[tuple[str, float], Floats] = {}
        self._stood_in: dict[tuple[str, tuple[tuple[int, int], ...]], AirStoodIn] = {}

    def of_space(self, space: str) -> AirHours:
        """The hours of one space; nothing is known of one that the yard's file does not have."""
        if space not in self._spaces:
            sensors = [
                name
                for name, one in self._places.items()
                if one.space == space and one.mount is Mount.AIR
            ]
            self._spaces[space] = self._read_space(sensors)
        return self._spaces[space]

    def of_stays(self, kept: Sequence[Kept]) -> AirAround:
        """The air around a craft: of each hour that of the space in which it stood."""
        size = self.hours.begin_ms.size
        around = AirAround(
            low_c=np.full(size, np.nan), mean_c=np.full(size, np.nan), heard=np.zeros(size)
        )
        for stay in kept:
            here, part = self.of_space(stay.space), self._part(stay)
            around.low_c[part] = here.low_c[part]
            around.mean_c[part] = here.mean_c[part]
            around.heard[part] = here.heard[part]
        return around

    def air_stood_in(self, kept: Sequence[Kept]) -> tuple[AirStoodIn, ...]:
        """The air of each space over the hours in which a craft stood in it, in order of coming.

        Craft that came and went together share one sum.
        """
        found = []
        for space in dict.fromkeys(one.space for one in kept):
            parts = [self._part(one) for one in kept if one.space == space]
            key = (space, tuple((one.start, one.stop) for one in parts))
            if key not in self._stood_in:
                self._stood_in[key] = _stood_in(self.of_space(space), self.hours, space, parts)
            found.append(self._stood_in[key])
        return tuple(found)

    def body_c(self, kept: Sequence[Kept], around: AirAround, lag_h: float) -> Floats:
        """Lowest of each hour of a body that follows the air around a craft; NaN where unknown.

        It is not known until what it came with is nine tenths forgotten. In one space all along,
        bodies of one lag share one sum.
        """
        if len(kept) != 1:
            return self._follow(around.mean_c, lag_h)
        [stay] = kept
        known = self.known_hours(stay, lag_h)
        body = np.full(self.hours.begin_ms.size, np.nan)
        body[known] = self.body_of_space(stay.space, lag_h)[known]
        return body

    def body_of_space(self, space: str, lag_h: float) -> Floats:
        """Lowest of each hour of a body that stood in a space all season; NaN where unknown."""
        key = (space, lag_h)
        if key not in self._bodies:
            self._bodies[key] = self._follow(self.of_space(space).mean_c, lag_h)
        return self._bodies[key]

    def known_hours(self, stay: Kept, lag_h: float) -> slice:
        """The hours of a stay by which what a body came with is nine tenths forgotten."""
        part = self._part(stay)
        unknown = int(np.ceil(-np.log(_GUESSED) * lag_h)) if part.start else 0
        return slice(min(part.start + unknown, part.stop), part.stop)

    def probe_c(self, sensor: str) -> Floats:
        """Lowest reading of each hour of a sensor that touches metal."""
        hours = self._read([sensor])
        return self._laid_out(sensor, hours[sensor, Channel.TEMPERATURE], "low")

    def heard_h(self, sensor: str, kept: Sequence[Kept]) -> float:
        """Hours of some stays that one sensor was heard."""
        heard = self.heard_by(sensor)
        return float(sum(heard[self._part(stay)].sum() for stay in kept))

    def heard_by(self, sensor: str) -> Floats:
        """What of each hour one sensor was heard where it hung [h]."""
        if sensor not in self._heard:
            self._read_heard([sensor])
        return self._heard[sensor] * self.hours.length_h

    def is_placed(self, sensor: str) -> NDArray[np.bool_]:
        """The hours in which a sensor hung in its place, heard or not."""
        one = self._places[sensor]
        placed = np.ones(self.hours.begin_ms.size, dtype=np.bool_)
        if one.since is not None:
            placed &= self.hours.middle_ms >= to_ms(one.since)
        if one.until is not None:
            placed &= self.hours.middle_ms < to_ms(one.until)
        return placed

    def _part(self, stay: Kept) -> slice:
        return self.hours.slice_between(stay.since, stay.until)

    def _follow(self, air_c: Floats, lag_h: float) -> Floats:
        if air_c.size < 2:
            return np.full(air_c.shape, np.nan)
        hours = (self.hours.begin_ms - self.hours.begin_ms[0]) / HOUR_MS
        return lag_response(hours, air_c, lag_h).where_known(_GUESSED)

    def _read(self, sensors: Sequence[str]) -> dict[tuple[str, Channel], HourlyTrace]:
        begin = self.hours.begin_ms
        if not begin.size:
            return {}
        sent_as = {one: self._places[one].sent_as for one in sensors}
        read = self._tx.rollups.hours_between(
            sorted(set(sent_as.values())), int(begin[0]), int(begin[-1]) + HOUR_MS
        )
        return {
            (one, channel): read[sent, channel]
            for one, sent in sent_as.items()
            for channel in (Channel.TEMPERATURE, Channel.HUMIDITY)
        }

    def _read_heard(self, sensors: Sequence[str]) -> None:
        read = self._read(sensors)
        for one in sensors:
            trace = read.get((one, Channel.TEMPERATURE))
            self._heard[one] = (
                np.zeros(self.hours.begin_ms.size)
                if trace is None
                else np.nan_to_num(self._laid_out(one, trace, "seen"))
            )

    def _read_space(self, sensors: Sequence[str]) -> AirHours:
        found, read = _nothing(self.hours.begin_ms.size), self._read(sensors)
        if not read:
            return found
        for sensor in sensors:
            air, damp = (read[sensor, one] for one in (Channel.TEMPERATURE, Channel.HUMIDITY))
            heard, damp_heard = (
                np.nan_to_num(self._laid_out(sensor, one, "seen")) for one in (air, damp)
            )
            self._heard[sensor] = heard
            np.fmax(found.both_heard, np.fmin(heard, damp_heard), out=found.both_heard)
            for values, trace, name, worst in (
                (found.low_c, air, "low", np.fmin),
                (found.mean_c, air, "mean", np.fmin),
                (found.high_c, air, "high", np.fmax),
                (found.heard, air, "seen", np.fmax),
                (found.humidity_heard, damp, "seen", np.fmax),
                (found.frost_min, air, "frost_min", np.fmax),
                (found.frost_kh, air, "frost_kh", np.fmax),
                (found.wet_min, damp, "wet_min", np.fmax),
            ):
                worst(values, self._laid_out(sensor, trace, name), out=values)
        # The mean of an hour may lie below its lowest reading: it reaches into the hour before.
        np.fmin(found.low_c, found.mean_c, out=found.low_c)
        return found

    def _laid_out(self, sensor: str, trace: HourlyTrace, name: str) -> Floats:
        spread = np.full(self.hours.begin_ms.size, np.nan)
        spread[np.searchsorted(self.hours.begin_ms, trace.hour_ms)] = getattr(trace, name)
        spread[~self.is_placed(sensor)] = np.nan
        for since, until in self._left_out.get(sensor, ()):
            begin_ms = self.hours.begin_ms
            touched = (begin_ms + HOUR_MS > to_ms(since)) & (begin_ms < to_ms(until))
            spread[touched] = np.nan
        return spread


def gaps_of(air: SeasonAir, kept: Iterable[Kept]) -> tuple[Gap, ...]:
    """Hours in a row, in one space, of which less than half was heard."""
    found: list[Gap] = []
    for stay in kept:
        part = air.hours.slice_between(stay.since, stay.until)
        deaf = air.of_space(stay.space).heard[part] < _HEARD
        edges = np.flatnonzero(np.diff(np.concatenate(([0], deaf.astype(np.int8), [0]))))
        for first, after in zip(edges[::2], edges[1::2], strict=True):
            begins_ms = int(air.hours.begin_ms[part.start + first])
            ends_ms = begins_ms + int(after - first) * HOUR_MS
            since = max(from_ms(begins_ms), stay.since)
            until = min(from_ms(ends_ms), stay.until)
            if found and found[-1].space == stay.space and found[-1].until >= since:
                since = found.pop().since  # a change of berth ends no gap
            found.append(Gap(space=stay.space, since=since, until=until))
    return tuple(found)


def _stood_in(here: AirHours, hours: Hours, space: str, parts: Iterable[slice]) -> AirStoodIn:
    stood = np.zeros(hours.begin_ms.size, dtype=np.bool_)
    for part in parts:
        stood[part] = True
    heard_h = (here.heard * hours.length_h)[stood]
    mean_c = here.mean_c[stood]
    read = ~np.isnan(mean_c)
    below_h = {limit: _sum(heard_h[mean_c < limit]) for limit in COLD_LIMITS_C}
    below_h[0.0] = _sum(np.nan_to_num(here.frost_min[stood]) / 60.0)
    low = _extreme(here.low_c[stood], hours.begin_ms[stood], -1.0)
    high = _extreme(here.high_c[stood], hours.begin_ms[stood], 1.0)
    bins = np.floor(mean_c[read] / BIN_K) * BIN_K
    return AirStoodIn(
        space=space,
        stood_h=_sum(hours.length_h[stood]),
        heard_h=_sum(heard_h),
        humidity_heard_h=_sum((here.humidity_heard * hours.length_h)[stood]),
        low_c=low.value_c,
        low_at=low.at,
        high_c=high.value_c,
        high_at=high.at,
        below_h=below_h,
        frost_kh=_sum(np.nan_to_num(here.frost_kh[stood])),
        wet_h=_sum(np.nan_to_num(here.wet_min[stood]) / 60.0),
        quantiles_c={
            share: float(value)
            for share, value in zip(_QUANTILES, np.quantile(mean_c[read], _QUANTILES), strict=True)
        }
        if read.any()
        else {},
        hours_by_bin={float(one): _sum(heard_h[read][bins == one]) for one in np.unique(bins)},
    )


class _Found(NamedTuple):
    value_c: float | None
    at: datetime | None  # beginning of its hour


def _extreme(values_c: Floats, begin_ms: Ints, sign: float) -> _Found:
    """The highest (sign 1) or lowest (-1) of some hours, and when."""
    if np.isnan(values_c).all():
        return _Found(None, None)
    n = int(np.nanargmax(sign * values_c))
    return _Found(float(values_c[n]), from_ms(int(begin_ms[n])))


def _nothing(size: int) -> AirHours:
    unknown = ("low_c", "mean_c", "high_c")
    return AirHours(
        **{one.name: np.full(size, np.nan if one.name in unknown else 0.0)
           for one in fields(AirHours)}
    )  # fmt: skip


def _sum(values: Floats) -> float:
    return round(float(np.sum(values)), _DIGITS)
