"""Lay-up work as a person writes it, by column: with flags, in a work list, at the bench."""

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from monitor.craft.acts import act_meant
from monitor.craft.fields import ENTERED_FIELDS, Field, FieldKind
from monitor.craft.layup import FindingKind, Posture
from monitor.craft.plan.shelf import ShelfProduct, product_named
from monitor.errors import BadValueError, ConfigurationError, Fault, fault_from
from monitor.phrases.complaints import what_is_wrong
from monitor.settings.faults import check_content
from monitor.settings.layup_form import EntryForm, form_keys, type_of
from monitor.settings.written_times import day_of, is_day_alone, minute_of, parse_past_time
from monitor.yard.people import check_witness, person_id

_YES = {"yes": True, "y": True, "true": True, "x": True, "no": False, "n": False, "false": False}
_FROM_NOW = frozenset({"today", "yesterday"})
_LISTED = re.compile(r"[\s,;+]+")  # ids and circuits
_PARTED = re.compile(r"\s*;\s*")  # photos, which may hold spaces
_KIND_OF_FINDING = re.compile(
    rf"(.*\S)\s*\(\s*({'|'.join(FindingKind)})\s*\)", re.IGNORECASE
)  # gearcase (leak)
_FINDINGS = re.compile(r"\s*;\s*(?=[^:;]+:)")  # words may hold a semicolon
_NO_ID = re.compile(r"[^a-z0-9]+")
_LONGEST_ID = 40


def written_form(
    said: Mapping[str, Any],
    now: datetime,
    names: Mapping[str, str],
    file: Path,
    where: str = "",
    shelf: Sequence[ShelfProduct] = (),
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
    shelf : sequence of ShelfProduct
        Products that need only be named.

    Raises
    ------
    ConfigurationError
        With one fault for each thing that is wrong.
    """
    known = from_shelf(said.get("product"), shelf)
    if known:
        said = {**known, **said, "product": known["product"]}
    if not said.get("posture") and (posture := _posture_in(said.get("act"))):
        said = {**said, "posture": posture}
    content: dict[str, Any] = {"at": minute_of(now).isoformat()}
    faults: list[Fault] = []
    for field in ENTERED_FIELDS:
        value = said.get(field.column)
        if value is None or value in ("", []):
            continue
        try:
            day = field.kind is FieldKind.DAY and str(value).strip().lower() not in _FROM_NOW
            then = _time_of_work(content["at"], now) if day else now
            content[field.column] = value_of(field, value, then, names)
        except ValueError as error:
            faults.append(fault_from(error, str(file), f"{where}{field.column}"))
    if said.get("at") and is_day_alone(said["at"]):
        content["day_began"] = start_of_day(content.get("at"), now)
    try:
        check_witness(content.get("by", ""), content.get("witness", ""), names)
    except ValueError as error:
        faults.append(fault_from(error, str(file), f"{where}witness"))
    if faults:
        raise ConfigurationError(faults)
    try:
        return check_content(EntryForm, form_keys(content), file)
    except ConfigurationError as error:
        raise ConfigurationError(
            [
                Fault(
                    file=one.file,
                    key=f"{where}{_column_of(one.key)}",
                    problem=one.problem,
                    remedy=one.remedy,
                )
                for one in error.faults
            ]
        ) from error


def _posture_in(act: object) -> str:
    """How it stands, where the words for the act say so: ``stood upright``; else empty."""
    text = str(act or "").lower()
    if not text.startswith(("stood ", "stands ", str(Posture.TILTED))):
        return ""
    return next((str(one) for one in Posture if str(one) in text), "")


def _time_of_work(at: object, now: datetime) -> datetime:
    """When the work was done: what "Thu" or "5 Nov" means for a day beside it."""
    if not isinstance(at, datetime):
        return now
    return at if at.tzinfo is not None else at.replace(tzinfo=now.tzinfo)


def start_of_day(at: object, now: datetime) -> datetime | None:
    """When the day of a moment began on the clock of ``now``; None where it is no moment."""
    if not isinstance(at, date):
        return None
    local = at.astimezone(now.tzinfo) if isinstance(at, datetime) and at.tzinfo else at
    day = local.date() if isinstance(local, datetime) else local
    return datetime.combine(day, time(), tzinfo=now.tzinfo)


def from_shelf(named: object, shelf: Sequence[ShelfProduct]) -> dict[str, str]:
    """What the yard's shelf says of a product that was named, by column."""
    one = product_named(named, shelf) if isinstance(named, str) else None
    if one is None:
        return {}
    said = {"product": one.name, "liquid": str(one.liquid)}
    said["strength"] = f"{round(one.strength * 100, 4):g}%"
    return {**said, "lot": one.lot} if one.lot else said


def value_of(field: Field, said: Any, now: datetime, names: Mapping[str, str]) -> Any:  # noqa: ANN401
    """What one field's words mean to the form; ValueError where they mean nothing."""
    if field.many:
        several = [said] if isinstance(said, str) else list(said)
        return list(_split_several(field, several))
    if not isinstance(said, str):
        return said
    text = said.strip()
    if field.kind is FieldKind.MOMENT:
        return parse_past_time(text, now)
    if field.kind is FieldKind.DAY:
        return day_of(text, now)
    if field.kind is FieldKind.YES_NO:
        if text.lower() not in _YES:
            raise BadValueError(f"{text!r} is neither yes nor no", "write yes or no")
        return _YES[text.lower()]
    if field.path == "act":
        return str(act_meant(text))
    if field.kind is FieldKind.CHOICE:
        return field.choice_meant(text)
    return person_id(text, names) if field.person else text


def typed_value(field: Field, said: Any, now: datetime, names: Mapping[str, str]) -> Any:  # noqa: ANN401
    """The value that one field's words stand for, in SI; BadValueError where it is none."""
    value = value_of(field, said, now, names)
    try:
        return TypeAdapter(type_of(field)).validate_python(value)
    except ValidationError as error:
        raise BadValueError(*what_is_wrong(error.errors()[0])) from error


def _split_several(field: Field, several: Iterable[Any]) -> Iterable[Any]:
    for one in several:
        if not isinstance(one, str):
            yield one
        elif field.kind is FieldKind.FINDING:
            yield from (_finding_from(part) for part in _FINDINGS.split(one.strip()) if part)
        elif field.kind is FieldKind.ID:
            yield from (part for part in _LISTED.split(one.strip().lower()) if part)
        else:
            yield from (part for part in _PARTED.split(one.strip()) if part)


def _finding_from(text: str) -> dict[str, str]:
    parts = [part.strip() for part in text.split(":", 2)]
    if len(parts) == 1 or not all(parts):
        raise BadValueError(
            f"{text!r} is no finding",
            (
                "write its part and words, like gearcase: seal weeps, with an"
                " id of its own in front if you like: k7-seal:gearcase:seal"
                " weeps, and its kind behind the part: gearcase (leak): seal weeps"
            ),
        )
    if len(parts) == 2:
        words = _NO_ID.sub("-", " ".join(parts).lower()).strip("-")
        parts.insert(0, words[:_LONGEST_ID].strip("-") or "finding")
    found = dict(zip(("id", "part", "words"), parts, strict=True))
    named = _KIND_OF_FINDING.fullmatch(found["part"])
    return found if named is None else {**found, "part": named[1], "kind": named[2].lower()}


def _column_of(key: str) -> str:
    """The column of a key of the form: ``product.name`` is ``product``."""
    part, _, name = key.rpartition(".")
    return part if name == "name" else name if part == "product" else key
