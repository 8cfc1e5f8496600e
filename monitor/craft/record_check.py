"""Checks a season record's file with nothing but a key, or heads out of mails."""

import base64
import binascii
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from hashlib import sha256
from typing import Any

from monitor.craft.canonical import canonical_bytes
from monitor.craft.merkle import RecordHead
from monitor.craft.proof_check import ProofMisfit, check_proof
from monitor.craft.sealing import (
    ALGORITHM,
    DIGESTS,
    DONE,
    MARK,
    PROOF,
    SEAL,
    VERSION,
    PartMisfit,
    part_misfits,
    signed_bytes,
)
from monitor.craft.signed_statements import is_bare_seal, is_reached
from monitor.craft.signing_key import TrustedKey, fingerprint_of, is_signed
from monitor.errors import BadValueError

_MOST_BYTES = 64 * 2**20


class MisfitKind(StrEnum):
    """What of a file does not fit; the same words stand in docs/record-file.md."""

    NOT_A_RECORD = "not a record"
    FORM = "form"  # the same content, written in other bytes
    PART = "part"
    PHOTO = "photo"
    LINK = "link"
    TREE = "tree"
    HOUR = "hour"
    SIGNATURE = "signature"
    KEY = "key"
    HEAD = "head"
    PAGES = "pages"  # of a PDF: they are not what the yard signed


@dataclass(frozen=True, slots=True)
class Misfit:
    """One thing that does not fit, and what that means."""

    kind: MisfitKind
    place: str  # where: "alarms[2]", "proof.days[14]", "byte 4711", "head 214-9f86…"
    words: str
    meaning: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordCheck:
    """What a file comes to."""

    misfits: tuple[Misfit, ...]  # the first that the order of docs/record-file.md meets is first
    public_key: str = ""  # that signed; empty where none did
    vouched: bool = False  # a key or a head that somebody holds fits
    yard: str = ""
    craft: str = ""
    head: RecordHead | None = None  # of the yard when the record was made
    links: int = 0
    leaves: int = 0

    @property
    def holds(self) -> bool:
        """Whether all fits, and somebody's own key or head vouches for it."""
        return not self.misfits and self.vouched

    @property
    def fingerprint(self) -> str:
        """Fingerprint of the key that signed; empty where none did."""
        return fingerprint_of(self.public_key) if self.public_key else ""


def check_record(
    data: bytes, keys: Sequence[TrustedKey] = (), heads: Sequence[RecordHead] = ()
) -> RecordCheck:
    """Check a record's file, all of it, in a set order.

    Parameters
    ----------
    data : bytes
        The file.
    keys : sequence of TrustedKey
        Keys of the yard that somebody got in another way than with the file.
    heads : sequence of RecordHead
        Heads of the yard out of mails.
    """
    try:
        sealed = read_record(data)
    except BadValueError as error:
        meaning = "Nothing can be checked. Ask the yard for the file again."
        return RecordCheck(misfits=(Misfit(MisfitKind.NOT_A_RECORD, "file", str(error), meaning),))
    found = [*_form(data, sealed)]
    yard = _id_of(sealed, "yard")
    proof = check_proof(sealed.get(PROOF), yard)
    parts = part_misfits(sealed)
    if proof.misfits:  # it says more exactly what of the proof it is
        parts = [one for one in parts if one.member != PROOF]
    found += [*map(_part_words, parts), *_photos(sealed), *map(_proof_words, proof.misfits)]
    public = _signer(sealed)
    if public and not is_bare_seal(sealed[SEAL], public, yard):
        found.append(_MORE_IN_SEAL)
    fits = [bool(public) and is_reached(public, one, _successions(sealed), yard) for one in keys]
    found += [_wrong_key(public) for fit in fits if public and not fit]
    found += _key_misfits(sealed, public, proof.signer, yard)
    of_heads = [proof.head_misfit(one) for one in heads]
    found += [_proof_words(one) for one in of_heads if one is not None]
    return RecordCheck(
        misfits=tuple(found),
        public_key=public,
        vouched=any(fits) or any(one is None for one in of_heads),
        yard=yard,
        craft=_id_of(sealed, "craft"),
        head=proof.head,
        links=proof.links,
        leaves=proof.leaves,
    )


def read_record(data: bytes) -> dict[str, Any]:
    """The content of a record's file.

    Raises
    ------
    BadValueError
        If it is no record of this version: no UTF-8, no JSON, a name twice, a number beyond
        RFC 8785.
    """
    if len(data) > _MOST_BYTES:
        raise BadValueError(f"The file has {len(data)} bytes, more than any record")
    try:
        said = json.loads(data.decode(), object_pairs_hook=_once, parse_constant=_refuse)
        canonical_bytes(said)
    except UnicodeDecodeError as error:
        raise BadValueError(f"Byte {error.start} is no UTF-8") from error
    except json.JSONDecodeError as error:
        raise BadValueError(f"It is no JSON from character {error.pos} on") from error
    except RecursionError as error:
        raise BadValueError("It is nested more deeply than any record") from error
    except _NoRecordError as error:
        raise BadValueError(f"It holds what no record can hold: {error}") from error
    except ValueError as error:  # of the parser, or of RFC 8785
        raise BadValueError(
            "It holds a number or a text that no record can hold (RFC 8785)"
        ) from error
    if not isinstance(said, dict) or MARK not in said:
        raise BadValueError("It is JSON, and no season record")
    if type(said[MARK]) is not int or said[MARK] != VERSION:
        raise BadValueError(f"It is a record of version {str(said[MARK])[:20]}, not of {VERSION}")
    return said


class _NoRecordError(ValueError):
    """What JSON lets through and no record has, in words of ours."""


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise _NoRecordError("a name stands twice in one object")
    return found


def _refuse(word: str) -> None:
    raise _NoRecordError(f"{word} is no number of JSON")


def _form(data: bytes, sealed: Mapping[str, Any]) -> Iterator[Misfit]:
    wanted = canonical_bytes(sealed)
    if data == wanted:
        return
    pairs = enumerate(zip(data, wanted, strict=False))
    at = next((n for n, (one, other) in pairs if one != other), min(len(data), len(wanted)))
    yield Misfit(
        MisfitKind.FORM,
        f"byte {at}",
        f"Byte {at} is not written as in the file that was signed",
        "The file was saved anew by another program. What it says is judged below; keep the"
        " original beside it.",
    )


_CHANGED_FILE = (
    "Somebody changed the file after the yard sealed it. Do not rely on it; ask the yard for the"
    " original."
)


def _part_words(one: PartMisfit) -> Misfit:
    place = one.member if one.index is None else f"{one.member}[{one.index}]"
    called = f" ({one.name})" if one.name else ""
    return Misfit(MisfitKind.PART, place, f"{place}{called} {DONE[one.what]}", _CHANGED_FILE)


def _photos(sealed: Mapping[str, Any]) -> Iterator[Misfit]:
    photos = sealed.get("photos")
    for n, one in enumerate(photos if isinstance(photos, list) else ()):
        if not isinstance(one, Mapping) or "content" not in one:
            continue
        try:
            content = base64.b64decode(str(one["content"]), validate=True)
        except binascii.Error:
            content = None
        if content is None or sha256(content).hexdigest() != one.get("sha256"):
            yield Misfit(
                MisfitKind.PHOTO,
                f"photos[{n}]",
                f"photos[{n}] is not the photo whose SHA-256 the record names",
                "The picture was exchanged, or its hash. Do not rely on it.",
            )


def _proof_words(one: ProofMisfit) -> Misfit:
    return Misfit(MisfitKind(one.kind), one.place, f"{one.place} {one.words}", one.meaning)


def _signer(sealed: Mapping[str, Any]) -> str:
    """The public key that signed the record; empty where none did."""
    seal = sealed.get(SEAL)
    if not isinstance(seal, Mapping) or seal.get("algorithm") != ALGORITHM:
        return ""
    public = seal.get("public_key")
    return str(public) if is_signed(signed_bytes(sealed), seal.get("signature"), public) else ""


def _key_misfits(
    sealed: Mapping[str, Any], public: str, of_head: str, yard: str
) -> Iterator[Misfit]:
    """No signature, or one by another than signed the head in the proof."""
    if not public:
        yield _UNSIGNED
    elif of_head and not is_reached(public, TrustedKey(of_head), _successions(sealed), yard):
        yield _OTHER_HEAD_KEY


def _successions(sealed: Mapping[str, Any]) -> object:
    seal = sealed.get(SEAL)
    return seal.get("successions") if isinstance(seal, Mapping) else None


_UNSIGNED = Misfit(
    MisfitKind.SIGNATURE,
    SEAL,
    "The signature is not over what stands in this file",
    f"The file, its {DIGESTS} or its {SEAL} were changed after the yard signed it, or nobody signed"
    " it. Do not rely on it; ask the yard for the original.",
)
_MORE_IN_SEAL = Misfit(
    MisfitKind.SIGNATURE,
    SEAL,
    f"The {SEAL} holds what the yard has not signed",
    "Somebody wrote something into it. The rest of the file is judged for itself; ask the yard for"
    " the original.",
)
_OTHER_HEAD_KEY = Misfit(
    MisfitKind.KEY,
    "proof.head",
    "The head in the proof is signed with a key that the record's own does not follow on",
    "The proof is of another yard, or somebody else signed the record.",
)


def _wrong_key(public: str) -> Misfit:
    return Misfit(
        MisfitKind.KEY,
        f"{SEAL}.public_key",
        f"The record is signed with the key {fingerprint_of(public)}, which is not the one given"
        " and does not follow on it",
        "Somebody else signed it, or the yard lost its key and has a new one: ask the yard, not"
        " whoever gave you the file.",
    )


def _id_of(sealed: Mapping[str, Any], member: str) -> str:
    part = sealed.get(member)
    found = part.get("id") if isinstance(part, Mapping) else None
    return found if isinstance(found, str) else ""
