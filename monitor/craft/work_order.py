"""In which order work of one and the same time was done: by what was written when."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from monitor.craft.act_table import CLAIMS, TABLE, Deed, Verdict, deeds_of
from monitor.craft.layup import Act, LayupEntry

# What is written within a working day of its first entry is told in the order of doing.
_SITTING = timedelta(hours=12)
# They undo work, or may; the table of circuits tells only of the others.
_ALSO_UNDO = frozenset(
    {
        Act.STOOD,
        Act.BATTERY_OFF_MAINTAINER,
        Act.BATTERY_CONNECTED,
        Act.BATTERY_LEFT_ABOARD,
        Act.COVER_OFF,
        Act.SNOW_LOAD,
        Act.BILGE_WET,
    }
)
_DOUBTS = frozenset({Deed.WATER_FOUND, Deed.OIL_WET, Deed.NOTHING_CAME})
_SAYS_SOMETHING = {Verdict.PROVES, Verdict.HINTS, Verdict.WARMTH}


def in_order_of_work(
    entries: Sequence[LayupEntry], written_at: Sequence[datetime | None]
) -> tuple[LayupEntry, ...]:
    """Entries so that those of one time stand in the order in which they were done.

    Parameters
    ----------
    entries : sequence of LayupEntry
        In the order of writing.
    written_at : sequence of datetime or None
        When each of them was written; None where that cannot be read.

    Returns
    -------
    tuple of LayupEntry
        What one list or one sitting tells of one time, often a day without an hour, stands as it
        was told. Between sittings nobody knows the order: what undoes work counts as done last.
    """
    arranged = list(entries)
    places: dict[datetime, list[int]] = {}
    for n, entry in enumerate(entries):
        places.setdefault(entry.at, []).append(n)
    for alike in places.values():
        sittings = _sittings_of(alike, written_at)
        if len(sittings) > 1:
            sittings.sort(key=lambda each: _undoing_rank([entries[n] for n in each]))
            told = [n for each in sittings for n in each]
            for place, n in zip(alike, told, strict=True):
                arranged[place] = entries[n]
    return tuple(arranged)


def with_doubts_last(entries: Sequence[LayupEntry]) -> list[LayupEntry]:
    """Of several words on one look at one time, let the one that doubts come last.

    Same act, same time and same circuits: that is one piece of work, told otherwise.
    """
    groups: dict[object, list[int]] = {}
    for n, entry in enumerate(entries):
        if entry.act in CLAIMS:
            groups.setdefault((entry.at, entry.act, frozenset(entry.circuits)), []).append(n)
    arranged = list(entries)
    for places in groups.values():
        told = sorted((entries[n] for n in places), key=_holds_doubt)
        for place, entry in zip(places, told, strict=True):
            arranged[place] = entry
    return arranged


def _holds_doubt(entry: LayupEntry) -> bool:
    return not _DOUBTS.isdisjoint(deeds_of(entry))


def undoes_work(entry: LayupEntry) -> bool:
    """Whether an entry can take protection away and gives none."""
    if entry.act in _ALSO_UNDO:
        return True
    said = {cell.verdict for deed in deeds_of(entry) for cell in TABLE[deed].values()}
    return Verdict.UNDOES in said and not said & _SAYS_SOMETHING


def _sittings_of(places: list[int], written_at: Sequence[datetime | None]) -> list[list[int]]:
    sittings: list[list[int]] = []
    began: datetime | None = None
    for n in places:
        at = written_at[n]
        if began is None or at is None or not timedelta(0) <= at - began <= _SITTING:
            sittings.append([])
            began = at
        sittings[-1].append(n)
    return sittings


def _undoing_rank(told: Sequence[LayupEntry]) -> int:
    """Sittings that undo nothing come first, those that end with an undoing act last."""
    undoing = [undoes_work(one) for one in told]
    return 0 if not any(undoing) else 2 if undoing[-1] else 1
