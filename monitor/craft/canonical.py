"""The canonical form of an entry: JSON in SI, read and written by the table of fields."""

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from hashlib import sha256
from typing import Any

import rfc8785

from monitor.craft.fields import FIELDS, Field, FieldKind
from monitor.craft.layup import Evidence, FindingKind, LayupEntry, Product, Seen
from monitor.errors import BadValueError

# What reading an entry or a craft out of a stored text raises, where another hand wrote it.
UNREADABLE = (ValueError, KeyError, TypeError, AttributeError, RecursionError)

_NOTHING = (None, "", ())
# Looked up once: a yard's whole record goes through here.
_PLACES = tuple((field, field.part, field.name, field.json_key) for field in FIELDS)
_FIELD_AT = {(part, key): field for field, part, _, key in _PLACES}
_PARTS = ("product", "evidence")
_JSON_OF: dict[FieldKind, type | tuple[type, ...]] = {  # of other kinds: text
    FieldKind.YES_NO: bool,
    FieldKind.QUANTITY: (int, float),
}
_LETTERS = 16  # 64 bits: to tell the versions of one yard's files apart, not to prove anything


def entry_json(entry: LayupEntry) -> dict[str, Any]:
    """An entry as JSON: SI with the unit in the key, only what was said, times in UTC."""
    said: dict[str, Any] = {}
    for field, part, name, key in _PLACES:
        holder = getattr(entry, part) if part else entry
        value = None if holder is None else getattr(holder, name)
        if value is None or value == field.unsaid or (not value and value in _NOTHING):
            continue  # most fields: nothing was said
        place = said.setdefault(part, {}) if part else said
        place[key] = _many_json(field, value) if field.many else _json(field, value)
    return said


def entry_of(said: Mapping[str, Any]) -> LayupEntry:
    """The entry that `entry_json` wrote."""
    values: dict[str, Any] = {}
    for part, holder in (("", said), *((part, said.get(part) or {}) for part in _PARTS)):
        for key, value in holder.items():
            field = _FIELD_AT.get((part, key))
            if field is None or value is None:
                continue
            read = tuple(_read(field, one) for one in value) if field.many else _read(field, value)
            values[field.path] = read
    return entry_from(values)


def entry_from(values: Mapping[str, Any]) -> LayupEntry:
    """The entry with these values by the path of their field; None stands for unsaid.

    Raises
    ------
    ValueError
        If it cannot be an entry.
    """
    parts: dict[str, dict[str, Any]] = {"": {}, "product": {}, "evidence": {}}
    for path, value in values.items():
        part, _, name = path.rpartition(".")
        if value is not None:
            parts[part][name] = value
    product = parts["product"]
    return LayupEntry(
        **parts[""],
        product=Product(**product) if product else None,
        evidence=Evidence(**parts["evidence"]),
    )


def values_of(entry: LayupEntry) -> dict[str, Any]:
    """What an entry says, by the path of its field; what nobody said is not among it."""
    values: dict[str, Any] = {}
    for field, part, name, _ in _PLACES:
        holder = getattr(entry, part) if part else entry
        value = None if holder is None else getattr(holder, name)
        if value not in _NOTHING and value != field.unsaid:
            values[field.path] = value
    return values


def derived_id(entry: LayupEntry) -> str:
    """Id of an entry that was given none: the same work written down again has the same id.

    Whether an hour was told is no part of it, as it was not kept at first.
    """
    said = entry_json(entry)
    del said["id"]
    said.pop("day_began", None)
    return sha256(canonical_bytes(said)).hexdigest()[:12]


def canonical_bytes(said: Any) -> bytes:  # noqa: ANN401  whatever JSON holds
    """The bytes of RFC 8785, in a fifth of the time where Python's own encoder writes the same.

    Raises
    ------
    rfc8785.CanonicalizationError
        If JSON cannot hold it.
    """
    try:
        return _PLAIN.encode(_plain(said)).encode()
    except (_OtherwiseWrittenError, UnicodeEncodeError):
        return rfc8785.dumps(said)


class _OtherwiseWrittenError(Exception):
    """RFC 8785 may write it in another way than Python's encoder."""


_PLAIN = json.JSONEncoder(sort_keys=True, ensure_ascii=False, separators=(",", ":"))
_EXACT = 2**53  # whole numbers below it are the same in every reader of JSON


def _plain(value: Any) -> Any:  # noqa: ANN401  whatever JSON holds
    """The same JSON where both encoders write it alike: names in ASCII, no number with an exponent.

    Raises
    ------
    _OtherwiseWrittenError
        Where they may differ.
    """
    kind = type(value)
    if kind is str or kind is bool or value is None:
        return value
    if kind is dict:
        return {_plain_name(key): _plain(one) for key, one in value.items()}
    if kind is list:
        return [_plain(one) for one in value]
    return _plain_number(value)


def _plain_name(name: Any) -> str:  # noqa: ANN401  whatever JSON holds
    if type(name) is str and name.isascii():
        return name
    raise _OtherwiseWrittenError


def _plain_number(value: Any) -> int | float:  # noqa: ANN401  whatever JSON holds
    if type(value) is int and abs(value) < _EXACT:
        return value
    if type(value) is float:
        if value.is_integer() and abs(value) < _EXACT:
            return int(value)  # RFC 8785 writes 6.0 as 6
        if 1e-4 <= abs(value) < 1e15:
            return value
    raise _OtherwiseWrittenError


def utc_text(at: datetime) -> str:
    """A moment as the canonical form writes it: UTC, with a Z."""
    return f"{at.astimezone(UTC).isoformat()[:-6]}Z"


def _many_json(field: Field, values: tuple[Any, ...]) -> list[Any]:
    several = [_json(field, one) for one in values]
    return sorted(several) if field.any_order else several


def _json(field: Field, value: Any) -> Any:  # noqa: ANN401  whatever the field holds
    if field.kind is FieldKind.MOMENT:
        return utc_text(value)
    if field.kind is FieldKind.DAY:
        return value.isoformat()
    if field.kind is FieldKind.FINDING:
        kind = {} if value.kind is None else {"kind": str(value.kind)}
        return {"id": value.id, "part": value.part, "words": value.words, **kind}
    return str(value) if field.kind is FieldKind.CHOICE else value


def _read(field: Field, value: Any) -> Any:  # noqa: ANN401  whatever the field holds
    if field.kind is FieldKind.MOMENT:
        return datetime.fromisoformat(value)
    if field.kind is FieldKind.DAY:
        return date.fromisoformat(value)
    if field.kind is FieldKind.FINDING:
        kind = value.get("kind")
        return Seen(**{**value, "kind": None if kind is None else FindingKind(kind)})
    if field.kind is FieldKind.CHOICE and field.choices is not None:
        return field.choices(value)
    if not isinstance(value, _JSON_OF.get(field.kind, str)):
        raise BadValueError(f"{field.path}: {value!r}", "it was written as another kind of value")
    return value


def digest_of(content: object) -> str:
    """Digest of parsed content; layout, comments and the order of keys do not count.

    Parameters
    ----------
    content : dict, list or other content of a TOML file

    Returns
    -------
    str
        The first 16 hexadecimal letters of a SHA-256.
    """
    plain = json.dumps(content, sort_keys=True, ensure_ascii=True, default=str)
    return sha256(plain.encode()).hexdigest()[:_LETTERS]
