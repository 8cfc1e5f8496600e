"""From a message to readings of known sensors; what cannot be one gets a reason."""

from collections.abc import Iterable
from typing import NamedTuple

from monitor.errors import PayloadError
from monitor.intake.inbox import Message
from monitor.intake.quality import LIMITS, gross_range
from monitor.intake.senml import Record, decode_pack, is_pack
from monitor.intake.trust import TimePolicy
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Sensor

# SenML units that a channel is taken in, as (scale, offset) to the channel's own. "%" is SenML's
# old name of "/": a ratio, not a percentage (RFC 8428, table 6).
_UNITS: dict[Channel, dict[str | None, tuple[float, float]]] = {
    Channel.TEMPERATURE: {"Cel": (1.0, 0.0), "K": (1.0, -273.15)},
    Channel.HUMIDITY: {"%RH": (1.0, 0.0), "/": (100.0, 0.0)},
    Channel.VOLTAGE: {"V": (1.0, 0.0)},
    Channel.CURRENT: {"A": (1.0, 0.0)},
    Channel.CHARGE: {"%EL": (1.0, 0.0), "/": (100.0, 0.0)},
    Channel.MAINS: {"/": (1.0, 0.0), None: (1.0, 0.0)},
    Channel.SENSOR_BATTERY: {"%EL": (1.0, 0.0), "/": (100.0, 0.0)},
}
_MAX_REASONS = 3  # that are told of one message


class Series:
    """One channel of one sensor in one unit: how its numbers become what is stored."""

    __slots__ = ("channel", "limits", "offset", "scale", "sensor", "steps_per_unit")

    def __init__(self, sensor: Sensor, channel: Channel, scale: float, offset: float) -> None:
        self.sensor = sensor.name
        self.channel = channel
        self.scale = scale
        self.offset = offset
        self.limits = LIMITS[channel]
        self.steps_per_unit = 1 / channel.resolution


class Taken(NamedTuple):
    """One reading on its way to the store; value and raw in steps of the channel's resolution."""

    series: Series
    at_ms: int
    value: int
    raw: int | None
    flag: Flag


class Decoder:
    """Knows the yard's sensors, and reads messages with that."""

    def __init__(self, sensors: Iterable[Sensor], policy: TimePolicy) -> None:
        self._sensors = {sensor.name: sensor for sensor in sensors}
        self._policy = policy
        self._series: dict[tuple[str, str | None], Series] = {}

    def decode(self, message: Message) -> tuple[list[Taken], str]:
        """Read one message.

        Returns
        -------
        readings : list of Taken
            What could be used of it.
        reason : str
            Why the rest could not, or empty. Such a message is kept aside.
        """
        try:
            records = self._records(message)
        except PayloadError as error:
            return [], str(error)
        taken: list[Taken] = []
        reasons: list[str] = []
        for record in records:
            try:
                if record.value is not None or record.boolean is not None:
                    taken.append(self._take(record, message))
                elif record.text is None:
                    self._sensor_of(record.name)
            except PayloadError as error:
                if str(error) not in reasons:
                    reasons.append(str(error))
        return taken, "; ".join(reasons[:_MAX_REASONS])

    def _records(self, message: Message) -> list[Record]:
        if not message.payload:
            raise PayloadError("an empty message")
        if not is_pack(message.payload):
            raise PayloadError("neither a SenML pack nor a payload that a mapping describes")
        return decode_pack(message.payload, message.arrived_ms / 1000)

    def _take(self, record: Record, message: Message) -> Taken:
        series = self._series.get((record.name, record.unit))
        if series is None:
            series = self._new_series(record)
        number = float(record.boolean or False) if record.value is None else record.value
        value = number * series.scale + series.offset
        low, high = series.limits.possible
        if not low <= value <= high:
            raise PayloadError(
                f"{number:g} {record.unit or ''} is no {series.channel}", field=record.name
            )
        self._check_time(record, message)
        return Taken(
            series,
            round(record.at_s * 1000),
            round(value * series.steps_per_unit),
            None,
            gross_range(value, series.limits),
        )

    def _check_time(self, record: Record, message: Message) -> None:
        if record.relative and not message.live:
            raise PayloadError(
                "its time counts from when it was sent, and nobody knows how long it waited",
                field=record.name,
            )
        if not self._policy.compared:
            return
        ahead_s = record.at_s - message.arrived_ms / 1000
        if ahead_s > self._policy.ahead_s:
            raise PayloadError(f"its time is {ahead_s:.0f} s in the future", field=record.name)
        if -ahead_s > self._policy.behind_s:
            raise PayloadError(
                f"its time is {-ahead_s / 86400:.0f} days in the past", field=record.name
            )

    def _sensor_of(self, name: str) -> tuple[Sensor, str]:
        """Sensor and label that a record's name stands for."""
        if name in self._sensors:
            return self._sensors[name], ""
        cut = max(name.rfind(":"), name.rfind("/"))
        sensor = self._sensors.get(name[:cut]) if cut > 0 else None
        if sensor is None:
            raise PayloadError("no sensor of this yard", field=name)
        return sensor, name[cut + 1 :]

    def _new_series(self, record: Record) -> Series:
        sensor, label = self._sensor_of(record.name)
        channel = sensor.labels.get(label)
        if channel is None:
            try:
                channel = Channel(label)
            except ValueError as error:
                raise PayloadError(
                    f"{label!r} is no channel; name it under the sensor's labels",
                    field=record.name,
                ) from error
        units = _UNITS[channel]
        if record.unit not in units:
            raise PayloadError(
                f"unit {record.unit!r} does not fit {channel}; it is taken in"
                f" {' or '.join(str(unit) for unit in units if unit)}",
                field=record.name,
            )
        scale, offset = units[record.unit]
        series = Series(sensor, channel, scale, offset)
        self._series[record.name, record.unit] = series
        return series
