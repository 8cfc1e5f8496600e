"""The yard's sensors as intake sees them: which series a name and a unit stand for."""

from collections.abc import Iterable
from datetime import UTC, datetime
from functools import lru_cache

from paho.mqtt.client import topic_matches_sub

from monitor.clock import to_ms
from monitor.errors import PayloadError
from monitor.intake.quality import POSSIBLE, bounds_of
from monitor.intake.track import Track
from monitor.yard.calibration import Calibration
from monitor.yard.reading import Channel
from monitor.yard.space import Sensor

# The reason that a message is kept aside with, whose sensor is not taken in yet.
UNKNOWN_SENSOR = "no sensor of this yard"

# SenML units that a channel is taken in, as (scale, offset) to the channel's own. "%" is SenML's
# old name of "/": a ratio, not a percentage (RFC 8428, table 6).
UNITS: dict[Channel, dict[str | None, tuple[float, float]]] = {
    Channel.TEMPERATURE: {"Cel": (1.0, 0.0), "K": (1.0, -273.15)},
    Channel.HUMIDITY: {"%RH": (1.0, 0.0), "/": (100.0, 0.0)},
    Channel.VOLTAGE: {"V": (1.0, 0.0)},
    Channel.CURRENT: {"A": (1.0, 0.0)},
    Channel.CHARGE: {"%EL": (1.0, 0.0), "/": (100.0, 0.0)},
    Channel.MAINS: {"/": (1.0, 0.0), None: (1.0, 0.0)},
    Channel.SENSOR_BATTERY: {"%EL": (1.0, 0.0), "/": (100.0, 0.0)},
}


class Series:
    """One channel of one sensor, sent in one unit: how its numbers become what is stored."""

    __slots__ = (
        "_calibrations", "_per_step", "gain", "high", "low", "offset", "plain", "topic", "track",
    )  # fmt: skip

    def __init__(self, sensor: Sensor, track: Track, scale: float, offset: float) -> None:
        channel = track.channel
        self.track = track
        self.topic = sensor.topic
        self._per_step = round(1 / channel.resolution)
        self._calibrations = _in_order(sensor, channel)
        self.plain = not self._calibrations
        self.gain = scale * self._per_step  # from the unit it is sent in to steps
        self.offset = offset * self._per_step
        low, high = POSSIBLE[channel]
        self.low, self.high = (low - offset) / scale, (high - offset) / scale  # as it is sent

    def in_steps(self, number: float, at_ms: int) -> tuple[int, int | None]:
        """Value and raw value in steps of the channel's resolution; no raw where it is the same."""
        raw = number * self.gain + self.offset
        steps = round(raw)
        for since_ms, calibration in self._calibrations:
            if at_ms >= since_ms:
                value = round(calibration.gain * raw + calibration.offset * self._per_step)
                return value, None if value == steps else steps
        return steps, None


class Sensors:
    """All sensors of one yard, by the names of their records."""

    def __init__(self, sensors: Iterable[Sensor]) -> None:
        self._sensors = {sensor.name: sensor for sensor in sensors}
        self._tracks: dict[tuple[str, Channel], Track] = {}
        # Only what is known is remembered here, so it cannot grow without bound.
        self.known: dict[tuple[str, str | None], Series] = {}

    def forget_store(self) -> None:
        """Forget what is known of the store: a transaction has failed."""
        for track in self._tracks.values():
            track.forget_state()
            track.series_id = 0
            track.kept_update_s = None

    def sensor_of(self, name: str) -> tuple[Sensor, str]:
        """Sensor and label that a record's name stands for; the label is the name's last part.

        Raises
        ------
        PayloadError
            If the yard has no such sensor.
        """
        if name in self._sensors:
            return self._sensors[name], ""
        cut = max(name.rfind(":"), name.rfind("/"))
        sensor = self._sensors.get(name[:cut]) if cut > 0 else None
        if sensor is None:
            raise PayloadError(UNKNOWN_SENSOR, field=name)
        return sensor, name[cut + 1 :]

    def series_of(self, name: str, unit: str | None) -> Series:
        """Series that a record's name and unit stand for.

        Raises
        ------
        PayloadError
            If the sensor or its label is not known, or the unit does not fit.
        """
        sensor, label = self.sensor_of(name)
        channel = sensor.labels.get(label) or _channel_of(label, unit)
        if channel is None:
            raise PayloadError(
                f"{label!r} is no channel; say under the sensor's labels which it is", field=name
            )
        units = UNITS[channel]
        if unit not in units:
            taken = " or ".join(known for known in units if known)
            raise PayloadError(
                f"unit {unit!r} does not fit {channel}; it is taken in {taken}", field=name
            )
        key = (sensor.name, channel)
        if key not in self._tracks:
            bounds = bounds_of(channel, sensor.limits.get(channel))
            self._tracks[key] = Track(sensor.name, channel, bounds)
        series = Series(sensor, self._tracks[key], *units[unit])
        self.known[name, unit] = series
        return series


@lru_cache(maxsize=4096)
def is_own_topic(topic_filter: str, topic: str) -> bool:
    """Whether a topic is one that a sensor's readings are believed on."""
    return not topic_filter or topic_matches_sub(topic_filter, topic)


def _channel_of(label: str, unit: str | None) -> Channel | None:
    if label:
        return Channel(label) if label in Channel.__members__.values() else None
    # A name without a label: some units belong to one channel only.
    return {"Cel": Channel.TEMPERATURE, "K": Channel.TEMPERATURE, "%RH": Channel.HUMIDITY}.get(
        unit or ""
    )


def _in_order(sensor: Sensor, channel: Channel) -> list[tuple[int, Calibration]]:
    """Calibrations of one channel with the time from which each holds, the newest first."""
    dated = [
        (to_ms(datetime(one.made_on.year, one.made_on.month, one.made_on.day, tzinfo=UTC)), one)
        for one in sensor.calibrations
        if one.channel is channel
    ]
    return sorted(dated, key=lambda pair: pair[0], reverse=True)
