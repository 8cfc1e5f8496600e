"""The leaves of a day's tree: an hour of a sensor, a change of an alarm, a letter, who was told.

docs/record-file.md says them byte by byte. Values are whole steps of the channel's resolution, as
the store keeps them, so that no leaf rests on how a program writes a fraction.
"""

import base64
import json
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any, NamedTuple

from monitor.craft.canonical import canonical_bytes
from monitor.craft.proof_check import group_leaf, marks_of
from monitor.craft.tree_cover import HashedTree
from monitor.yard.hourly import HOUR_MS
from monitor.yard.reading import JUDGED_ON, Channel

HOUR, ALARM, LETTER, TOLD = "hour", "alarm", "letter", "told"
_USABLE = frozenset(int(flag) for flag in JUDGED_ON)


class ReadingSteps(NamedTuple):
    """A reading as the store keeps it."""

    at_ms: int
    value: int
    raw: int | None  # what was sent, where a correction made it differ
    flag: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DayGroup:
    """Leaves of one day that are of one thing: a sensor, a craft's alarms, a person's letters."""

    of: tuple[Any, ...]  # JSON; begins each of its leaves
    leaves: tuple[list[Any], ...]
    size: int
    root: str  # of the tree over them, hex

    @classmethod
    def over_leaves(cls, of: Sequence[Any], leaves: Sequence[list[Any]]) -> "DayGroup":
        """Group leaves that stand in the order of their tree."""
        tree = HashedTree([canonical_bytes([*of, *one]) for one in leaves])
        return cls(of=tuple(of), leaves=tuple(leaves), size=tree.size, root=tree.root)

    @property
    def packed(self) -> bytes:
        """The leaves in few bytes, for the store."""
        return zlib.compress(canonical_bytes(list(self.leaves)))

    @property
    def leaf(self) -> bytes:
        """What the day's tree takes of it."""
        return group_leaf(self.of, self.size, self.root)

    def as_shown(self) -> dict[str, Any]:
        """As a proof shows it, with every leaf."""
        own = [canonical_bytes([*self.of, *one]) for one in self.leaves]
        return {"of": list(self.of), "leaves": list(self.leaves), "marks": marks_of(own)}

    def as_folded(self) -> dict[str, Any]:
        """As a proof names it without its leaves."""
        return {"of": list(self.of), "size": self.size, "root": self.root}


def unpack_leaves(packed: bytes) -> tuple[list[Any], ...]:
    """The leaves that `DayGroup.packed` gave.

    Raises
    ------
    ValueError, zlib.error
        If another hand wrote over them.
    """
    return tuple(json.loads(zlib.decompress(packed)))


def sensor_group(sensor: str, channels: Sequence[Channel], leaves: Sequence[list[Any]]) -> DayGroup:
    """Hours of one sensor, in order of time."""
    return DayGroup.over_leaves((HOUR, sensor, [str(one) for one in channels]), leaves)


def hour_leaf(
    hour_ms: int, channels: Sequence[Channel], rows: Mapping[Channel, Sequence[ReadingSteps]]
) -> list[Any]:
    """What a sensor read in one hour.

    Parameters
    ----------
    hour_ms : int
        Its beginning, UTC.
    channels : sequence of Channel
        In the order of the figures.
    rows : mapping
        Readings of the hour by channel, each in order of time.

    Returns
    -------
    list
        The hour, counted from 1970; the digest of the raw rows; for each channel how many of its
        readings are judged on, their lowest, highest and mean, in steps; None without any reading.
    """
    figures = [_figures(rows.get(one, ())) for one in channels]
    return [hour_ms // HOUR_MS, raw_digest(rows), *figures]


def raw_digest(rows: Mapping[Channel, Sequence[ReadingSteps]]) -> str:
    """SHA-256 of an hour's raw rows in canonical form, as base64url without padding (43 signs)."""
    said = [[str(channel), rows[channel]] for channel in sorted(rows) if rows[channel]]
    # Whole numbers, null and plain names: Python's own encoder writes what RFC 8785 asks for.
    written = json.dumps(said, separators=(",", ":")).encode()
    return base64.urlsafe_b64encode(sha256(written).digest()).decode().rstrip("=")


def _figures(rows: Sequence[ReadingSteps]) -> list[int | None] | None:
    if not rows:
        return None
    values = [one.value for one in rows if one.flag in _USABLE]
    if not values:
        return [0, None, None, None]
    return [len(values), min(values), max(values), round(sum(values) / len(values))]
