"""Sensors as they are: noise, bias, drift, steps, silence, wrong clocks; SenML packs out.

A sensor looks at the simulated world, spoils what it sees in its own way and packs it as SenML
JSON (RFC 8428). Each has a small delay of its own, so that a yard's packs do not fall together.
"""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.air import relative_humidity
from simulator.yard import View

Array = NDArray[np.float64]
Look = Callable[[View], Sequence[Array]]

_WET_PCT = 98.8  # what a capacitive head says when water stands on it
_BACKLOG = 400  # readings that a logger can hold


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One quantity of a sensor and how it is spoilt."""

    label: str
    unit: str  # SenML units registry: Cel, %RH, V, A, /
    noise: float = 0.0
    bias: float = 0.0
    drift_day: float = 0.0
    resolution: float = 0.01
    low: float = -1e9
    high: float = 1e9


@dataclass(frozen=True, slots=True)
class Outage:
    """A stretch in which a sensor sends nothing [Unix s]; a logger sends it all afterwards."""

    start_s: float
    end_s: float
    logged: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorSpec:
    """One device."""

    id: str
    base_name: str  # with its trailing separator
    topic: str
    channels: tuple[Channel, ...]
    look: Look
    outages: tuple[Outage, ...] = ()
    wet_spells: tuple[Outage, ...] = ()  # its humidity head is wet or iced: saturation, and noise
    every_s: float = 0.0  # it speaks no oftener; 0: at each look
    lost_share: float = 0.0  # of single packs that never leave
    clock_off_s: float = 0.0
    clock_drift_s_day: float = 0.0
    delay_s: float = 0.0
    update_s: float = 600.0  # SenML ut: the longest time until the next reading


@dataclass(frozen=True, slots=True)
class Message:
    """One publication."""

    at_s: float
    topic: str
    payload: bytes


class Sensor:
    """A device with its memory: random stream, drift, and what it has logged."""

    def __init__(self, spec: SensorSpec, start_s: float, seed: int) -> None:
        self.spec = spec
        self._start_s = start_s
        self._rng = np.random.default_rng([seed, *spec.id.encode()])
        self._logged: list[tuple[float, list[float]]] = []
        self._spoke_s = -1e12

    def sample(self, view: View, at_s: float) -> Message | None:
        """Look once; returns what is sent, if anything is."""
        spec = self.spec
        days = (at_s - self._start_s) / 86400.0
        values = [
            float(_spoil(np.asarray(value), channel, np.asarray(days), self._rng))
            for value, channel in zip(spec.look(view), spec.channels, strict=True)
        ]
        if any(spell.start_s <= at_s < spell.end_s for spell in spec.wet_spells):
            values = [
                _WET_PCT + float(self._rng.uniform(-1.0, 1.0)) if each.label == "humidity" else one
                for one, each in zip(values, spec.channels, strict=True)
            ]
        lost = self._rng.random() < spec.lost_share
        if at_s - self._spoke_s < spec.every_s:
            return None
        self._spoke_s = at_s
        sent_s = at_s + spec.delay_s
        stamp_s = sent_s + spec.clock_off_s + spec.clock_drift_s_day * days
        for outage in spec.outages:
            if outage.start_s <= at_s < outage.end_s:
                if outage.logged:
                    self._logged.append((stamp_s, values))
                return None
        if lost:
            return None
        backlog, self._logged = [*self._logged[-_BACKLOG:], (stamp_s, values)], []
        return Message(sent_s, spec.topic, pack(spec, backlog))


def trace(
    spec: SensorSpec, history: View, at_s: Array, seed: int
) -> tuple[Array, tuple[Array, ...]]:
    """What a sensor says over a whole history at once: its times [Unix s] and its channels.

    The same faults as `Sensor`, drawn from a stream of its own; no wire and no packs.
    """
    rng = np.random.default_rng([seed, 1, *spec.id.encode()])
    days = (at_s - at_s[0]) / 86400.0
    values = [
        _spoil(value, channel, days, rng)
        for value, channel in zip(spec.look(history), spec.channels, strict=True)
    ]
    for spell in spec.wet_spells:
        wet = (spell.start_s <= at_s) & (at_s < spell.end_s)
        for value, channel in zip(values, spec.channels, strict=True):
            if channel.label == "humidity":
                value[wet] = np.round(_WET_PCT + rng.uniform(-1.0, 1.0, int(wet.sum())), 1)
    heard = rng.random(len(at_s)) >= spec.lost_share
    if spec.every_s:
        # The looks are evenly apart: every so many of them.
        step = max(round(spec.every_s / float(at_s[1] - at_s[0])), 1)
        heard &= np.arange(len(at_s)) % step == 0
    for outage in spec.outages:
        if not outage.logged:
            heard &= ~((outage.start_s <= at_s) & (at_s < outage.end_s))
    stamp_s = at_s + spec.delay_s + spec.clock_off_s + spec.clock_drift_s_day * days
    return stamp_s[heard], tuple(value[heard] for value in values)


def _spoil(value: Array, channel: Channel, days: Array, rng: np.random.Generator) -> Array:
    seen = value + channel.bias + channel.drift_day * days
    if channel.noise:
        seen = seen + channel.noise * rng.normal(size=np.shape(value) or None)
    steps = np.rint(np.clip(seen, channel.low, channel.high) / channel.resolution)
    # Rounded again so that a hundred steps of 0.01 print as 1.0.
    return np.round(steps * channel.resolution, 6) + 0.0


def pack(spec: SensorSpec, samples: Sequence[tuple[float, Sequence[float]]]) -> bytes:
    """Write samples of one device as one SenML JSON pack; several carry relative times."""
    base_s = round(samples[-1][0], 3)
    records: list[dict[str, str | float]] = []
    for stamp_s, values in samples:
        for channel, value in zip(spec.channels, values, strict=True):
            record: dict[str, str | float] = {}
            if not records:
                record = {"bn": spec.base_name, "bt": base_s}
            record |= {"n": channel.label, "u": channel.unit, "v": value}
            offset = round(stamp_s - base_s, 3)
            if offset:
                record["t"] = offset
            record["ut"] = spec.update_s
            records.append(record)
    return json.dumps(records, separators=(",", ":")).encode()


def air_sensor(
    id_: str,
    base_name: str,
    topic: str,
    space: int,
    *,
    corner: float = 0.0,
    noise_c: float = 0.05,
    noise_pct: float = 0.4,
    bias_c: float = 0.0,
    bias_pct: float = 0.0,
    drift_pct_day: float = 0.0,
    resolution_c: float = 0.01,
    **ways: object,
) -> SensorSpec:
    """Temperature and RH of a space's air.

    ``corner`` is the share of the way from the space's air to what is outside it at which the
    sensor stands: 0 in the middle, 0.15 by a cold wall. The vapour is the same everywhere.
    """

    def look(view: View) -> tuple[Array, Array]:
        air = view.air_c[..., space]
        here = air + corner * (view.beyond_c[..., space] - air)
        return here, relative_humidity(view.vapour[..., space], here)

    channels = (
        Channel(
            label="temperature", unit="Cel", noise=noise_c, bias=bias_c, resolution=resolution_c
        ),
        Channel(
            label="humidity",
            unit="%RH",
            noise=noise_pct,
            bias=bias_pct,
            drift_day=drift_pct_day,
            resolution=0.1,
            low=0.0,
            high=100.0,
        ),
    )
    return _spec(id_, base_name, topic, channels, look, ways)


def metal_sensor(id_: str, base_name: str, topic: str, space: int, **ways: object) -> SensorSpec:
    """A surface probe on a dummy of bare metal."""

    def look(view: View) -> tuple[Array]:
        return (view.probe_c[..., space],)

    channels = (Channel(label="temperature", unit="Cel", noise=0.05),)
    return _spec(id_, base_name, topic, channels, look, ways)


def maintainer(id_: str, base_name: str, topic: str, battery: int, **ways: object) -> SensorSpec:
    """A battery maintainer that tells voltage, current and whether it has mains."""

    def look(view: View) -> tuple[Array, Array, Array]:
        return (
            view.voltage_v[..., battery],
            view.current_a[..., battery],
            view.mains[..., battery],
        )

    channels = (
        Channel(label="voltage", unit="V", noise=0.004),
        Channel(label="current", unit="A", noise=0.0001, resolution=0.001, low=0.0),
        Channel(label="mains", unit="/", resolution=1.0),
    )
    return _spec(id_, base_name, topic, channels, look, ways)


def _spec(
    id_: str,
    base_name: str,
    topic: str,
    channels: tuple[Channel, ...],
    look: Look,
    ways: dict[str, object],
) -> SensorSpec:
    return SensorSpec(
        id=id_,
        base_name=base_name,
        topic=topic,
        channels=channels,
        look=look,
        **ways,  # type: ignore[arg-type]
    )
