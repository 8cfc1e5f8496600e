"""Payloads that are not SenML: JSON or a plain number, read as a mapping describes them."""

import re
from collections.abc import Mapping as Table
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from jsonpointer import EndOfList, JsonPointer, JsonPointerException

from monitor.errors import PayloadError
from monitor.intake.senml import MAX_BYTES, MAX_RECORDS, Record, check_name, read_json
from monitor.intake.strict_values import strict_number, strict_time
from monitor.yard.reading import Channel

TimeFormat = Literal["rfc3339", "unix", "unix_ms"]
_REMEMBERED_TOPICS = 10_000
_PART = re.compile(r"\{([^{}]*)\}")

# What other formats write, as (scale, offset) to the channel's own unit. Secondary units:
# RFC 8798; degF is in no registry. A bare "%" is a percentage here: this is not SenML.
_FAHRENHEIT = (5 / 9, -160 / 9)
FOREIGN_UNITS: dict[Channel, dict[str, tuple[float, float]]] = {
    Channel.TEMPERATURE: {
        "Cel": (1.0, 0.0),
        "C": (1.0, 0.0),
        "degC": (1.0, 0.0),
        "°C": (1.0, 0.0),
        "K": (1.0, -273.15),
        "degF": _FAHRENHEIT,
        "F": _FAHRENHEIT,
        "°F": _FAHRENHEIT,
    },
    Channel.HUMIDITY: {"%RH": (1.0, 0.0), "%": (1.0, 0.0), "/": (100.0, 0.0)},
    Channel.VOLTAGE: {"V": (1.0, 0.0), "mV": (0.001, 0.0)},
    Channel.CURRENT: {"A": (1.0, 0.0), "mA": (0.001, 0.0)},
    Channel.CHARGE: {"%EL": (1.0, 0.0), "%": (1.0, 0.0), "/": (100.0, 0.0)},
    Channel.MAINS: {"/": (1.0, 0.0), "": (1.0, 0.0)},
    Channel.SENSOR_BATTERY: {"%EL": (1.0, 0.0), "%": (1.0, 0.0), "/": (100.0, 0.0)},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """Where one channel's number stands in the payload, and in which unit."""

    pointer: JsonPointer
    channel: Channel
    unit: str = ""  # a name of FOREIGN_UNITS
    unit_pointer: JsonPointer | None = None  # where the payload itself names its unit
    scale: float = 1.0  # applied before the unit
    offset: float = 0.0
    words: Table[str, float] = field(default_factory=dict)  # "on" -> 1
    optional: bool = False  # not every payload has it


class Template:
    """A topic with named levels: ``yard/{device}/state``; ``+`` is a level without a name."""

    def __init__(self, text: str) -> None:
        self.text = text
        self._levels = text.split("/")

    @property
    def level_names(self) -> set[str]:
        """Names of its levels."""
        return {found for level in self._levels for found in _PART.findall(level)}

    def match_topic(self, topic: str) -> dict[str, str] | None:
        """Parts of a topic by name; None if it is another topic."""
        levels = topic.split("/")
        if len(levels) != len(self._levels):
            return None
        if topic.startswith("$") and not self._levels[0].startswith("$"):
            return None  # the broker's own topics (MQTT 5, section 4.7.2)
        parts: dict[str, str] = {}
        for wanted, level in zip(self._levels, levels, strict=True):
            if wanted.startswith("{"):
                parts[wanted[1:-1]] = level
            elif wanted not in {"+", level}:
                return None
        return parts


@dataclass(frozen=True, slots=True, kw_only=True)
class Mapping:
    """How the payloads on some topics become records."""

    name: str  # of its file
    topic: Template
    sensor: str  # name with parts of the topic and of the payload: urn:dev:ops:{device}
    values: tuple[Value, ...]
    time: JsonPointer | None = None  # None: when it arrived
    time_format: TimeFormat = "rfc3339"
    each: JsonPointer | None = None  # an array whose items are read one by one

    def read_records(self, topic: str, payload: bytes, received_s: float) -> list[Record]:
        """Read one payload.

        Raises
        ------
        PayloadError
            If it is not what the mapping describes; names the pointer.
        """
        try:
            return self._read_records(topic, payload, received_s)
        except PayloadError as error:
            field = f"(mapping {self.name}) {error.field}".strip()
            raise PayloadError(error.reason, field=field) from error

    def _read_records(self, topic: str, payload: bytes, received_s: float) -> list[Record]:
        if len(payload) > MAX_BYTES:
            raise PayloadError(f"{len(payload)} bytes, more than the {MAX_BYTES} that are taken")
        parts = self.topic.match_topic(topic) or {}
        document = _parse_document(payload)
        items: Sequence[object] = [document]
        if self.each is not None:
            found = value_at(self.each, document)
            if not isinstance(found, list):
                raise PayloadError("no array", field=self.each.path)
            items = found
        records = [
            record
            for item in items
            for record in self._item_records(item, document, parts, received_s)
        ]
        if not records:
            raise PayloadError("none of the values is there")
        if len(records) > MAX_RECORDS:
            raise PayloadError(f"{len(records)} values, more than {MAX_RECORDS}")
        return sorted(records, key=lambda record: record.at_s)

    def _item_records(
        self, item: object, document: object, parts: dict[str, str], received_s: float
    ) -> list[Record]:
        sensor = self._sensor_name(item, document, parts)
        at_s = None if self.time is None else _time_of(value_at(self.time, item), self)
        records = []
        for value in self.values:
            try:
                found = value_at(value.pointer, item)
            except PayloadError:
                if value.optional:
                    continue
                raise
            if found is None and value.optional:
                continue
            number = _number_of(found, value) * value.scale + value.offset
            scale, offset = _unit_factors(item, value)
            records.append(
                Record(
                    check_name(f"{sensor}:{value.channel}"),
                    value.channel.senml_unit,
                    received_s if at_s is None else at_s,
                    number * scale + offset,
                    relative=at_s is None,
                )
            )
        return records

    def _sensor_name(self, item: object, document: object, parts: dict[str, str]) -> str:
        def part_value(found: re.Match[str]) -> str:
            name = found[1]
            if not name.startswith("/"):
                return parts[name]
            pointer = JsonPointer(name)
            try:
                value = value_at(pointer, item)
            except PayloadError:
                value = value_at(pointer, document)  # outside the array that is read item by item
            if not isinstance(value, str | int):
                raise PayloadError("no text", field=name)
            return str(value)

        return _PART.sub(part_value, self.sensor)


class Mappings:
    """All mappings; the first whose topic fits is the one."""

    def __init__(self, mappings: Sequence[Mapping]) -> None:
        self._mappings = tuple(mappings)
        self._found: dict[str, Mapping | None] = {}

    def mapping_of(self, topic: str) -> Mapping | None:
        """Mapping for a topic; None if there is none."""
        if not self._mappings:
            return None
        try:
            return self._found[topic]
        except KeyError:
            if len(self._found) >= _REMEMBERED_TOPICS:
                self._found.clear()
            found = next(
                (one for one in self._mappings if one.topic.match_topic(topic) is not None), None
            )
            self._found[topic] = found
            return found


def value_at(pointer: JsonPointer, document: object) -> Any:  # noqa: ANN401
    """Value that a JSON Pointer (RFC 6901) names.

    Raises
    ------
    PayloadError
        If there is none.
    """
    try:
        found = pointer.resolve(document)
    except (JsonPointerException, TypeError) as error:
        raise PayloadError("not there", field=pointer.path) from error
    if isinstance(found, EndOfList):
        raise PayloadError("names the place after the last item", field=pointer.path)
    return found


def _parse_document(payload: bytes) -> object:
    """Read a document; a text that is no JSON is a text: some sensors send a bare word."""
    try:
        return read_json(payload)
    except PayloadError:
        try:
            text = payload.decode("utf-8").strip()
        except UnicodeDecodeError:
            raise PayloadError("not UTF-8") from None
        if text.startswith(("{", "[")) or not text:
            raise
        return text


def _number_of(found: object, value: Value) -> float:
    if isinstance(found, bool):
        if value.channel is Channel.MAINS:
            return float(found)
    elif isinstance(found, int | float):
        return found
    elif isinstance(found, str):
        if found in value.words:
            return value.words[found]
        number = strict_number(found)
        if number is not None:
            return number
    raise PayloadError(f"{str(found)[:40]!r} is not a number", field=value.pointer.path)


def _unit_factors(item: object, value: Value) -> tuple[float, float]:
    unit = value.unit
    if value.unit_pointer is not None:
        unit = str(value_at(value.unit_pointer, item))
    units = FOREIGN_UNITS[value.channel]
    if unit not in units:
        raise PayloadError(
            f"unit {unit[:20]!r} does not fit {value.channel}; known are {', '.join(units)}",
            field=value.pointer.path,
        )
    return units[unit]


def _time_of(found: object, mapping: Mapping) -> float:
    path = mapping.time.path if mapping.time is not None else ""
    if mapping.time_format != "rfc3339":
        if isinstance(found, bool) or not isinstance(found, int | float):
            raise PayloadError(f"{str(found)[:40]!r} is not a number of seconds", field=path)
        seconds = found / 1000 if mapping.time_format == "unix_ms" else float(found)
        if not 0 <= seconds < 1e11:
            raise PayloadError(f"{found} is no time", field=path)
        return seconds
    return strict_time(str(found), path)
