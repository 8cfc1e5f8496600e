"""The trees of closed days as the store holds them: whether they fit their links, and their leaves.

Whoever compares readings with the trees, in the store or in an archive file, asks here.
"""

import json
import zlib
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any, NamedTuple

from monitor.clock import from_ms
from monitor.craft.breaks import Break, Tampering
from monitor.craft.links import YARD_CHAIN
from monitor.craft.proof_check import group_leaf
from monitor.craft.tree_cover import HashedTree
from monitor.store.day_trees import FoldedGroup
from monitor.store.transaction import Transaction
from monitor.yard.day_leaves import HOUR, DayGroup, ReadingSteps, hour_leaf
from monitor.yard.hourly import HOUR_MS
from monitor.yard.reading import Channel

_LEAVES_REMEDY = (
    "Put the store back from a backup in which they fit, and compare what came since; season"
    " records that were given out before stay good."
)


class HourLeaf(NamedTuple):
    """A leaf of an hour of a sensor, and of which channels its figures are."""

    channels: tuple[Channel, ...]
    said: list[Any]


class ClosedTrees:
    """The closed days of one yard from one day on, in one snapshot."""

    def __init__(self, tx: Transaction, since: date = date.min) -> None:
        """Read the links of the days and the groups of their trees, without leaves."""
        self._tx = tx
        self.closed: dict[str, Mapping[str, Any]] = {
            said["day"]: said
            for link in tx.layup.chain.chain_of(YARD_CHAIN)
            if (said := json.loads(link.body).get("day")) is not None
            and said["day"] >= since.isoformat()
        }
        self._groups = tx.day_trees.folded_groups(since, date.max)
        self._places = _places_of_sensors(self._groups)

    @property
    def sensors(self) -> set[str]:
        """Sensors of which there are leaves."""
        return set(self._places)

    def find_breaks(self) -> list[Break]:
        """Days whose groups are not those whose root their link holds."""
        days = sorted({*self.closed, *self._groups})
        return [
            one for day in days for one in _root_breaks(day, self.closed, self._groups.get(day, ()))
        ]

    def leaves_of_sensor(self, sensor: str) -> tuple[dict[int, list[HourLeaf]], list[Break]]:
        """Leaves of each hour of a sensor, by its beginning [ms]; the last of an hour counts.

        And the groups whose leaves are not those of their root.
        """
        leaves: dict[int, list[HourLeaf]] = {}
        unfit: list[Break] = []
        for day, group in self._places.get(sensor, ()):
            about = json.loads(group.about)
            try:
                channels = tuple(Channel(one) for one in about[2])
                own = self._tx.day_trees.group_leaves(day, [group.n])[group.n]
                fits = DayGroup.over_leaves(about, own).root == group.root
            except (ValueError, TypeError, zlib.error):
                fits = False
            if not fits:
                told = f"has leaves of {sensor} that are not those of their root"
                unfit.append(_day_break(day, Tampering.CHANGED, told))
                continue
            for leaf in own:
                leaves.setdefault(leaf[0] * HOUR_MS, []).append(HourLeaf(channels, leaf))
        return leaves, unfit


def leaf_of_rows(
    hour_ms: int, channels: Sequence[Channel], read: Mapping[Channel, Sequence[ReadingSteps]]
) -> list[Any] | None:
    """The leaf that readings of an hour give; None where another hand made them no readings."""
    try:
        return hour_leaf(hour_ms, channels, read)
    except (TypeError, ValueError):  # text where a number stood
        return None


def hour_words(hour_ms: int) -> str:
    """``2026-11-05 06:00 UTC``."""
    return f"{from_ms(hour_ms):%Y-%m-%d %H:%M} UTC"


def _places_of_sensors(
    groups: Mapping[str, Sequence[FoldedGroup]],
) -> dict[str, list[tuple[str, FoldedGroup]]]:
    """Where each sensor's leaves stand, in the order of the days."""
    found: dict[str, list[tuple[str, FoldedGroup]]] = {}
    for day in sorted(groups):
        for one in groups[day]:
            about = json.loads(one.about)
            if about[0] == HOUR:
                found.setdefault(about[1], []).append((day, one))
    return found


def _root_breaks(
    day: str, closed: Mapping[str, Mapping[str, Any]], groups: Sequence[FoldedGroup]
) -> Iterator[Break]:
    said = closed.get(day)
    if said is None:
        yield _day_break(day, Tampering.ADDED, "has leaves in the store, and no link of the record")
        return
    tree = HashedTree([group_leaf(json.loads(g.about), g.size, g.root) for g in groups])
    if tree.size < said["groups"]:
        told = f"had {said['groups']} groups of leaves, and has {tree.size}"
        yield _day_break(day, Tampering.DELETED, told)
    elif (tree.size, tree.root) != (said["groups"], said["root"]):
        told = "has other leaves than those whose root its link holds"
        yield _day_break(day, Tampering.CHANGED, told)


def _day_break(day: str, what: Tampering, told: str) -> Break:
    return Break(
        craft="",
        part=f"day {day}",
        what=what,
        words=f"The closed day {day} {told}",
        remedy=_LEAVES_REMEDY,
    )
