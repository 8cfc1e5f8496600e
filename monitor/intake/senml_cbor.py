"""SenML packs in CBOR (RFC 8428, section 6): bytes to the records that JSON would give."""

import io
from decimal import Decimal
from typing import Any

import cbor2

from monitor.errors import PayloadError

# Table 4 of the RFC.
LABELS = {
    "bver": -1,
    "bn": -2,
    "bt": -3,
    "bu": -4,
    "bv": -5,
    "bs": -6,
    "n": 0,
    "u": 1,
    "v": 2,
    "vs": 3,
    "vb": 4,
    "s": 5,
    "t": 6,
    "ut": 7,
    "vd": 8,
}
# Tags that numbers need (RFC 8949, section 3.4): big numbers, decimal fractions, big floats.
# Those that the library would act on: text that it parses or compiles, and values that stand for
# others, by which 150 bytes become more than any memory holds. SenML knows none of them.
_ACTED_ON = (0, 1, 25, 28, 29, 30, 35, 36, 37, 43000, 52, 54, 100, 256, 258, 260, 261, 1004, 55799)
_DEEPEST = 16  # containers in containers; a pack has two
_LABEL_OF = {number: label for label, number in LABELS.items()}


def from_cbor(payload: bytes) -> object:
    """Read the records of a pack, with the labels that JSON uses.

    Raises
    ------
    PayloadError
        If the bytes are no CBOR array.
    """
    stream = io.BytesIO(payload)
    decoder = cbor2.CBORDecoder(
        stream, tag_hook=_refuse_tag, semantic_decoders=_REFUSED, max_depth=_DEEPEST
    )
    try:
        pack = decoder.decode()
    except (cbor2.CBORDecodeError, ValueError, TypeError, OverflowError, RecursionError) as error:
        raise PayloadError(f"not CBOR: {error}") from error
    if stream.read(1):
        raise PayloadError("bytes are left over after the CBOR array")
    if type(pack) is not list:
        raise PayloadError("a SenML pack is an array of records")
    return [_name_labels(fields) if type(fields) is dict else fields for fields in pack]


def _refuse_tag(_decoder: object, tag: object = None) -> object:
    """Refuse a tag that no SenML pack needs."""
    number = f" {tag.tag}" if isinstance(tag, cbor2.CBORTag) else ""
    raise ValueError(f"tag{number} is none that SenML knows")


_REFUSED = dict.fromkeys(_ACTED_ON, _refuse_tag)


def _name_labels(fields: dict[Any, Any]) -> dict[Any, Any]:
    """Turn CBOR's integer labels into the names that JSON uses."""
    named = {
        # Decimal fractions are numbers here like all others (RFC 8428, section 6).
        _LABEL_OF.get(label, label) if type(label) is int else label: (
            float(value) if type(value) is Decimal else value
        )
        for label, value in fields.items()
    }
    if len(named) < len(fields):
        raise PayloadError("a label is there twice, as number and as text")
    return named
