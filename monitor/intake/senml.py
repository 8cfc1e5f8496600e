"""SenML packs (RFC 8428), JSON and CBOR: bytes in, resolved records out, nothing believed."""

import json
import re
from functools import lru_cache
from operator import itemgetter
from typing import Any, NamedTuple

from monitor.errors import PayloadError
from monitor.intake.senml_cbor import LABELS, from_cbor

MAX_BYTES = 64 * 1024
MAX_RECORDS = 2000  # a week of a logger that samples three channels every quarter of an hour
MAX_NAME = 128
MAX_TEXT = 256
MAX_DEPTH = 4  # of what unknown fields may carry

VERSION = 10  # the highest that RFC 8428 defines
RELATIVE_BELOW_S = 2**28  # below: seconds from now; from there on: Unix time (section 4.5.3)

_KNOWN = frozenset(LABELS)
_BASE = frozenset({"bver", "bn", "bt", "bu", "bv", "bs"})
_USUAL = frozenset({"n", "u", "v", "t"})
_OTHERS = frozenset({"vs", "vb", "vd", "s", "ut"})
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*")
_AT_S = itemgetter(2)  # of a record
_new = tuple.__new__  # half the time of calling the named tuple itself; thousands a second
_SHOWN = 40  # characters of a value that is complained of
_HUGE = 1e300  # larger numbers and infinities are no measurement, and their sums overflow


class Record(NamedTuple):
    """One resolved record: its own name, unit and time, and exactly one value or a sum."""

    name: str
    unit: str | None
    at_s: float  # Unix time
    value: float | None = None  # the number; None where a text, a bool or data came, or a sum only
    relative: bool = False  # the time was counted from when the pack was received
    update_s: float | None = None  # longest time until the sensor's next record
    text: str | None = None
    boolean: bool | None = None
    data: bytes | str | None = None  # JSON: base64url text as it came; CBOR: bytes
    sum: float | None = None


def is_pack(payload: bytes) -> bool:
    """Tell from the first byte whether this could be a pack: a JSON or a CBOR array."""
    first = payload.lstrip(b" \t\r\n")[:1]
    return first == b"[" or b"\x80" <= first <= b"\x9f"


def decode_pack(payload: bytes, received_s: float) -> list[Record]:
    """Decode and resolve one pack.

    Parameters
    ----------
    payload : bytes
        At most 64 KiB of ``application/senml+json`` or ``application/senml+cbor``.
    received_s : float
        Unix time at which it was received: relative times count from here.

    Returns
    -------
    list of Record
        In time order (RFC 8428, section 4.6), at most 2000.

    Raises
    ------
    PayloadError
        If the bytes are no pack, or break a rule of the RFC or a limit above.
    """
    if len(payload) > MAX_BYTES:
        raise PayloadError(f"{len(payload)} bytes, more than the {MAX_BYTES} that are taken")
    if b"\x80" <= payload[:1] <= b"\x9f":
        return resolve_pack(from_cbor(payload), received_s)
    return resolve_pack(read_json(payload), received_s)


def read_json(payload: bytes) -> object:
    """Read strict JSON: UTF-8, no NaN, no infinity.

    Raises
    ------
    PayloadError
        If it is none, or is nested or written so that it cannot be read.
    """
    try:
        decoded: object = _JSON.decode(payload.decode("utf-8"))
    except UnicodeDecodeError as error:
        raise PayloadError("not UTF-8") from error
    except RecursionError as error:
        raise PayloadError("nested too deeply") from error
    except ValueError as error:  # also: a number of thousands of digits
        raise PayloadError(f"not JSON: {error}") from error
    return decoded


def resolve_pack(pack: object, received_s: float) -> list[Record]:
    """Apply base fields and make times absolute (RFC 8428, section 4.6).

    Raises
    ------
    PayloadError
        If the pack breaks a rule; the message names the record by its place, from 1.
    """
    if type(pack) is not list:
        raise PayloadError("a SenML pack is an array of records")
    if not 0 < len(pack) <= MAX_RECORDS:
        raise PayloadError(f"{len(pack)} records; a pack has 1 to {MAX_RECORDS}")
    base = _Base()
    records: list[Record] = []
    for place, fields in enumerate(pack, start=1):
        if type(fields) is not dict:
            raise PayloadError(f"record {place} is not an object")
        try:
            if not fields.keys() <= _USUAL:
                base.take_fields(fields)
                if _BASE.issuperset(fields):
                    continue  # sets a base for those to come, carries no reading itself
            records.append(base.resolve_record(fields, received_s))
        except PayloadError as error:
            raise PayloadError(
                error.reason, field=f"record {place} {error.field}".strip()
            ) from None
        except (TypeError, OverflowError) as error:
            raise PayloadError(f"record {place}: {error}") from error
    records.sort(key=_AT_S)
    return records


class _Base:
    """What the base fields of a pack have set so far, for every record that comes after."""

    __slots__ = ("_name", "_sum", "_time", "_unit", "_value", "_version")

    def __init__(self) -> None:
        self._name = ""
        self._unit: str | None = None
        self._time: float = 0
        self._value: float | None = None
        self._sum: float | None = None
        self._version: int | None = None

    def take_fields(self, fields: dict[str, Any]) -> None:
        """Take the base fields that a record carries, and pass over what is not known."""
        if not fields.keys() <= _KNOWN:
            _pass_over_unknown(fields)
        if _BASE.isdisjoint(fields):
            return
        if "bn" in fields:
            self._name = _check_text(fields["bn"], "bn")
        if "bt" in fields:
            self._time = _check_number(fields["bt"], "bt")
        if "bu" in fields:
            self._unit = _check_text(fields["bu"], "bu") or None
        if "bv" in fields:
            self._value = _check_number(fields["bv"], "bv")
        if "bs" in fields:
            self._sum = _check_number(fields["bs"], "bs")
        if "bver" in fields:
            self._version = _check_version(fields["bver"], self._version)

    def resolve_record(self, fields: dict[str, Any], received_s: float) -> Record:
        """Make one record absolute; thousands a second, so plain numbers take the short way."""
        name = check_name(self._name + fields.get("n", ""))
        unit = fields.get("u", self._unit)
        if unit is not None and type(unit) is not str:
            raise PayloadError(f"{_shown_value(unit)} is not a text", field="u")
        at_s = self._time + _check_number(fields.get("t", 0), "t")
        relative = at_s < RELATIVE_BELOW_S
        if relative:
            at_s += received_s
        value: Any = fields.get("v")
        kind = type(value)
        if (
            (kind is float or kind is int)
            and -_HUGE < value < _HUGE
            and self._sum is None
            and _OTHERS.isdisjoint(fields)
        ):
            if self._value is not None:
                value += self._value
            return _new(Record, (name, unit, at_s, value, relative, None, None, None, None, None))
        record = Record(name, unit, at_s, None, relative)
        return _resolve_unusual(record, fields, self._value, self._sum)


def _resolve_unusual(
    record: Record, fields: dict[str, Any], base_value: float | None, base_sum: float | None
) -> Record:
    """Resolve a record that carries anything but one plain number."""
    present = [label for label in ("v", "vs", "vb", "vd") if label in fields]
    if len(present) > 1:
        raise PayloadError(f"more than one value: {', '.join(present)}")
    has_sum = "s" in fields or base_sum is not None
    if not present and not has_sum and base_value is None:
        raise PayloadError("no value")
    if present and "v" not in fields:
        record = _resolve_no_number(record, fields)
    elif present or base_value is not None:
        record = record._replace(value=_added(base_value, fields, "v"))
    if has_sum:
        record = record._replace(sum=_added(base_sum, fields, "s"))
    if "ut" in fields:
        record = record._replace(update_s=_check_number(fields["ut"], "ut"))
    return record


def _added(base: float | None, fields: dict[str, Any], label: str) -> float:
    """A number over its base; the one that is not there is 0 (section 4.5.4)."""
    return (base or 0) + _check_number(fields.get(label, 0), label)


def _resolve_no_number(record: Record, fields: dict[str, Any]) -> Record:
    """Resolve a record whose value is a text, a yes or no, or data."""
    if "vs" in fields:
        return record._replace(text=_check_text(fields["vs"], "vs"))
    if "vb" in fields:
        if type(fields["vb"]) is not bool:
            raise PayloadError(f"{_shown_value(fields['vb'])} is not true or false", field="vb")
        return record._replace(boolean=fields["vb"])
    if not isinstance(fields["vd"], str | bytes):
        raise PayloadError("not data", field="vd")
    return record._replace(data=fields["vd"])


def _pass_over_unknown(fields: dict[Any, Any]) -> None:
    """Ignore unknown fields, as the RFC asks, unless they must be understood."""
    for label, value in fields.items():
        if label in _KNOWN:
            continue
        if isinstance(label, str) and label.endswith("_"):
            raise PayloadError(f"{label[:MAX_TEXT]!r} must be understood, and is not known here")
        if not _is_shallow(value, MAX_DEPTH - 2):
            raise PayloadError(f"{_shown_value(label)} is nested more than {MAX_DEPTH} deep")


def _is_shallow(value: object, levels: int) -> bool:
    if isinstance(value, dict):
        return levels > 0 and all(_is_shallow(inner, levels - 1) for inner in value.values())
    if isinstance(value, list | tuple | set | frozenset):
        return levels > 0 and all(_is_shallow(inner, levels - 1) for inner in value)
    return True


@lru_cache(maxsize=8192)
def check_name(name: str) -> str:
    """Pass a name through that the RFC allows (section 4.5.1), up to 128 characters.

    Raises
    ------
    PayloadError
        If it does not.
    """
    if not name:
        raise PayloadError("no name", field="n")
    if len(name) > MAX_NAME:
        raise PayloadError(f"a name of {len(name)} characters, more than {MAX_NAME}", field="n")
    if not _NAME.fullmatch(name):
        raise PayloadError(
            f"{name!r}: a name has letters, digits and - : . / _ only,"
            " and starts with a letter or digit",
            field="n",
        )
    return name


def _check_version(value: object, before: int | None) -> int:
    if type(value) is not int or value < 1:
        raise PayloadError(f"{_shown_value(value)} is not a version", field="bver")
    if value > VERSION:
        raise PayloadError(
            f"version {_shown_value(value)} is not known, {VERSION} is the highest", field="bver"
        )
    if before is not None and value != before:
        raise PayloadError(f"version {value} after {before} in one pack", field="bver")
    return value


def _check_number(value: object, field: str) -> float:
    if (type(value) is int or type(value) is float) and -_HUGE < value < _HUGE:
        return value
    raise PayloadError(f"{_shown_value(value)} is not a number", field=field)


def _check_text(value: object, field: str) -> str:
    if type(value) is not str:
        raise PayloadError(f"{_shown_value(value)} is not a text", field=field)
    if len(value) > MAX_TEXT:
        raise PayloadError(f"a text of {len(value)} characters, more than {MAX_TEXT}", field=field)
    return value


def _shown_value(value: object) -> str:
    """Write a value of any kind for a person, shortened."""
    if isinstance(value, dict | list | tuple | set | frozenset):
        # Never written out: what is small may hold itself many times over.
        return f"a {type(value).__name__} of {len(value)}"
    try:
        text = repr(value)
    except (ValueError, RecursionError):  # a number of thousands of digits, say
        return f"a huge {type(value).__name__}"
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}..."


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is not JSON")


_JSON = json.JSONDecoder(parse_constant=_no_constant)
