"""The order in which several lists and people tell the work of one day, merged with care."""

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta

from monitor.craft.layup import LayupEntry
from monitor.craft.work_order import list_standing, places_of_one_time, undoes_work

# What one person writes within a working day of the first entry is told in the order of doing.
_SITTING = timedelta(hours=12)
_NEVER = datetime.min.replace(tzinfo=UTC)


def in_order_of_work(
    entries: Sequence[LayupEntry], written_at: Sequence[datetime | None]
) -> tuple[LayupEntry, ...]:
    """Entries so that those of one time or day stand in the order in which they were done.

    Parameters
    ----------
    entries : sequence of LayupEntry
        In the order of writing.
    written_at : sequence of datetime or None
        When each of them was written; None where that cannot be read.

    Returns
    -------
    tuple of LayupEntry
        What one list, or one person in one sitting, tells of a day without hours stands as it was
        told. Between sittings nobody knows the order: what undoes work counts as done as late as
        the order inside each allows. A correction counts
        in the place and the sitting of what it corrects. What was moved from another craft keeps
        the order in which it was told there.
    """
    arranged = list(entries)
    standing = list_standing(entries)
    now_said = {one.place: one.entry for one in standing}
    for alike in places_of_one_time(standing):
        told = _carefully_merged(_sittings_of(alike, now_said, written_at), now_said)
        for place, n in zip(alike, told, strict=True):
            arranged[place] = entries[n]
    return tuple(arranged)


def _sittings_of(
    places: Iterable[int],
    now_said: dict[int, LayupEntry],
    written_at: Sequence[datetime | None],
) -> list[list[int]]:
    """Places by the sitting in which they were told; nobody told here what was moved from there."""
    told: dict[str, list[tuple[datetime | None, int]]] = {}
    for n in places:
        entry = now_said[n]
        at = entry.told_at if entry.moved_from else written_at[n]
        told.setdefault(entry.moved_from, []).append((at, n))
    sittings: list[list[int]] = []
    for craft, several in told.items():
        if craft:
            several.sort(key=lambda one: (one[0] is not None, one[0] or _NEVER, one[1]))
        open_at: dict[str, tuple[datetime, list[int]]] = {}  # when each writer's sitting began
        last: tuple[datetime | None, list[int]] = (None, [])
        for at, n in several:
            writer = _writer_of(now_said[n])
            began, sitting = open_at.get(writer, (None, []))
            if at is not None and at == last[0]:
                sitting = last[1]  # of one list, whoever did its work
            elif at is None or began is None or not timedelta(0) <= at - began <= _SITTING:
                sitting = []
                sittings.append(sitting)
                if at is not None:
                    open_at[writer] = (at, sitting)
            sitting.append(n)
            if at is not None:
                open_at.setdefault(writer, (at, sitting))
            last = (at, sitting)
    return sittings


def _writer_of(entry: LayupEntry) -> str:
    """Who wrote an entry down, as far as it says: its writer, else who did the work."""
    return entry.entered_by or entry.by


def _carefully_merged(sittings: list[list[int]], now_said: dict[int, LayupEntry]) -> list[int]:
    """Places of several sittings in one order that keeps each, what undoes as late as can be.

    Nobody knows which came first, nor whether they came in turns. So work of any sitting that
    undoes nothing goes first; where each begins with what undoes, the one with most other work
    behind that goes on, so that the others' undoing comes behind that work too.
    """
    undoes = {n: undoes_work(now_said[n]) for each in sittings for n in each}
    waiting = [list(each) for each in sittings]
    told: list[int] = []
    while waiting:
        best = min(waiting, key=lambda each: (undoes[each[0]], -sum(not undoes[n] for n in each)))
        told.append(best.pop(0))
        waiting = [each for each in waiting if each]
    return told
