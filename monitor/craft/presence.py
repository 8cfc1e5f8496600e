"""When a craft was in the yard: every time that it came, left and came back."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from monitor.craft.kept import Craft
from monitor.craft.layup import LEAVES, Act, LayupEntry


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """A time in the yard: ``since <= at < until``; until None: it has not left."""

    since: datetime
    until: datetime | None = None

    def holds(self, at: datetime) -> bool:
        """Whether that time lies in it."""
        return self.since <= at and (self.until is None or at < self.until)


def intervals_in_yard(craft: Craft, entries: Iterable[LayupEntry]) -> tuple[Interval, ...]:
    """Every time that a craft was in the yard, in order.

    Parameters
    ----------
    craft : Craft
        Its first arrival, and the day on which its list says that it left.
    entries : iterable of LayupEntry
        Those that stand; of them only leaving and coming back matter. A craft that was entered in
        error is in the yard no more from then on.
    """
    turns = [(craft.arrived_at, True)]
    if craft.left_at is not None:
        turns.append((craft.left_at, False))
    turns.extend(
        (entry.at, entry.act is Act.BROUGHT_BACK)
        for entry in entries
        if entry.act in LEAVES or entry.act is Act.BROUGHT_BACK
    )
    found: list[Interval] = []
    since: datetime | None = None
    for at, comes in sorted(turns):  # of one moment: gone before it is back
        if comes and since is None:
            since = at
        elif not comes and since is not None:
            found.append(Interval(since=since, until=at))
            since = None
    if since is not None:
        found.append(Interval(since=since))
    return tuple(found)
