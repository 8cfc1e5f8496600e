"""Lay-up work as a person writes it, by column: with flags, in a work list, at the bench."""

import re
from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from monitor.craft.fields import ENTERED_FIELDS, Field, Kind
from monitor.errors import ConfigurationError, Fault, fault_from
from monitor.settings.faults import check
from monitor.settings.layup_form import EntryForm, form_keys, type_of
from monitor.settings.moments import day_of, moment_of
from monitor.settings.words import PATTERNS_IN_WORDS
from monitor.yard.people import person_id

_YES = {"yes": True, "y": True, "true": True, "x": True, "no": False, "n": False, "false": False}
_LISTED = re.compile(r"[\s,;+]+")  # ids and circuits
_PARTED = re.compile(r"\s*;\s*")  # what may hold spaces: photos, findings


def written_form(
    said: Mapping[str, Any], now: datetime, names: Mapping[str, str], file: Path, where: str = ""
) -> EntryForm:
    """Check one entry that was written in words.

    Parameters
    ----------
    said : mapping of str to object
        What was written, by column of `monitor.craft.fields`: a text, or a list of texts where a
        field takes many. What is empty was not said.
    now : datetime
        The present, in the yard's zone: what "today" means, and when nothing else is said.
    names : mapping of str to str
        Who may enter work: names by id.
    file, where : Path, str
        What faults name as the place: a file or command, and the line.

    Raises
    ------
    ConfigurationError
        With one fault for each thing that is wrong.
    """
    content: dict[str, Any] = {"at": now.isoformat(timespec="seconds")}
    faults: list[Fault] = []
    for field in ENTERED_FIELDS:
        value = said.get(field.column)
        if value is None or value in ("", []):
            continue
        try:
            content[field.column] = value_of(field, value, now, names)
        except ValueError as error:
            faults.append(fault_from(error, str(file), f"{where}{field.column}"))
    if faults:
        raise ConfigurationError(faults)
    try:
        return check(EntryForm, form_keys(content), file)
    except ConfigurationError as error:
        raise ConfigurationError(
            [
                Fault(
                    file=one.file,
                    key=f"{where}{_column(one.key)}",
                    problem=one.problem,
                    remedy=one.remedy,
                )
                for one in error.faults
            ]
        ) from error


def value_of(field: Field, said: Any, now: datetime, names: Mapping[str, str]) -> Any:  # noqa: ANN401
    """What one field's words mean to the form; ValueError where they mean nothing."""
    if field.many:
        several = [said] if isinstance(said, str) else list(said)
        return list(_many(field, several))
    if not isinstance(said, str):
        return said
    text = said.strip()
    if field.kind is Kind.MOMENT:
        return moment_of(text, now)
    if field.kind is Kind.DAY:
        return day_of(text, now)
    if field.kind is Kind.YES_NO:
        if text.lower() not in _YES:
            raise ValueError(f"{text!r} is neither yes nor no; write yes or no")
        return _YES[text.lower()]
    if field.kind is Kind.CHOICE:
        return text.lower()
    return person_id(text, names) if field.person else text


def typed_value(field: Field, said: Any, now: datetime, names: Mapping[str, str]) -> Any:  # noqa: ANN401
    """The value that one field's words stand for, in SI; ValueError with problem and remedy."""
    value = value_of(field, said, now, names)
    try:
        return TypeAdapter(type_of(field)).validate_python(value)
    except ValidationError as error:
        detail = error.errors()[0]
        pattern = str(detail.get("ctx", {}).get("pattern", ""))
        message = PATTERNS_IN_WORDS.get(pattern, detail["msg"].removeprefix("Value error, "))
        raise ValueError(message) from error


def _many(field: Field, several: Iterable[Any]) -> Iterable[Any]:
    for one in several:
        if not isinstance(one, str):
            yield one
        elif field.kind is Kind.FINDING:
            yield from (_finding(part) for part in _PARTED.split(one.strip()) if part)
        elif field.kind is Kind.ID:
            yield from (part for part in _LISTED.split(one.strip().lower()) if part)
        else:
            yield from (part for part in _PARTED.split(one.strip()) if part)


def _finding(text: str) -> dict[str, str]:
    parts = text.split(":", 2)
    if len(parts) != 3:
        raise ValueError(
            f"{text!r} is no finding; write its id, part and words, like"
            " k7-seal:gearcase:seal weeps"
        )
    return {key: part.strip() for key, part in zip(("id", "part", "words"), parts, strict=True)}


def _column(key: str) -> str:
    """The column of a key of the form: ``product.name`` is ``product``."""
    part, _, name = key.rpartition(".")
    return part if name == "name" else name if part == "product" else key
