"""Sensors that send and that the yard does not know, read off what intake keeps aside."""

from collections.abc import Iterable, Sequence

from monitor.clock import to_ms
from monitor.errors import PayloadError
from monitor.intake.decode import Decoder
from monitor.intake.inbox import ArrivedMessage
from monitor.intake.mapping import Mapping as PayloadMapping
from monitor.intake.senml import Record
from monitor.intake.sensors import UNITS
from monitor.intake.trust import TimePolicy
from monitor.store.aside import AsideRow
from monitor.web.pages.yard_desk import HeardSensor
from monitor.yard.reading import Channel

_UNKNOWN = "no sensor of this yard"
_MOST = 200  # sensors: whoever has more writes them into the file
# Units that belong to one channel alone say what a sensor's own label stands for.
_BY_UNIT = {
    unit: next(iter(channels))
    for unit in {unit for units in UNITS.values() for unit in units if unit}
    if len(channels := {channel for channel, units in UNITS.items() if unit in units}) == 1
}


def heard_unknown(
    rows: Iterable[AsideRow], mappings: Sequence[PayloadMapping], known: Iterable[str]
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

    Returns
    -------
    list of HeardSensor
        The latest heard first, with the values of its latest message.
    """
    decoder = Decoder([], TimePolicy(behind_s=float("inf")), mappings)
    mine, found = set(known), dict[str, HeardSensor]()
    for row in rows:
        if _UNKNOWN not in row.reason:
            continue
        message = ArrivedMessage(row.topic, row.payload, to_ms(row.last_at), False, 0, 0, 0)
        try:
            records = decoder.read_records(message)
        except PayloadError:
            continue
        for name, of_it in _by_sensor(records).items():
            if name in mine:
                continue
            if name in found or len(found) < _MOST:
                found[name] = _heard(name, row, of_it, found.get(name))
    return list(found.values())


def _heard(
    name: str, row: AsideRow, records: Sequence[Record], later: HeardSensor | None
) -> HeardSensor:
    """A sensor with what one more of its messages tells; what a later one told stays."""
    values: dict[str, float] = {} if later is None else dict(later.values)
    labels: dict[str, str] = {} if later is None else dict(later.labels)
    for record in records:
        label = record.name.removeprefix(name)[1:]
        channel = _channel_of(label, record.unit)
        if channel is None or record.value is None:
            continue
        if label and label not in Channel.__members__.values():
            labels[label] = str(channel)
        scale, offset = UNITS[channel].get(record.unit, (1.0, 0.0))
        values.setdefault(str(channel), record.value * scale + offset)
    return HeardSensor(
        name=name,
        topic=row.topic if later is None else later.topic,
        first_at=row.first_at if later is None else min(later.first_at, row.first_at),
        last_at=row.last_at if later is None else later.last_at,
        values=tuple(values.items()),
        labels=labels,
    )


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
