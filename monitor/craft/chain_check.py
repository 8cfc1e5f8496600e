"""Does a craft's chain hold, and do the tables say what its links say? If not: where, in words."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum
from hashlib import sha256
from typing import Any

from monitor.craft.links import FIRST, LinkKind

_PAPER = (
    "Compare it with a backup of the store and with the paper, and enter what is true as a further"
    " entry; do not rely on what stands there now."
)


class Tampering(StrEnum):
    """What became of a row behind the record's back."""

    CHANGED = "changed"
    DELETED = "deleted"
    ADDED = "added"
    REORDERED = "reordered"
    CUT = "cut off"  # the newest links of the record are gone
    REWRITTEN = "rewritten"  # a head that somebody kept does not fit


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredLink:
    """A row of the list of links; ``body`` is empty where the entry's own row has it."""

    position: int  # in the order of writing of the whole yard, from 0
    number: int  # in the craft's own chain, from 0
    kind: str
    hash: str
    body: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredEntry:
    """A row of lay-up work."""

    number: int
    entry_id: str
    at_ms: int
    hash: str
    body: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredChain:
    """All rows of one craft that its chain vouches for, as they stand in the store."""

    craft: str
    links: Sequence[StoredLink] = ()
    entries: Sequence[StoredEntry] = ()
    # By the time of the move; a row that cannot be read is an empty mapping.
    moves: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    row: Mapping[str, Any] | None = None  # of the table of craft


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """One place where the record is not what was written."""

    craft: str  # id; empty: of the yard's whole list of links
    part: str  # "entry 4be1", "move of 2026-11-03T15:00:00Z", "craft row", "link 7"
    what: Tampering
    words: str
    remedy: str
    number: int | None = None  # of the link in its craft's chain; None where it has none
    known_since: datetime | None = None  # work was entered behind it, marked, at that time

    @property
    def key(self) -> str:
        """Names it, the same at every check."""
        return f"{self.part}: {self.what}"

    def __str__(self) -> str:
        return f"{self.words}. {self.remedy}"


def breaks_of(chain: StoredChain) -> tuple[Break, ...]:
    """Every break of one craft's record, the first of its chain first; empty if it holds.

    Parameters
    ----------
    chain : StoredChain
        Its rows, the links and entries in any order.
    """
    bodies = _read_bodies(chain)
    found = [
        *_link_breaks(chain, bodies),
        *_move_breaks(chain, bodies),
        *_row_breaks(chain, bodies),
    ]
    last = max((one.number for one in chain.links), default=-1)
    found.sort(key=lambda one: last + 1 if one.number is None else one.number)
    known = _marked(bodies)
    return tuple(replace(one, known_since=known.get(one.key)) for one in found)


def _read_bodies(chain: StoredChain) -> dict[int, dict[str, Any]]:
    """What each link says, by its number; empty for one that cannot be read."""
    of_entries = {one.number: one.body for one in chain.entries}
    return {
        link.number: _parsed(
            of_entries.get(link.number, "") if link.kind == LinkKind.ENTRY else link.body
        )
        for link in chain.links
    }


def _parsed(body: str) -> dict[str, Any]:
    try:
        said = json.loads(body)
    except ValueError:
        return {}
    return said if isinstance(said, dict) else {}


def _link_breaks(chain: StoredChain, bodies: Mapping[int, dict[str, Any]]) -> Iterator[Break]:
    links = {one.number: one for one in chain.links}
    entries = {one.number: one for one in chain.entries}
    places = {one.hash: one.number for one in chain.links}
    expected, position = 0, -1
    before: StoredLink | None = None
    fits = True  # whether the link before is there to be compared with
    for number in sorted(links.keys() | entries.keys()):
        link, entry = links.get(number), entries.get(number)
        if link is None:
            expected += number == expected
            yield _break(
                *(chain.craft, f"entry {entry.entry_id if entry else number}", Tampering.ADDED),
                "stands among the work, and its link is gone or was never written",
            )
            fits = False
            continue
        if number != expected:
            yield _missing(chain.craft, expected, number)
            fits = False
        expected = number + 1
        part = _part(link, entry, bodies[number])
        if link.kind == LinkKind.ENTRY and entry is None:
            yield _break(
                *(chain.craft, part, Tampering.DELETED),
                f"was written as link {number} of the chain and stands there no more",
                number,
            )
        elif wrong := _own_fault(chain.craft, link, entry, bodies[number], places):
            yield _break(chain.craft, part, *wrong, number)
        elif fits and bodies[number].get("before") != (before.hash if before else FIRST):
            yield _behind_another(chain.craft, before, entries, bodies, part, number)
        if link.position <= position:
            yield _break(
                *(chain.craft, part, Tampering.REORDERED),
                "stands before an older link in the yard's order of writing",
                number,
            )
        before, fits, position = link, True, link.position


def _own_fault(
    craft: str,
    link: StoredLink,
    entry: StoredEntry | None,
    said: Mapping[str, Any],
    places: Mapping[str, int],
) -> tuple[Tampering, str] | None:
    """What is wrong with a link looked at alone."""
    body = link.body if entry is None or link.kind != LinkKind.ENTRY else entry.body
    digest = sha256(body.encode()).hexdigest()
    if digest != link.hash:
        other = places.get(digest)
        if other is not None:
            return Tampering.REORDERED, f"stands at place {link.number} and was written at {other}"
        return Tampering.CHANGED, "was changed after it was written"
    content = said.get(link.kind)
    if not isinstance(content, dict) or (link.kind == LinkKind.ENTRY and link.body):
        return Tampering.CHANGED, "is not of the kind that the list of links says"
    if said.get("number") != link.number:
        written = said.get("number")
        return Tampering.REORDERED, f"stands at place {link.number} and was written at {written}"
    of_craft = content.get("id" if link.kind == LinkKind.CRAFT else "craft", craft)
    if of_craft != craft:
        return Tampering.REORDERED, f"was written in the chain of craft {of_craft}"
    if entry is not None and (entry.hash, entry.entry_id, entry.at_ms) != (
        link.hash,
        content.get("id"),
        round(datetime.fromisoformat(content["at"]).timestamp() * 1000),
    ):
        return Tampering.CHANGED, "has another id, time or hash in its row than it was written with"
    return None


def _behind_another(
    craft: str,
    before: StoredLink | None,
    entries: Mapping[int, StoredEntry],
    bodies: Mapping[int, dict[str, Any]],
    part: str,
    number: int,
) -> Break:
    """A link that was written behind another than stands before it: that one is not what it was."""
    if before is None:
        return _break(
            craft, part, Tampering.REORDERED, "does not begin the chain, but stands first", number
        )
    changed = _part(before, entries.get(before.number), bodies[before.number])
    return _break(
        *(craft, changed, Tampering.CHANGED),
        f"is not what link {number} was written behind: it was changed with its hash, or put in",
        before.number,
    )


def _missing(craft: str, first: int, after: int) -> Break:
    several = f"links {first} to {after - 1}" if after - first > 1 else f"link {first}"
    are = "are" if after - first > 1 else "is"
    return _break(craft, several, Tampering.DELETED, f"of the chain {are} gone", first)


def _move_breaks(chain: StoredChain, bodies: Mapping[int, dict[str, Any]]) -> Iterator[Break]:
    written = {}
    for number, said in sorted(bodies.items()):
        content = said.get(LinkKind.MOVE)
        if isinstance(content, dict):
            written[str(content.get("since"))] = (number, content)
    for since, (number, content) in written.items():
        row, part = chain.moves.get(since), f"move of {since}"
        told = f"The chain says that it stood in {_place(content)} from then on."
        if row is None:
            yield _break(
                *(chain.craft, part, Tampering.DELETED),
                *("is in the chain and not among the moves", number, told),
            )
        elif row != content:
            yield _break(
                *(chain.craft, part, Tampering.CHANGED),
                f"now says {_place(row) or 'nothing that can be read'}",
                *(number, told),
            )
    for since, row in chain.moves.items():
        if since not in written:
            yield _break(
                *(chain.craft, f"move of {since}", Tampering.ADDED),
                f"to {_place(row)} is among the moves and not in the chain",
                None,
                "If it was moved then, enter that with `laidup layup move`.",
            )


def _place(content: Mapping[str, Any]) -> str:
    return "/".join(str(content[key]) for key in ("space", "berth") if content.get(key))


def _row_breaks(chain: StoredChain, bodies: Mapping[int, dict[str, Any]]) -> Iterator[Break]:
    versions = [
        (number, said[LinkKind.CRAFT])
        for number, said in sorted(bodies.items())
        if isinstance(said.get(LinkKind.CRAFT), dict)
    ]
    if not versions:
        if chain.row is not None:
            yield _break(
                *(chain.craft, "craft row", Tampering.ADDED),
                "is in the table of craft and not in the chain",
                None,
                "Bring the craft in with `laidup import craft`.",
            )
        return
    number, last = versions[-1]
    if chain.row is None:
        yield _break(
            *(chain.craft, "craft row", Tampering.DELETED),
            *("is in the chain and not in the table of craft", number),
            "Bring the craft in again with `laidup import craft`; its work is still on record.",
        )
    elif chain.row != last:
        odd = sorted(key for key in {*last, *chain.row} if last.get(key) != chain.row.get(key))
        told = "; ".join(f"{key}: {json.dumps(last.get(key), ensure_ascii=False)}" for key in odd)
        yield _break(
            *(chain.craft, "craft row", Tampering.CHANGED),
            f"differs in {', '.join(odd)} from what was written",
            number,
            f"The chain says {told}. Put that back with `laidup import craft`.",
        )


def _part(link: StoredLink, entry: StoredEntry | None, said: Mapping[str, Any]) -> str:
    content = said.get(link.kind)
    content = content if isinstance(content, dict) else {}
    if link.kind == LinkKind.ENTRY and entry is not None:
        return f"entry {entry.entry_id}"
    if link.kind == LinkKind.MOVE and "since" in content:
        return f"move of {content['since']}"
    if link.kind == LinkKind.CRAFT:
        return f"version {link.number} of the craft row"
    return f"link {link.number}"


def _break(
    craft: str,
    part: str,
    what: Tampering,
    words: str,
    number: int | None = None,
    remedy: str = _PAPER,
) -> Break:
    return Break(
        craft=craft, part=part, what=what, words=f"{part} {words}", remedy=remedy, number=number
    )


def _marked(bodies: Mapping[int, dict[str, Any]]) -> dict[str, datetime]:
    """Breaks that a link behind them names, and since when."""
    known: dict[str, datetime] = {}
    for _, said in sorted(bodies.items()):
        content = said.get(LinkKind.BREAK)
        if isinstance(content, dict):
            for key in content.get("found", ()):
                known.setdefault(key, datetime.fromisoformat(said["written_at"]))
    return known
