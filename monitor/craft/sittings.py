"""The order in which several lists and people tell the work of one day, merged with care."""

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from itertools import permutations, product

from monitor.craft.layup import LayupEntry
from monitor.craft.work_order import list_standing, places_of_one_time, undoes_work

# What one person writes within a working day of the first entry is told in the order of doing.
_SITTING = timedelta(hours=12)
_NEVER = datetime.min.replace(tzinfo=UTC)


_MOST_TURNED = 3  # sittings of one day of which every order is tried
_MOST_ORDERS = 24  # of one craft's whole record


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


def possible_orders(
    entries: Sequence[LayupEntry], written_at: Sequence[datetime | None]
) -> tuple[tuple[str, ...], ...]:
    """The few orders that days without hours leave open, of which the worst is to count.

    Parameters
    ----------
    entries : sequence of LayupEntry
        In the order of writing.
    written_at : sequence of datetime or None
        When each of them was written; None where that cannot be read.

    Returns
    -------
    tuple of tuple of str
        Ids of all entries in each order, 24 at most; empty where nothing is left open. They do not
        depend on who wrote first. Of three sittings on a day every order is among them, each whole
        behind the other and in turns with what undoes as late as can be; of more, each of them
        first and last. Of many such days one is turned at a time.
    """
    standing = list_standing(entries)
    now_said = {one.place: one.entry for one in standing}
    open_days: list[tuple[list[int], list[list[int]]]] = []
    for alike in places_of_one_time(standing):
        sittings = _sittings_of(alike, now_said, written_at)
        if len(sittings) > 1:
            open_days.append((alike, _ways_to_merge(sittings, now_said)))
    ways = [several for _, several in open_days]
    count = 1
    for several in ways:
        count *= len(several)
    if count <= 1:
        return ()
    first = [several[0] for several in ways]
    turned = (
        [list(each) for each in product(*ways)]
        if count <= _MOST_ORDERS
        else [
            first,
            *(
                [*first[:n], way, *first[n + 1 :]]
                for n, several in reversed(list(enumerate(ways)))
                for way in several[1:]
            ),
        ][:_MOST_ORDERS]
    )
    found = []
    for told in turned:
        ids = [one.id for one in entries]
        for (places, _), way in zip(open_days, told, strict=True):
            for place, n in zip(places, way, strict=True):
                ids[place] = entries[n].id
        found.append(tuple(ids))
    return tuple(found)


def put_in_order(entries: Sequence[LayupEntry], order: Sequence[str]) -> tuple[LayupEntry, ...]:
    """Entries in an order of their ids; those that it does not name stand behind, as they stood."""
    places = {name: n for n, name in enumerate(order)}
    return tuple(sorted(entries, key=lambda one: places.get(one.id, len(places))))


def _ways_to_merge(sittings: list[list[int]], now_said: dict[int, LayupEntry]) -> list[list[int]]:
    """Orders of the places of several sittings, each of which keeps the order inside them."""
    by_content = sorted(sittings, key=lambda each: [now_said[n].id for n in each])
    if len(by_content) <= _MOST_TURNED:
        turns = [list(each) for each in permutations(by_content)]
    else:
        others = [[*by_content[:n], *by_content[n + 1 :]] for n in range(len(by_content))]
        turns = [[*rest, one] for rest, one in zip(others, by_content, strict=True)]
        turns += [[one, *rest] for rest, one in zip(others, by_content, strict=True)]
    found = [_carefully_merged(turn, now_said) for turn in turns]
    found += [[n for each in turn for n in each] for turn in turns]
    return [list(each) for each in dict.fromkeys(map(tuple, found))]


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
