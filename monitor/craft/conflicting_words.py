"""Several words on one piece of work, or on one look: the one that doubts counts last."""

from collections.abc import Sequence
from datetime import datetime

from monitor.craft.act_table import CLAIMS, Deed, deeds_of
from monitor.craft.layup import Act, LayupEntry
from monitor.craft.work_order import HALF_DAY, PlacedWork, place_work

_LOOKS = frozenset({Act.INSPECTED, Act.STOOD})
_DOUBTS = frozenset({Deed.WATER_FOUND, Deed.OIL_WET, Deed.NOTHING_CAME})


def judged_order(entries: Sequence[LayupEntry], until: datetime | None = None) -> list[PlacedWork]:
    """What counts by ``until``, exactly in the order in which circuits are judged by it."""
    return with_doubts_last(place_work(entries, until))


def with_doubts_last(work: Sequence[PlacedWork]) -> list[PlacedWork]:
    """Of several words on one look at one time, let the one that doubts come last.

    Same act, same time or day and same circuits: that is one piece of work, told otherwise. So is
    water seen at the time at which another looked at the same circuit, or set it down to run out.
    """
    arranged = list(work)
    for find in (_one_work, _one_look):
        for places in find(arranged):
            told = sorted((arranged[n].entry for n in places), key=_holds_doubt)
            for place, entry in zip(places, told, strict=True):
                arranged[place] = PlacedWork(at=arranged[place].at, entry=entry)
    return arranged


def better_words(work: Sequence[PlacedWork]) -> dict[str, LayupEntry]:
    """What tells better of a look than the doubt that counts, by the doubt's id."""
    found: dict[str, LayupEntry] = {}
    for places in (*_one_work(work), *_one_look(work)):
        told = [work[n].entry for n in places]
        better = [one for one in told if not _holds_doubt(one)]
        found.update({one.id: better[-1] for one in told if better and _holds_doubt(one)})
    return found


def _one_work(work: Sequence[PlacedWork]) -> list[list[int]]:
    """Places of several claims on the same circuits by the same act at one time or day."""
    groups: dict[object, list[int]] = {}
    for n, (one, day) in enumerate(zip(work, _times_or_days(work), strict=True)):
        if one.entry.act in CLAIMS:
            same = (day, one.entry.act, frozenset(one.entry.circuits))
            groups.setdefault(same, []).append(n)
    return [places for places in groups.values() if len(places) > 1]


def _one_look(work: Sequence[PlacedWork]) -> list[list[int]]:
    """Places of looks at one time or day of which one found water where another did not."""
    groups: dict[datetime, list[int]] = {}
    for n, (one, day) in enumerate(zip(work, _times_or_days(work), strict=True)):
        if one.entry.act in _LOOKS:
            groups.setdefault(day, []).append(n)
    found = []
    for places in groups.values():
        wet = [n for n in places if _found_water(work[n].entry)]
        dry = [n for n in places if n not in wet]
        told = [
            n
            for n in places
            if any(
                _look_alike(work[n].entry, work[other].entry)
                for other in (dry if n in wet else wet)
            )
        ]
        found.extend([told] if told else [])
    return found


def _times_or_days(work: Sequence[PlacedWork]) -> list[datetime]:
    """The time of each entry, or the beginning of a day of which some hour is not told."""
    days = [one.entry.day_began for one in work if one.entry.day_began is not None]
    return [
        next((day for day in days if day <= one.entry.at < day + 2 * HALF_DAY), one.entry.at)
        for one in work
    ]


def _found_water(entry: LayupEntry) -> bool:
    return Deed.WATER_FOUND in deeds_of(entry)


def _look_alike(one: LayupEntry, other: LayupEntry) -> bool:
    """Whether two looks may be one: at circuits of both, and it stood no differently meanwhile."""
    postures = {one.posture, other.posture} - {None}
    named, also = set(one.circuits), set(other.circuits)
    return len(postures) < 2 and (not named or not also or bool(named & also))


def _holds_doubt(entry: LayupEntry) -> bool:
    return not _DOUBTS.isdisjoint(deeds_of(entry))
