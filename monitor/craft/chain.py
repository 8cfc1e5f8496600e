"""The chain of hashes over canonical entries, which shows when one was changed."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256

import rfc8785

from monitor.craft.canonical import entry_json, utc_text
from monitor.craft.layup import LayupEntry

FIRST = "0" * 64  # what the first entry of a chain names as the one before


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One entry in its craft's chain.

    ``body`` is the canonical form (RFC 8785) of entry, number, time of writing and the hash of
    the entry before; ``hash`` is its SHA-256.
    """

    number: int
    body: str
    hash: str


def link(entry: LayupEntry, number: int, written_at: datetime, before: str) -> Link:
    """Chain an entry behind the one whose hash is ``before``."""
    body = rfc8785.dumps(
        {
            "entry": entry_json(entry),
            "number": number,
            "written_at": utc_text(written_at),
            "before": before,
        }
    )
    return Link(number=number, body=body.decode(), hash=sha256(body).hexdigest())


def breaks(links: Iterable[Link]) -> list[str]:
    """Where a chain does not hold; empty if nothing was changed, left out or put in between."""
    found, before = [], FIRST
    for place, one in enumerate(links):
        if one.number != place:
            found.append(f"entry {one.number} stands where entry {place} should")
        if sha256(one.body.encode()).hexdigest() != one.hash:
            found.append(f"entry {one.number} was changed after it was written")
        if json.loads(one.body).get("before") != before:
            found.append(f"entry {one.number} does not follow the one before it")
        before = one.hash
    return found
