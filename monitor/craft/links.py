"""The links of a craft's chain: its work, its moves and what is known of it, hashed in turn."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from hashlib import sha256
from typing import Any

from monitor.craft.canonical import UNREADABLE, canonical_bytes, utc_text
from monitor.craft.craft_stays import Craft, MeasuredLag, Stay
from monitor.craft.layup import LayupEntry

# Stands where a craft's id does: the chain of the yard's days.
YARD_CHAIN = "(days)"
FIRST = "0" * 64  # what the first link of a chain names as the one before


class LinkKind(StrEnum):
    """What a link holds; in its body the content stands under this word."""

    ENTRY = "entry"  # a piece of work
    MOVE = "move"  # where the craft stands from when on
    CRAFT = "craft"  # a version of what is known of the craft
    DAY = "day"  # root of the tree over what the sensors read, and the alarms said, in a day
    BREAK = "break"  # marks that what stands before it did not hold when it was written
    UNKNOWN = "unknown"  # somebody wrote another word over it

    @classmethod
    def _missing_(cls, _: object) -> "LinkKind":
        return cls.UNKNOWN


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One link of a craft's chain.

    ``body`` is the canonical form (RFC 8785) of content, number, time of writing and the hash of
    the link before; ``hash`` is its SHA-256.
    """

    number: int
    body: str
    hash: str
    kind: LinkKind = LinkKind.ENTRY


def chain_link(
    kind: LinkKind,
    content: Mapping[str, Any],
    number: int,
    written_at: datetime,
    before: str,
    by: str = "",
) -> Link:
    """Link behind the one whose hash is ``before``.

    Parameters
    ----------
    kind : LinkKind
    content : mapping
        What `entry_json`, `move_json` or `craft_json` made.
    number : int
        Place in the craft's chain, from 0.
    written_at : datetime
        When it went into the record.
    before : str
        Hash of the link before it, `FIRST` for the first.
    by : str
        Who wrote it, where the content itself names nobody.
    """
    said: dict[str, Any] = {
        str(kind): dict(content),
        "number": number,
        "written_at": utc_text(written_at),
        "before": before,
    }
    if by:
        said["by"] = by
    body = canonical_bytes(said)
    return Link(number=number, body=body.decode(), hash=sha256(body).hexdigest(), kind=kind)


def first_entered_at(
    entry: LayupEntry, entries: Iterable[LayupEntry], links: Iterable[Link]
) -> datetime | None:
    """When a piece of work was told first, so that work told together keeps its order.

    Parameters
    ----------
    entry : LayupEntry
    entries : iterable of LayupEntry
        All on record of its craft: a correction stands in the place of what it corrects.
    links : iterable of Link
        Of its craft's chain.

    Returns
    -------
    datetime or None
        When the link was written, and a microsecond for each link before it, as all rows of a list
        are written at one time; None where the chain does not tell.
    """
    by_id = {one.id: one for one in entries}
    first, passed = entry, {entry.id}
    while (before := by_id.get(first.replaces)) is not None and before.id not in passed:
        first = before
        passed.add(first.id)
    for link in links:
        body = content_of_body(link.body)
        said = body.get(LinkKind.ENTRY)
        if link.kind is not LinkKind.ENTRY or not isinstance(said, dict):
            continue
        if said.get("id") == first.id:
            written = written_at_in(body)
            return None if written is None else written + timedelta(microseconds=link.number)
    return None


def written_at_in(body: Mapping[str, Any]) -> datetime | None:
    """When a link was written, by what its body says; None where it does not tell."""
    try:
        return datetime.fromisoformat(str(body.get("written_at")))
    except ValueError:
        return None


def move_json(stay: Stay) -> dict[str, Any]:
    """A move as JSON: only what was said, its time in UTC."""
    return _said(
        {
            "craft": stay.craft,
            "since": utc_text(stay.since),
            "space": stay.space,
            "berth": stay.berth,
            "by": stay.by,
        }
    )


def craft_json(craft: Craft) -> dict[str, Any]:
    """What is known of a craft as JSON; its owner by id, so that the name stands outside."""
    return _said(
        {
            "id": craft.id,
            "name": craft.name,
            "profile": craft.profile,
            "fittings": list(craft.fittings),
            "owner": craft.owner,
            "hull_number": craft.hull_number,
            "arrived": utc_text(craft.arrived_at),
            "left": None if craft.left_at is None else utc_text(craft.left_at),
            "measured": [
                {"circuit": one.circuit, "low_h": one.low_h, "high_h": one.high_h, "how": one.how}
                for one in craft.measured
            ],
            "note": craft.note,
        }
    )


def craft_from_json(said: Mapping[str, Any]) -> Craft:
    """The craft that `craft_json` wrote.

    Raises
    ------
    ValueError, KeyError, TypeError, AttributeError
        If it wrote none such.
    """
    left = said.get("left")
    return Craft(
        id=said["id"],
        name=said["name"],
        profile=said["profile"],
        fittings=tuple(said.get("fittings", ())),
        owner=said.get("owner", ""),
        hull_number=said.get("hull_number", ""),
        arrived_at=datetime.fromisoformat(said["arrived"]),
        left_at=None if left is None else datetime.fromisoformat(left),
        measured=tuple(MeasuredLag(**one) for one in said.get("measured", ())),
        note=said.get("note", ""),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftVersion:
    """What was known of a craft from some time on."""

    number: int  # of its link in the craft's chain
    craft: Craft
    at: datetime | None  # when it was written down; None: nobody can tell
    by: str


def craft_versions(links: Iterable[Link]) -> list[CraftVersion]:
    """What was known of a craft, in the order of writing.

    A version that cannot be read is left out: its record does not hold, and that is told.

    Parameters
    ----------
    links : iterable of Link
        Of one craft's chain.
    """
    found = []
    for link in links:
        if link.kind is not LinkKind.CRAFT:
            continue
        body = content_of_body(link.body)
        try:
            craft = craft_from_json(body[str(link.kind)])
        except UNREADABLE:
            continue
        said_by = str(body.get("by", ""))
        found.append(
            CraftVersion(number=link.number, craft=craft, at=written_at_in(body), by=said_by)
        )
    return found


def content_of_body(body: str) -> dict[str, Any]:
    """What the text of a link says; nothing where it is no JSON object, or too deeply nested."""
    try:
        said = json.loads(body)
    except (ValueError, RecursionError):
        return {}
    return said if isinstance(said, dict) else {}


def _said(fields: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in fields.items() if value not in (None, "", [])}
