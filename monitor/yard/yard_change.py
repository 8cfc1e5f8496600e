"""What people change of the yard itself while it is watched: each change, and what they add up to.

The yard's file says what the yard is until somebody changes a part of it at the page. From then on
the store has the word on that one item (a space, a person, where a sensor hangs), and the list of
changes is all that the store has: what holds now is read off it, and nothing in it is rewritten.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

Item = Mapping[str, Any]  # as a block of the yard's file says it: texts, numbers, lists, tables

ALWAYS = datetime(1970, 1, 1, tzinfo=UTC)  # since when a place holds that was only written wrong


class YardPart(StrEnum):
    """Parts of the yard's file that the page may change; the words are keys in the store."""

    YARD = "yard"  # its name, place, zone and units, an item each
    SPACES = "spaces"
    SENSORS = "sensors"  # where each hangs; what else the file says of one stays the file's
    PEOPLE = "people"
    HELPERS = "helpers"
    SHELF = "shelf"
    DUTY = "duty"  # one item


ItemKey = tuple[YardPart, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemEdit:
    """What somebody wants one item to be; ``after`` None: it is to be gone."""

    part: YardPart
    key: str
    after: Item | None
    since: datetime | None = None  # from when it holds; None: from now on

    @property
    def item(self) -> ItemKey:
        """Which item."""
        return self.part, self.key


@dataclass(frozen=True, slots=True, kw_only=True)
class YardChange:
    """One item of the yard, changed by one person at one time.

    Invariant: it changes something; what was not there and is not there now is no change.
    """

    number: int  # in the order of writing, from 1
    at: datetime
    since: datetime  # from when it holds: a sensor may have hung there before somebody said so
    by: str  # a person's id, or what a key is called
    part: YardPart
    key: str
    before: Item | None  # None: it was not there
    after: Item | None  # None: it is gone
    undoes: int | None = None  # number of the change that this takes back

    def __post_init__(self) -> None:
        if self.before is None and self.after is None:
            raise ValueError(f"change {self.number} of {self.part} {self.key!r} changes nothing")

    @property
    def item(self) -> ItemKey:
        """Which item."""
        return self.part, self.key


def changes_by_item(changes: Iterable[YardChange]) -> dict[ItemKey, list[YardChange]]:
    """The changes of each item, in the order of writing."""
    found: dict[ItemKey, list[YardChange]] = {}
    for one in sorted(changes, key=lambda change: change.number):
        found.setdefault(one.item, []).append(one)
    return found


def standing_changes(changes: Iterable[YardChange]) -> list[YardChange]:
    """Those that nobody took back, without the acts of taking back, in the order of writing."""
    ordered = sorted(changes, key=lambda change: change.number)
    undone: set[int] = set()
    for one in reversed(ordered):  # what takes back may have been taken back itself
        if one.undoes is not None and one.number not in undone:
            undone.add(one.undoes)
    return [one for one in ordered if one.undoes is None and one.number not in undone]
