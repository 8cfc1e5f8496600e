"""An entry in words: what a list of work tells of it, and what a correction changed."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from monitor.craft.canonical import values_of
from monitor.craft.fields import BY_PATH, FIELDS, Field, FieldKind
from monitor.craft.layup import LayupEntry, Liquid
from monitor.units import STRENGTH, TEMPERATURE, VOLUME
from monitor.wording import Wording

_DIGEST_SHOWN = 12  # letters: enough to tell a craft's photos apart
# Told in columns of their own, or not at all.
_ELSEWHERE = frozenset({"id", "craft", "at", "day_began", "told_at", "by", "act", "circuits"})


def time_words(entry: LayupEntry, words: Wording) -> str:
    """When the work was done: day and hour, or that nobody told the hour."""
    local = entry.at.astimezone(words.zone)
    if entry.day_began is not None:
        return f"{local.day} {local:%b}, hour not told"
    return f"{local.day} {local:%b %H:%M}"


def may_lack_its_hour(entry: LayupEntry, words: Wording) -> bool:
    """Whether its hour may be made up: earlier versions kept a date alone as the noon of it."""
    local = entry.at.astimezone(words.zone)
    return entry.day_began is None and (local.hour, local.minute, local.second) == (12, 0, 0)


def evidence_words(entry: LayupEntry, words: Wording) -> list[str]:
    """Everything that an entry says besides who did what when to which circuits."""
    said = values_of(entry)
    if said.get("product.liquid") is Liquid.NOT_KNOWN:
        del said["product.liquid"]
    return [
        field_words(BY_PATH[path], value, words)
        for path, value in said.items()
        if path not in _ELSEWHERE
    ]


def field_words(field: Field, value: Any, words: Wording) -> str:  # noqa: ANN401  any field's
    """One field as a list of work tells it: ``read −30.0 °C``, ``engine cold``."""
    if field.kind is FieldKind.YES_NO:
        return field.shown if value else field.shown_no
    return field.shown.format(value_words(field, value, words))


def value_words(field: Field, value: Any, words: Wording) -> str:  # noqa: ANN401  any field's
    """One field's value alone; "not said" where nobody said it."""
    if value in (None, "", ()) or value == field.unsaid:
        return "not said"
    if field.many:
        return ", ".join(_one(field, one, words) for one in value)
    return _one(field, value, words)


def change_words(before: LayupEntry, after: LayupEntry, words: Wording) -> list[str]:
    """What a correction changed, field by field: ``quantity: 0.30 L → 0.40 L``."""
    was, now = values_of(before), values_of(after)
    return [
        f"{field.label}: {_before_or_after(field, was, before, words)}"
        f" → {_before_or_after(field, now, after, words)}"
        for field in FIELDS
        if field.path not in {"id", "replaces", "entered_by", "day_began", "told_at"}
        and (
            was.get(field.path) != now.get(field.path)
            or (field.path == "at" and before.day_began != after.day_began)
        )
    ]


def _before_or_after(
    field: Field, said: Mapping[str, Any], entry: LayupEntry, words: Wording
) -> str:
    if field.path == "at":
        return time_words(entry, words)
    return value_words(field, said.get(field.path), words)


def _one(field: Field, value: Any, words: Wording) -> str:  # noqa: ANN401  any field's
    if field.path == "evidence.photo_sha256":
        return str(value)[:_DIGEST_SHOWN]
    if field.kind is FieldKind.MOMENT:
        return f"{words.day(value)} {value.astimezone(words.zone):%H:%M}"
    if isinstance(value, date):
        return f"{value.day} {value:%b}"
    if field.kind is FieldKind.YES_NO:
        return "yes" if value else "no"
    if field.kind is FieldKind.FINDING:
        kind = "" if value.kind is None else f" ({value.kind})"
        return f"{value.part}{kind}: {value.words}"
    if field.kind is FieldKind.QUANTITY:
        return _quantity(field, value, words)
    return words.person(value) if field.person else str(value)


def _quantity(field: Field, value: float, words: Wording) -> str:
    if field.dimension is TEMPERATURE:
        return words.temperature(value)
    if field.dimension is VOLUME:
        return words.volume(value)
    if field.dimension is STRENGTH:
        return f"{value * 100:.3g} %"
    return f"{value:g} V"
