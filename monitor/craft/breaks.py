"""A craft's rows as they stand in the store, and a place where they are not what was written."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum
from typing import Any

from monitor.craft.canonical import digest_of

_PAPER = (
    "Compare it with a backup of the store and with the paper, and enter what is true, as a"
    " correction where it is of an entry; do not rely on what stands there now."
)
# No page and no API confirms: who says it has the store's machine, and with it the paper, at hand.
_CONFIRM = (
    " Then say so on the machine that laidup runs on, `laidup layup confirm {craft} --by NAME"
    " --compared`; until then nothing of this craft counts."
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
class OddRow:
    """A row that laidup never wrote so: some of its columns hold what cannot stand there."""

    table: str
    values: Mapping[str, str]  # every column, its value as Python shows it
    odd: Sequence[str]  # names of those columns


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredChain:
    """All rows of one craft that its chain vouches for, as they stand in the store."""

    craft: str
    links: Sequence[StoredLink] = ()
    entries: Sequence[StoredEntry] = ()
    # By the time of the move; a row that cannot be read is an empty mapping.
    moves: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    row: Mapping[str, Any] | None = None  # of the table of craft
    odd_rows: Sequence[OddRow] = ()  # of links and work; they stand in neither list above
    # Positions in the yard's order of writing that are missing there and may have been the last of
    # this chain; with each, of how many craft it may have been.
    lost: Mapping[int, int] = field(default_factory=dict)


_OF_YARD = re.compile(r"link (\d{1,12}) of the yard: deleted")


def part_of_yard(position: int) -> str:
    """Name a link by its place in the yard's order of writing."""
    return f"link {position} of the yard"


def position_of_key(key: str) -> int | None:
    """The place in the yard's order of a missing link whose break has that key; None for others."""
    found = _OF_YARD.fullmatch(key)
    return None if found is None else int(found[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """One place where the record is not what was written."""

    craft: str  # id; empty: of the yard's whole list of links
    part: str  # in words: "entry 4be1", "move of 2026-11-03T15:00:00Z", "craft row", "link 7"
    what: Tampering
    words: str
    remedy: str
    number: int | None = None  # of the link in its craft's chain; None where it has none
    known_since: datetime | None = None  # work was entered behind it, marked, at that time
    state: str = ""  # digest of what stands there now; empty where nothing stands
    entry: str | None = None  # id of the work that it is of; None: of something else

    @property
    def entry_stands(self) -> bool:
        """Whether it is of an entry that stands among the work, other than it was written."""
        return self.entry is not None and self.what is not Tampering.DELETED

    @property
    def key(self) -> str:
        """Names it, the same at every check until what stands there changes once more."""
        return f"{self.part}: {self.what}" + (f", {self.state}" if self.state else "")

    def __str__(self) -> str:
        return f"{self.words}. {self.remedy}"


def break_of(
    craft: str,
    part: str,
    what: Tampering,
    words: str,
    number: int | None = None,
    remedy: str = _PAPER,
    *,
    stands: object = None,
    entry: str | None = None,
) -> Break:
    """Make a break of a craft whose words begin with the part that it is about.

    ``entry`` is the id of the work that it is of.
    ``stands`` is what stands in that place now: a person's word answers for that, and for nothing
    that is put there afterwards. None: nothing stands there.
    """
    found = Break(
        craft=craft,
        part=part,
        what=what,
        words=f"{part} {words}",
        remedy=remedy,
        number=number,
        state="" if stands is None else digest_of(stands),
        entry=entry,
    )
    if found.entry_stands:
        return found
    return replace(found, remedy=remedy + _CONFIRM.format(craft=craft))
