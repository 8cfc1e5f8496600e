"""Which craft stand in one berth at the same time: one of them is elsewhere, or has left."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from monitor.craft.craft_stays import Craft, stay_at
from monitor.craft.record import CraftRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedBerth:
    """Craft that the record has in one berth, in the order of their coming.

    The record errs, and nobody knows in which of them: all are judged as it has them.
    """

    space: str
    berth: str
    craft: tuple[Craft, ...]  # two or more
    since: datetime  # when the second of them came


def shared_berths(records: Iterable[CraftRecord], at: datetime) -> list[SharedBerth]:
    """Find the berths that hold more than one craft at a time, by space and berth.

    Parameters
    ----------
    records : iterable of CraftRecord
    at : datetime
        The time to look at; what was put right before is no fault any more.

    Returns
    -------
    list of SharedBerth
        Craft that stand in a space without a berth of their own share none.
    """
    standing: dict[tuple[str, str], list[tuple[datetime, Craft]]] = defaultdict(list)
    for record in records:
        stay = stay_at(record.stays, at)
        if stay is None or not stay.berth or not record.in_yard_at(at):
            continue
        came = max(stay.since, record.craft.arrived_at)
        standing[stay.space, stay.berth].append((came, record.craft))
    found = []
    for (space, berth), craft in sorted(standing.items()):
        if len(craft) > 1:
            craft.sort(key=lambda one: (one[0], one[1].id))
            found.append(
                SharedBerth(
                    space=space,
                    berth=berth,
                    craft=tuple(one for _, one in craft),
                    since=craft[1][0],
                )
            )
    return found
