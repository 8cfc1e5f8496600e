"""What leaves the store as tables: readings, the lay-up record and alarms, in columns.

Readings and the record have the columns that ``laidup import readings`` and ``laidup import work``
take, so that what was exported can be taken in again: a reading is what its sensor sent, before
any calibration, and an entry keeps its id.
"""

from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.clock import from_ms
from monitor.craft.canonical import values_of
from monitor.craft.fields import ENTERED_FIELDS, Field, FieldKind
from monitor.craft.layup import LayupEntry, Seen
from monitor.craft.record import CraftRecord
from monitor.store.store import Store
from monitor.units import STRENGTH
from monitor.yard.alarm import Alarm
from monitor.yard.reading import Channel

READING_COLUMNS = ("at", "sensor", "label", "unit", "value")
RECORD_COLUMNS = ("craft", *(field.column for field in ENTERED_FIELDS if field.path != "craft"))
ALARM_COLUMNS = (
    "id", "cause", "space", "craft", "part", "state", "priority", "urgency", "severity",
    "certainty", "raised_at", "changed_at", "deadline",
)  # fmt: skip
_CHUNK_MS = 30 * 86_400_000  # of one series in memory at once


class SentReadings(NamedTuple):
    """Readings of one series as its sensor sent them, in time order."""

    sensor: str
    channel: Channel
    at_ms: NDArray[np.int64]
    value: NDArray[np.float64]

    def value_texts(self) -> Iterator[str]:
        """Each value in the channel's own unit, with as many places as the store keeps."""
        places = len(f"{self.channel.resolution:g}".partition(".")[2])
        return (f"{value:.{places}f}" for value in self.value)


def sent_readings(store: Store, since_ms: int, until_ms: int) -> Iterator[SentReadings]:
    """All readings with ``since_ms <= at < until_ms``, series by series, some weeks at once.

    Of what is refused (flag 4) too: what is taken in again is checked again.
    """
    with store.snapshot() as tx:
        known = sorted(tx.series.known_series().items())
    for (sensor, channel), series_id in known:
        with store.snapshot() as tx:
            oldest = tx.readings.oldest_ms(series_id, since_ms)
        begin = until_ms if oldest is None else oldest
        while begin < until_ms:
            end = min(begin + _CHUNK_MS, until_ms)
            with store.snapshot() as tx:
                at_ms, steps = tx.readings.sent_steps(series_id, begin, end)
            if at_ms.size:
                sent = np.asarray(steps * channel.resolution, dtype=np.float64)
                yield SentReadings(sensor, channel, at_ms, sent)
            begin = end


def reading_time(at_ms: int) -> str:
    """A reading's time, to the millisecond where it has any."""
    at = from_ms(at_ms)
    return at.isoformat(timespec="milliseconds" if at_ms % 1000 else "seconds").replace(
        "+00:00", "Z"
    )


def record_rows(records: Iterable[CraftRecord]) -> Iterator[dict[str, str]]:
    """Every entry on record, each in the words that a work list is written in; '' is not said.

    In the order of writing, so that what replaces another stands behind it.
    """
    for record in records:
        for entry in record.on_record:
            yield entry_row(entry)


def entry_row(entry: LayupEntry) -> dict[str, str]:
    """One entry by column, quantities with their SI unit, times with their offset."""
    said = values_of(entry)
    row = {"craft": entry.craft}
    for field in ENTERED_FIELDS:
        if field.path != "craft":
            row[field.column] = _text_of(field, said.get(field.path), entry)
    return row


def _text_of(field: Field, value: Any, entry: LayupEntry) -> str:  # noqa: ANN401  as the field has it
    if value is None:
        return ""
    if field.path == "at":
        day = entry.day_began
        return entry.at.isoformat() if day is None else day.date().isoformat()
    if field.many:
        mark = "; " if field.kind in {FieldKind.FINDING, FieldKind.LINE} else " "
        return mark.join(_one_text(field, one) for one in value)
    return _one_text(field, value)


def _one_text(field: Field, value: Any) -> str:  # noqa: ANN401  as the field has it
    if isinstance(value, Seen):
        kind = f" ({value.kind})" if value.kind is not None else ""
        return f"{value.id}:{value.part}{kind}:{value.words}"
    if field.kind is FieldKind.YES_NO:
        return "yes" if value else "no"
    if field.kind is FieldKind.QUANTITY and field.dimension is not None:
        if field.dimension is STRENGTH:
            return f"{round(value * 100.0, 9):.12g}%"
        return f"{value!r}{field.dimension.unit.replace('°', '')}"
    return value.isoformat() if isinstance(value, datetime) else str(value)


def alarm_row(alarm: Alarm) -> dict[str, str]:
    """One alarm by column; '' where there is none."""
    return {
        "id": alarm.id,
        "cause": str(alarm.cause),
        "space": alarm.space,
        "craft": alarm.craft,
        "part": alarm.part,
        "state": str(alarm.state),
        "priority": str(alarm.priority),
        "urgency": str(alarm.urgency),
        "severity": str(alarm.severity),
        "certainty": str(alarm.certainty),
        "raised_at": _utc(alarm.raised_at),
        "changed_at": _utc(alarm.changed_at),
        "deadline": _utc(alarm.deadline),
    }


def _utc(at: datetime | None) -> str:
    if at is None:
        return ""
    return at.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def columns_of(rows: Iterable[Mapping[str, str]], names: Iterable[str]) -> dict[str, list[str]]:
    """The same rows, a list a column."""
    found: dict[str, list[str]] = {name: [] for name in names}
    for row in rows:
        for name, values in found.items():
            values.append(row[name])
    return found
