"""The air of one space on an even grid that ends now: what its sensors said, the worst decides."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.clock import to_ms
from monitor.judgement.air.humidity_doubt import (
    Doubt,
    find_refused,
    sensor_humidity,
    withhold_doubted,
)
from monitor.judgement.air.stuck_thermometers import (
    AirRows,
    StuckThermometer,
    find_stuck,
    find_unfollowed,
    replace_stuck,
)
from monitor.physics.lag import GAP_H
from monitor.physics.moist_air import condensation_point, dew_point
from monitor.yard.facts import SensorFault
from monitor.yard.reading import Channel, Trace
from monitor.yard.space import Mount, Sensor, Space, Yard

Floats = NDArray[np.float64]
Traces = Mapping[tuple[str, Channel], Trace]

STEP_H = 1.0 / 6.0  # ten minutes: a pump or hose lags half an hour, three steps
PAST_H = 96.0  # today and three whole nights, and three lags of an iron block
MS_PER_H = 3_600_000.0

_PAST_HOURS = np.arange(-round(PAST_H / STEP_H), 1, dtype=np.float64) * STEP_H
_PAST_HOURS.flags.writeable = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SpaceAir:
    """What is known of one space's air up to now.

    All arrays lie on one grid of ``n`` steps; NaN where nobody knows. ``air_c`` is the coldest
    sensor's at each time: it decides what freezes.
    """

    space: Space
    now: datetime
    hours: Floats  # (n,) before now, so negative; the last is 0
    air_c: Floats  # (n,)
    warmest_c: Floats  # (n,)
    mean_c: Floats  # (n,) of all sensors
    coldest: str  # name of the sensor that reads coldest now; empty if none is heard
    rh_pct: Floats  # (n,)
    dew_point_c: Floats  # (n,)
    condensation_c: Floats  # (n,) dew point, or frost point below 0 °C
    bare_c: Floats  # (n,) of a bare dummy mass that hangs in the space; NaN without one
    doubts: Mapping[str, Doubt] = field(default_factory=dict)  # sensors whose humidity is withheld
    stuck: tuple[StuckThermometer, ...] = ()  # of them those that stay while the others fall
    unfollowed: bool = False  # heard are only such as stay, and nothing tells how far it fell

    @property
    def now_c(self) -> float:
        """Air temperature now [°C]; NaN when no sensor was heard for two hours."""
        return float(self.air_c[-1])

    @property
    def is_known(self) -> bool:
        """Whether a reading is fresh enough to judge by."""
        return bool(np.isfinite(self.air_c[-1]))


def past_hours() -> Floats:
    """The grid that ends now: hours before now. One for all, so it cannot be written to."""
    return _PAST_HOURS


def series_needed(yard: Yard) -> list[tuple[str, Channel]]:
    """Which series a round must read: all that the yard's sensors may send."""
    return list(
        dict.fromkeys(
            (sensor.sent_as, channel)
            for sensor in (*yard.sensors, *yard.earlier_sensors)
            for channel in sorted(set(sensor.labels.values()) or set(Channel))
        )
    )


def space_airs(
    spaces: Sequence[Space],
    sensors: Sequence[Sensor],
    traces: Traces,
    now: datetime,
    known_stuck: Iterable[StuckThermometer] = (),
) -> dict[str, SpaceAir]:
    """Bring the readings of spaces onto the grid.

    Parameters
    ----------
    spaces : sequence of Space
    sensors : sequence of Sensor
        The whole yard's; those that hang in a space's air are used.
    traces : mapping
        Readings by sensor and channel. Only usable flags count; order does not matter.
    now : datetime
        Aware; readings after it are not looked at.
    known_stuck : iterable of StuckThermometer
        Found before, and not to follow again since.

    Returns
    -------
    dict
        By space, in their order.
    """
    hours = past_hours()
    here = _by_space(spaces, (each for each in sensors if each.mount is Mount.AIR))
    bare = _by_space(
        spaces, (each for each in sensors if each.mount is Mount.SURFACE and each.craft is None)
    )

    rows = [_air_rows(space, here[space.id], traces, now) for space in spaces]
    stuck = find_stuck(rows, hours, to_ms(now), known_stuck)
    said = {each.space.id: each.said_c for each in rows}
    air = replace_stuck(rows, stuck, hours, to_ms(now))
    unfollowed = find_unfollowed(rows, stuck)
    coldest = {space: _extreme_of(each, np.fmin) for space, each in air.items()}
    warmest = {space: _extreme_of(each, np.fmax) for space, each in air.items()}
    humid = {
        space: _humidity_rows(of, traces, now, said[space], warmest[space], stuck)
        for space, of in here.items()
    }
    damp = _humidity_of_spaces({space: rows for space, (rows, _) in humid.items()}, said, warmest)
    return {
        space.id: SpaceAir(
            space=space,
            now=now,
            hours=hours,
            air_c=coldest[space.id],
            warmest_c=warmest[space.id],
            mean_c=_mean_known(air[space.id]),
            coldest=_coldest_now([each.name for each in here[space.id]], air[space.id]),
            rh_pct=damp[space.id].rh_pct,
            dew_point_c=damp[space.id].dew_point_c,
            condensation_c=damp[space.id].condensation_c,
            bare_c=_extreme_of(_temperature_rows(bare[space.id], traces, now), np.fmin),
            doubts=humid[space.id][1],
            stuck=tuple(one for one in stuck if one.space == space.id),
            unfollowed=space.id in unfollowed,
        )
        for space in spaces
    }


def _by_space(spaces: Sequence[Space], sensors: Iterable[Sensor]) -> dict[str, list[Sensor]]:
    """Sensors of each space; those of other spaces are left out."""
    found: dict[str, list[Sensor]] = {space.id: [] for space in spaces}
    for each in sensors:
        if each.space in found:
            found[each.space].append(each)
    return found


def _temperature_rows(sensors: Sequence[Sensor], traces: Traces, now: datetime) -> Floats:
    hours = past_hours()
    rows = [on_grid(traces.get((each.name, Channel.TEMPERATURE)), hours, now) for each in sensors]
    return np.array(rows).reshape(len(rows), hours.size)


def _air_rows(space: Space, sensors: Sequence[Sensor], traces: Traces, now: datetime) -> AirRows:
    """What the thermometers of a space say, until when each was read and in what steps."""
    said_c = _temperature_rows(sensors, traces, now)
    hours, read_c = past_hours(), said_c.copy()
    keys = [(each.name, Channel.TEMPERATURE) for each in sensors]
    for row, key in enumerate(keys):
        at_ms, _ = _usable_before(traces.get(key), now)
        if at_ms.size:
            read_c[row, hours > (int(at_ms.max()) - to_ms(now)) / MS_PER_H] = np.nan

    def step_of(row: int) -> float:  # looked up anew: the values of all would take megabytes
        _, value = _usable_before(traces.get(keys[row]), now)
        return _least_step(value)

    return AirRows(space, [each.name for each in sensors], said_c, read_c, step_of)


def _usable_before(
    trace: Trace | None, now: datetime
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Times and values that may be judged on and were read up to now."""
    if trace is None:
        return np.empty(0, np.int64), np.empty(0)
    usable = trace.usable()
    past = usable.at_ms <= to_ms(now)
    return usable.at_ms[past], usable.value[past]


def _least_step(values: Floats) -> float:
    """The least difference of two values; 0 of fewer than two."""
    apart = np.diff(np.unique(values))
    return float(apart.min()) if apart.size else 0.0


def _humidity_rows(
    sensors: Sequence[Sensor],
    traces: Traces,
    now: datetime,
    air_c: Floats,
    warmest_c: Floats,
    stuck: Sequence[StuckThermometer],
) -> tuple[Floats, dict[str, Doubt]]:
    """Humidity of a space's sensors, one row each, without what is in doubt; and that by name."""
    rows: list[Floats] = []
    doubts: dict[str, Doubt] = {}
    hours, by_name = past_hours(), {one.sensor: one for one in stuck}
    for each, own_c in zip(sensors, air_c, strict=True):
        trace = traces.get((each.name, Channel.HUMIDITY))
        beside_c = np.where(np.isfinite(own_c), own_c, warmest_c)
        row, doubt = sensor_humidity(on_grid(trace, hours, now), beside_c, trace, hours, to_ms(now))
        stays = by_name.get(each.name)
        worse = None if stays is None else _doubt_of(stays, now)
        worse = worse or find_refused(
            traces.get((each.name, Channel.TEMPERATURE)), hours, to_ms(now), SensorFault.AIR_REFUSED
        )
        # What hangs in one housing sticks together.
        rows.append(row if stays is None else withhold_doubted(row, worse, hours))
        if (worst := worse or doubt) is not None:
            doubts[each.name] = worst
    return np.array(rows).reshape(len(rows), hours.size), doubts


def _doubt_of(stuck: StuckThermometer, now: datetime) -> Doubt:
    return Doubt(
        SensorFault.STUCK,
        (to_ms(now) - stuck.since_ms) / MS_PER_H,
        other=stuck.other,
        usual_k=stuck.usual_k,
        apart_k=stuck.apart_k,
    )


def _coldest_now(names: Sequence[str], air_c: Floats) -> str:
    heard = np.isfinite(air_c[:, -1])
    return names[int(np.nanargmin(air_c[:, -1]))] if heard.any() else ""


def on_grid(trace: Trace | None, hours: Floats, now: datetime) -> Floats:
    """A trace's values at the grid's times.

    Straight between readings no more than two hours apart, the newest held for as long; NaN
    elsewhere, because what happened in a longer pause is not known.
    """
    if trace is None:
        return np.full(hours.size, np.nan)
    usable = trace.usable()
    at_ms, value, present = usable.at_ms, usable.value, to_ms(now)
    if not (at_ms[1:] >= at_ms[:-1]).all():
        order = np.argsort(at_ms, kind="stable")
        at_ms, value = at_ms[order], value[order]
    count = int(np.searchsorted(at_ms, present, side="right"))
    if not count:
        return np.full(hours.size, np.nan)
    grid_ms = present + np.rint(hours * MS_PER_H).astype(np.int64)
    after = np.searchsorted(at_ms[:count], grid_ms, side="right")
    # After the newest reading it is taken to hold, and the grid's own time for the next one.
    before, ahead = np.maximum(after - 1, 0), np.minimum(after, count - 1)
    before_ms = at_ms[before]
    next_ms = np.where(after < count, at_ms[ahead], grid_ms)
    since_ms, apart_ms = grid_ms - before_ms, next_ms - before_ms
    part = since_ms / np.maximum(apart_ms, 1)
    on: Floats = value[before] + np.where(after < count, part, 0.0) * (value[ahead] - value[before])
    unknown = (after == 0) | ((apart_ms > GAP_H * MS_PER_H) & (since_ms != 0))
    on[unknown] = np.nan
    return on


def _extreme_of(table: Floats, pick: np.ufunc) -> Floats:
    if not table.shape[0]:
        return np.full(table.shape[1], np.nan)
    edge: Floats = pick.reduce(table, axis=0)
    return edge


def _mean_known(table: Floats) -> Floats:
    known = np.isfinite(table).sum(axis=0)
    return np.where(known > 0, np.nansum(table, axis=0) / np.maximum(known, 1), np.nan)


class _Humidity(NamedTuple):
    rh_pct: Floats
    dew_point_c: Floats
    condensation_c: Floats


def _humidity_of_spaces(
    humidity: Mapping[str, Floats], air: Mapping[str, Floats], warmest: Mapping[str, Floats]
) -> dict[str, _Humidity]:
    """RH of the dampest sensor; dew and condensation point as the mean of all pairs.

    Air carries its water from corner to corner, and two sensors of ±3 % RH differ by half a
    kelvin of dew point: the worst of several would be their error, not the air. A humidity
    sensor without a thermometer is paired with the warmest.
    """
    # Of all spaces' sensors that tell humidity, one row each.
    told = {space: np.isfinite(each).any(axis=1) for space, each in humidity.items()}
    sane = {space: np.clip(each[told[space]], 0.0, 100.0) for space, each in humidity.items()}
    beside = [
        np.where(np.isfinite(own), own, warmest[space])
        for space, own in ((space, air[space][told[space]]) for space in humidity)
    ]
    rows = np.concatenate([*sane.values()])
    dews, points = (of(np.concatenate(beside), rows) for of in (dew_point, condensation_point))
    found = {}
    begin = 0
    for space, rh in sane.items():
        own = slice(begin, begin + rh.shape[0])
        begin = own.stop
        found[space] = _Humidity(
            _extreme_of(rh, np.fmax), _mean_known(dews[own]), _mean_known(points[own])
        )
    return found
