"""Sensors that send and that the yard does not know, read off what intake keeps aside."""

from collections.abc import Iterable, Sequence
from contextlib import suppress
from datetime import datetime, timedelta

from monitor.clock import to_ms
from monitor.errors import PayloadError
from monitor.intake.decode import Decoder
from monitor.intake.inbox import ArrivedMessage
from monitor.intake.mapping import Mapping as PayloadMapping
from monitor.intake.senml import Record
from monitor.intake.sensors import UNITS, UNKNOWN_SENSOR
from monitor.intake.trust import TimePolicy
from monitor.store.aside import AsideRow
from monitor.web.pages.yard_desk import HeardSensor
from monitor.yard.reading import Channel

_OWN_CLOCK_S = 3600.0  # a time further before its arrival is a backlog's, or a wrong clock's
_MOST = 200  # sensors: whoever has more writes them into the file
# Units that belong to one channel alone say what a sensor's own label stands for.
_BY_UNIT = {
    unit: next(iter(channels))
    for unit in {unit for units in UNITS.values() for unit in units if unit}
    if len(channels := {channel for channel, units in UNITS.items() if unit in units}) == 1
}


def heard_unknown(
    rows: Iterable[AsideRow], mappings: Sequence[PayloadMapping], known: Iterable[str], yard: str
) -> list[HeardSensor]:
    """The sensors that messages kept aside came from.

    Parameters
    ----------
    rows : iterable of AsideRow
        The latest first.
    mappings : sequence of Mapping
        How payloads that are no SenML are read.
    known : iterable of str
        Names of the yard's own sensors.
    yard : str
        The yard's id.

    Returns
    -------
    list of HeardSensor
        The latest heard first, with the values of its latest message.
    """
    mine, found = set(known), dict[str, HeardSensor]()
    for row, records in _latest_first(rows, mappings):
        for name, of_it in _by_sensor(records).items():
            if name in mine:
                continue
            if name in found or len(found) < _MOST:
                found[name] = _heard(name, row, of_it, found.get(name), yard)
    return list(found.values())


def _latest_first(
    rows: Iterable[AsideRow], mappings: Sequence[PayloadMapping]
) -> list[tuple[AsideRow, Sequence[Record]]]:
    """Messages of unknown sensors, with records; what was sent at once by its own times."""
    decoder = Decoder([], TimePolicy(behind_s=float("inf")), mappings)
    read: list[tuple[AsideRow, Sequence[Record]]] = []
    for row in rows:
        if UNKNOWN_SENSOR not in row.reason:
            continue
        message = ArrivedMessage(row.topic, row.payload, to_ms(row.last_at), False, 0, 0, 0)
        with suppress(PayloadError):
            read.append((row, decoder.read_records(message)))

    def times_of(one: tuple[AsideRow, Sequence[Record]]) -> tuple[datetime, float]:
        return one[0].last_at, max((record.at_s for record in one[1]), default=0.0)

    return sorted(read, key=times_of, reverse=True)


def _heard(
    name: str, row: AsideRow, records: Sequence[Record], later: HeardSensor | None, yard: str
) -> HeardSensor:
    """A sensor with what one more of its messages tells; what a later one told stays."""
    values: dict[str, float] = {} if later is None else dict(later.values)
    times = [] if later is None else [later.read_at]
    labels: dict[str, str] = {} if later is None else dict(later.labels)
    for record in records:
        label = record.name.removeprefix(name)[1:]
        channel = _channel_of(label, record.unit)
        if channel is None or record.value is None:
            continue
        if label and label not in Channel.__members__.values():
            labels[label] = str(channel)
        scale, offset = UNITS[channel].get(record.unit, (1.0, 0.0))
        if later is None:
            times.append(_time_read(record, row.last_at))
        values.setdefault(str(channel), record.value * scale + offset)
    return HeardSensor(
        name=name,
        topic=row.topic if later is None else later.topic,
        own_topic=_own_topic(row.topic, yard) if later is None else later.own_topic,
        first_at=row.first_at if later is None else min(later.first_at, row.first_at),
        last_at=row.last_at if later is None else later.last_at,
        values=tuple(values.items()),
        read_at=min(times, default=row.last_at),
        labels=labels,
    )


def _time_read(record: Record, arrived_at: datetime) -> datetime:
    """When a value was read, where a sensor's own clock is near enough to be believed."""
    behind_s = arrived_at.timestamp() - record.at_s
    return arrived_at - timedelta(seconds=behind_s) if 0 <= behind_s <= _OWN_CLOCK_S else arrived_at


def _own_topic(topic: str, yard: str) -> str:
    """The topics on which alone a sensor is believed once it is taken in.

    Under the yard's own id the broker lets each of its users send below one name; elsewhere it is
    the very topic.
    """
    parts = topic.split("/")
    return f"{parts[0]}/{parts[1]}/#" if parts[0] == yard and len(parts) > 1 else topic


def _by_sensor(records: Iterable[Record]) -> dict[str, list[Record]]:
    found: dict[str, list[Record]] = {}
    for record in records:
        found.setdefault(_sensor_of(record), []).append(record)
    return found


def _sensor_of(record: Record) -> str:
    """The name without its last part, where that is a label: a word of ours, or of one unit."""
    cut = max(record.name.rfind(":"), record.name.rfind("/"))
    label = record.name[cut + 1 :]
    if cut > 0 and (label in Channel.__members__.values() or record.unit in _BY_UNIT):
        return record.name[:cut]
    return record.name


def _channel_of(label: str, unit: str | None) -> Channel | None:
    if label in Channel.__members__.values():
        return Channel(label)
    return _BY_UNIT.get(unit or "")
