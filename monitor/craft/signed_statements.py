"""What a yard's key signs beside records: the yard's head, and which key takes its place."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from monitor.craft.canonical import canonical_bytes, utc_text
from monitor.craft.merkle import RecordHead
from monitor.craft.signing_key import SigningKey, TrustedKey, is_signed
from monitor.errors import QuantityError

VERSION = 1
HEAD, KEY = "laidup_head", "laidup_key"
_HEAD_PARTS = frozenset({HEAD, "yard", "count", "root", "at"})
_SEAL_PARTS = frozenset({"algorithm", "public_key", "signature", "successions"})
_SIGNATURES = frozenset({"signature_old", "signature_new"})
_KEY_PARTS = frozenset({KEY, "yard", "old", "new", "at"})


def sign_head(head: RecordHead, yard: str, at: datetime, key: SigningKey) -> dict[str, Any]:
    """Sign a head that has all its 64 digits.

    Returns
    -------
    dict
        JSON: the head, the yard's id, the time, the key and its signature over the canonical form
        (RFC 8785) of the first five.
    """
    said = {
        HEAD: VERSION,
        "yard": yard,
        "count": head.count,
        "root": head.root,
        "at": utc_text(at),
    }
    signature = key.sign_bytes(canonical_bytes(said))
    return said | {"public_key": key.public, "signature": signature}


def head_in(said: object, yard: str) -> RecordHead | None:
    """The head in such a statement; None where its own key did not sign it for that yard."""
    if not isinstance(said, Mapping) or said.get("yard") != yard or said.get(HEAD) != VERSION:
        return None
    plain = {key: one for key, one in said.items() if key in _HEAD_PARTS}
    if not is_signed(canonical_bytes(plain), said.get("signature"), said.get("public_key")):
        return None
    try:
        head = RecordHead.parse(f"{plain.get('count')}-{plain.get('root')}")
    except QuantityError:
        return None
    return head if len(head.root) == 64 else None


def succession_of(old: SigningKey, new: SigningKey, yard: str, at: datetime) -> dict[str, Any]:
    """The word of a yard's key that another takes its place, signed by both.

    Parameters
    ----------
    old, new : SigningKey
    yard : str
        The yard's id.
    at : datetime
        From when on the new one signs.
    """
    said = {
        KEY: VERSION,
        "yard": yard,
        "old": old.public,
        "new": new.public,
        "at": utc_text(at),
    }
    data = canonical_bytes(said)
    return said | {"signature_old": old.sign_bytes(data), "signature_new": new.sign_bytes(data)}


def next_key(said: object, yard: str) -> tuple[str, str] | None:
    """Old and new public key of a succession; None where both have not signed it for this yard."""
    if not isinstance(said, Mapping) or said.get(KEY) != VERSION:
        return None
    plain = {key: one for key, one in said.items() if key not in _SIGNATURES}
    if plain.get("yard") != yard or set(plain) != _KEY_PARTS:
        return None
    data = canonical_bytes(plain)
    old, new = plain["old"], plain["new"]
    if is_signed(data, said.get("signature_old"), old) and is_signed(
        data, said.get("signature_new"), new
    ):
        return str(old), str(new)
    return None


def words_leading_to(
    signer: str, successions: Sequence[Mapping[str, Any]], yard: str
) -> list[Mapping[str, Any]]:
    """Words of a yard's keys by which one reaches the key that signs, in the order given.

    A word for a key that was lost, or that nobody ever had, leads nowhere.
    """
    keys = [next_key(one, yard) for one in successions]
    reached, found = {signer}, set()
    for _ in successions:  # each adds one at least, or none is left that leads on
        more = {
            n
            for n, pair in enumerate(keys)
            if n not in found and pair is not None and pair[1] in reached and pair[0] not in reached
        }
        if not more:
            break
        found |= more
        reached |= {pair[0] for n in more if (pair := keys[n]) is not None}
    return [one for n, one in enumerate(successions) if n in found]


def is_bare_seal(seal: Mapping[str, Any], signer: str, yard: str) -> bool:
    """Whether a seal, which nothing signs, holds nothing but its members and words for its key."""
    successions = seal.get("successions")
    return (
        set(seal) == _SEAL_PARTS
        and isinstance(successions, list)
        and all(next_key(one, yard) is not None for one in successions)
        and len({one["old"] for one in successions}) == len(successions)
        and len(words_leading_to(signer, successions, yard)) == len(successions)
    )


def is_reached(signer: str, trusted: TrustedKey, successions: object, yard: str) -> bool:
    """Whether a key is the one that somebody trusts, or follows on it key by key."""
    follows = dict(
        found
        for one in (successions if isinstance(successions, list) else ())
        if (found := next_key(one, yard)) is not None
    )
    seen: set[str] = set()
    starts = {key for key in (*follows, signer) if trusted.fits_key(key)}
    while starts:
        key = starts.pop()
        if key == signer:
            return True
        seen.add(key)
        if key in follows and follows[key] not in seen:
            starts.add(follows[key])
    return False
