"""Seals a season record: digests of its parts, and the yard's signature over all of it.

`docs/record-file.md` says byte by byte what is signed, so that a stranger can check it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from monitor.craft.breaks import Tampering
from monitor.craft.canonical import canonical_bytes
from monitor.craft.signing_key import SigningKey
from monitor.errors import BadValueError

VERSION = 1
ALGORITHM = "Ed25519"
MARK, DIGESTS, SEAL, PROOF = "laidup_record", "digests", "seal", "proof"
# What names an element of a list to people, the first that it has.
_NAMES = ("id", "name", "evening", "at", "since", "from", "sensor", "part")

DONE = {
    Tampering.CHANGED: "is not what was sealed",
    Tampering.DELETED: "is gone",
    Tampering.ADDED: "was not there when the record was sealed",
    Tampering.REORDERED: "stood in another place when the record was sealed",
    Tampering.CUT: "is gone, with all that stood behind it",
}

Digests = dict[str, str | list[str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class YardKey:
    """What a yard seals with: its key, and the words of the earlier ones for it."""

    key: SigningKey
    successions: Sequence[Mapping[str, Any]] = ()


def seal_record(
    document: Mapping[str, Any],
    key: SigningKey,
    successions: Sequence[Mapping[str, Any]] = (),
) -> dict[str, Any]:
    """Sign a season record.

    Parameters
    ----------
    document : mapping
        JSON that RFC 8785 can hold. Each element of a list that stands at its top, and each other
        member, can be told of by itself when it was changed.
    key : SigningKey
        The yard's.
    successions : sequence of mapping
        Words of the yard's earlier keys for those that followed them.

    Returns
    -------
    dict
        The document with ``digests`` and ``seal``; `canonical_bytes` of it are the file.

    Raises
    ------
    BadValueError
        If it is of another version, or has a member that only a seal has.
    rfc8785.CanonicalizationError
        If JSON cannot hold it.
    """
    if document.get(MARK, VERSION) != VERSION:
        raise BadValueError(f"{MARK}: {document[MARK]!r} is no version that is sealed here")
    for name in (DIGESTS, SEAL):
        if name in document:
            raise BadValueError(f"{name}: only the seal writes it", "leave it out")
    said = {MARK: VERSION, **document}
    said[DIGESTS] = digests_of(said)
    signature = key.sign_bytes(canonical_bytes(said))
    said[SEAL] = {
        "algorithm": ALGORITHM,
        "public_key": key.public,
        "signature": signature,
        "successions": [dict(one) for one in successions],
    }
    return said


def signed_bytes(sealed: Mapping[str, Any]) -> bytes:
    """The bytes that the signature of a sealed record is over."""
    return canonical_bytes({name: one for name, one in sealed.items() if name != SEAL})


def digests_of(document: Mapping[str, Any]) -> Digests:
    """SHA-256 of each part of a record: of each element of a list, of each other member."""
    return {
        name: [part_digest(one) for one in part] if isinstance(part, list) else part_digest(part)
        for name, part in document.items()
        if name not in {DIGESTS, SEAL}
    }


def part_digest(part: Any) -> str:  # noqa: ANN401  whatever JSON holds
    """SHA-256 of a part's canonical bytes, as hex."""
    return sha256(canonical_bytes(part)).hexdigest()


@dataclass(frozen=True, slots=True)
class PartMisfit:
    """A part of a record that is not what its digest says."""

    member: str
    index: int | None  # of a list's element, from 0
    what: Tampering
    name: str = ""  # how the element names itself


def part_misfits(sealed: Mapping[str, Any]) -> list[PartMisfit]:
    """The first misfit of each member of a record, members in order of name."""
    expected = sealed.get(DIGESTS)
    if not isinstance(expected, Mapping):
        return [PartMisfit(DIGESTS, None, Tampering.DELETED)]
    found = digests_of(sealed)
    misfits: list[PartMisfit] = []
    for member in sorted({*expected, *found}, key=_utf16):
        wanted, is_there = expected.get(member), found.get(member)
        if wanted == is_there:
            continue
        if is_there is None:
            misfits.append(PartMisfit(member, None, Tampering.DELETED))
        elif wanted is None:
            misfits.append(PartMisfit(member, None, Tampering.ADDED))
        elif (
            isinstance(wanted, list)
            and isinstance(is_there, list)
            and (difference := first_difference(wanted, is_there)) is not None
        ):
            misfits.append(_list_misfit(member, sealed[member], difference))
        else:
            misfits.append(PartMisfit(member, None, Tampering.CHANGED))
    return misfits


def first_difference(
    wanted: Sequence[object], is_there: Sequence[object]
) -> tuple[int, Tampering] | None:
    """Where a list first is not what it was, by hashes of its elements; None if it is."""
    pairs = zip(wanted, is_there, strict=False)
    n = next((n for n, (one, other) in enumerate(pairs) if one != other), None)
    if n is None:
        n = min(len(wanted), len(is_there))
        if len(wanted) == len(is_there):
            return None
        return n, Tampering.CUT if len(wanted) > len(is_there) else Tampering.ADDED
    moved, known = wanted[n] in is_there, is_there[n] in wanted
    if moved and known:
        return n, Tampering.REORDERED
    if moved or known:
        return n, Tampering.ADDED if moved else Tampering.DELETED
    return n, Tampering.CHANGED


def _list_misfit(member: str, elements: Sequence[Any], found: tuple[int, Tampering]) -> PartMisfit:
    n, what = found
    named = what not in {Tampering.DELETED, Tampering.CUT}
    return PartMisfit(member, n, what, _name_of(elements[n]) if named else "")


def _name_of(element: Any) -> str:  # noqa: ANN401  whatever JSON holds
    if not isinstance(element, Mapping):
        return ""
    said = (element.get(key) for key in _NAMES)
    return next((one for one in said if isinstance(one, str) and one), "")[:80]


def _utf16(text: str) -> bytes:
    """Order of names in RFC 8785."""
    return text.encode("utf-16-be", "surrogatepass")
