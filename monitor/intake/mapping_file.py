"""Mappings as files: ``config/payloads/NAME.toml``, one for each kind of payload."""

import re
from pathlib import Path
from typing import Annotated

from jsonpointer import JsonPointer, JsonPointerException
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator

from monitor.errors import BadValueError, ConfigurationError, Fault
from monitor.intake.mapping import FOREIGN_UNITS, Mapping, Template, TimeFormat, Value
from monitor.toml_text import parse_toml
from monitor.yard.reading import Channel

_LEVEL = re.compile(r"\{[a-z_]+\}|\+|[^+#{}]*")


def _check_pointer(text: str) -> str:
    try:
        JsonPointer(text)
    except JsonPointerException as error:
        raise BadValueError(
            f"{text!r} is no JSON Pointer",
            "write it like /env/temperature",
        ) from error
    return text


def _check_topic(text: str) -> str:
    for level in text.split("/"):
        if not _LEVEL.fullmatch(level):
            raise BadValueError(f"{level!r} is no level", "write a word, a {name} or +")
    return text


Pointer = Annotated[str, AfterValidator(_check_pointer)]


class _Block(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class ValueBlock(_Block):
    """``[[values]]``: one number of the payload."""

    pointer: Pointer
    channel: Channel
    unit: str = ""
    unit_pointer: Pointer | None = None
    scale: float = 1.0
    offset: float = 0.0
    words: Annotated[dict[str, float], Field(default_factory=dict)]
    optional: bool = False

    @model_validator(mode="after")
    def _unit_fits(self) -> "ValueBlock":
        known = FOREIGN_UNITS[self.channel]
        if self.unit_pointer is None and self.unit not in known:
            raise BadValueError(
                f"unit {self.unit!r} does not fit {self.channel}",
                f"write one of {', '.join(repr(unit) for unit in known)}",
            )
        return self

    def to_value(self) -> Value:
        """The same, ready to be used."""
        return Value(
            pointer=JsonPointer(self.pointer),
            channel=self.channel,
            unit=self.unit,
            unit_pointer=None if self.unit_pointer is None else JsonPointer(self.unit_pointer),
            scale=self.scale,
            offset=self.offset,
            words=self.words,
            optional=self.optional,
        )


class MappingFile(_Block):
    """All of a mapping's file."""

    about: Annotated[str, Field(min_length=1)]
    topic: Annotated[str, Field(min_length=1), AfterValidator(_check_topic)]
    sensor: Annotated[str, Field(min_length=1)]
    time: Pointer | None = None
    time_format: TimeFormat = "rfc3339"
    each: Pointer | None = None
    values: Annotated[tuple[ValueBlock, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _parts_are_known(self) -> "MappingFile":
        for part in re.findall(r"\{([^{}]*)\}", self.sensor):
            if part.startswith("/"):
                _check_pointer(part)
            elif part not in Template(self.topic).level_names:
                raise BadValueError(
                    f"sensor uses {{{part}}}, which is no part of the topic {self.topic}",
                    "name a level of it so, or write a JSON Pointer like {/id}",
                )
        return self

    def to_mapping(self, name: str) -> Mapping:
        """The same, ready to be used."""
        return Mapping(
            name=name,
            topic=Template(self.topic),
            sensor=self.sensor,
            values=tuple(block.to_value() for block in self.values),
            time=None if self.time is None else JsonPointer(self.time),
            time_format=self.time_format,
            each=None if self.each is None else JsonPointer(self.each),
        )


def read_mapping(file: Path) -> Mapping:
    """Read one mapping.

    Raises
    ------
    ConfigurationError
        With one fault for each thing that is wrong in the file.
    """
    try:
        content = parse_toml(file.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        fault = Fault(
            file=str(file),
            key="",
            problem=f"cannot be read: {error}",
            remedy="Write it as TOML in UTF-8.",
        )
        raise ConfigurationError([fault]) from error
    try:
        return MappingFile.model_validate(content).to_mapping(file.stem)
    except ValidationError as error:
        raise ConfigurationError(_faults_of(file, error)) from error


def _faults_of(file: Path, error: ValidationError) -> list[Fault]:
    """One fault for each thing that is wrong; not also for the list that it spoils."""
    errors = error.errors()
    places = [one["loc"] for one in errors]
    return [
        Fault(
            file=str(file),
            key=".".join(str(part) for part in one["loc"]),
            problem="it is missing"
            if one["type"] == "missing"
            else f"{one['msg'].removeprefix('Value error, ')}, not {one['input']!r:.80}",
            remedy="See the mappings that come with laidup for examples.",
        )
        for one in errors
        if not any(one["loc"] == place[: len(one["loc"])] != place for place in places)
    ]


def read_mappings(folder: Path) -> list[Mapping]:
    """Read every mapping of a folder, in order of their names; none if there is no such folder.

    Raises
    ------
    ConfigurationError
        With the faults of all files.
    """
    mappings: list[Mapping] = []
    faults: list[Fault] = []
    for file in sorted(folder.glob("*.toml")):
        try:
            mappings.append(read_mapping(file))
        except ConfigurationError as error:
            faults += error.faults
    if faults:
        raise ConfigurationError(faults)
    return mappings
