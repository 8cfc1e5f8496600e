"""In which order work was done: by its hours, and where those are not told by who wrote it when."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from monitor.craft.act_table import CLAIMS, TABLE, Deed, Verdict, deeds_of
from monitor.craft.layup import Act, LayupEntry

# What one person writes within a working day of the first entry is told in the order of doing.
_SITTING = timedelta(hours=12)
_HALF_DAY = timedelta(hours=12)
_NEVER = datetime.min.replace(tzinfo=UTC)
_SHORTEST_HALF_DAY = timedelta(hours=11)  # when clocks go forward
# They undo work, or may; the table of circuits tells only of the others.
_ALSO_UNDO = frozenset(
    {
        Act.STOOD,
        Act.BATTERY_OFF_MAINTAINER,
        Act.BATTERY_CONNECTED,
        Act.BATTERY_LEFT_ABOARD,
        Act.SNOW_LOAD,
        Act.BILGE_WET,
    }
)
_LOOKS = frozenset({Act.INSPECTED, Act.STOOD})
_DOUBTS = frozenset({Deed.WATER_FOUND, Deed.OIL_WET, Deed.NOTHING_CAME})
_SAYS_SOMETHING = {Verdict.PROVES, Verdict.HINTS, Verdict.WARMTH}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedWork:
    """An entry that counts, and when it counts as done."""

    at: datetime  # its hour, or of a day without one what its list and the caution make of it
    entry: LayupEntry


@dataclass(frozen=True, slots=True, kw_only=True)
class _Standing:
    """An entry that counts, its place among all, and the times that were told for it before."""

    entry: LayupEntry
    place: int  # of the first entry that it corrects or brings back; its own where there is none
    former: tuple[datetime, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Day:
    """Within ``began <= at < ended`` lies work of which nobody told the hour."""

    began: datetime
    ended: datetime

    def holds(self, at: datetime) -> bool:
        return self.began <= at < self.ended


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
    standing = _standing_of(entries)
    now_said = {one.place: one.entry for one in standing}
    for alike in _places_of_one_time(standing):
        told = _carefully_merged(_sittings_of(alike, now_said, written_at), now_said)
        for place, n in zip(alike, told, strict=True):
            arranged[place] = entries[n]
    return tuple(arranged)


def place_work(entries: Sequence[LayupEntry], until: datetime | None = None) -> list[PlacedWork]:
    """What still counts, in the order of the work: not replaced, and done by ``until``.

    Parameters
    ----------
    entries : sequence of LayupEntry
        Those of one time or day as `in_order_of_work` has them.
    until : datetime, optional

    Returns
    -------
    list of PlacedWork
        By time. Work without an hour stands behind what the record tells before it on its day.
        Where that contradicts the hours of others, what undoes work counts as last, other work as
        first. A correction counts from the moment it is on record, whatever time it gives for the
        work, in the place of what it corrects; a withdrawal takes its entry away and adds nothing.
    """
    standing = _standing_of(entries)
    days = _days_of(standing)
    done = [one for one in standing if until is None or one.entry.at <= until]
    told = [one for one in done if days[one.entry.id] is None]
    placed = [(_time_of(one, days[one.entry.id], told), one.place, one.entry) for one in done]
    placed.sort(key=lambda each: each[:2])
    return [PlacedWork(at=at, entry=entry) for at, _, entry in placed]


def standing_entries(
    entries: Sequence[LayupEntry], until: datetime | None = None
) -> tuple[LayupEntry, ...]:
    """Entries that still count, in the order of the work; see `place_work`."""
    return tuple(one.entry for one in place_work(entries, until))


def _standing_of(entries: Sequence[LayupEntry]) -> list[_Standing]:
    """Entries that no other replaces, in the order of their places."""
    places = {one.id: n for n, one in enumerate(entries)}
    replaced = {one.replaces for one in entries if one.replaces}
    found = []
    for entry in entries:
        if entry.id in replaced or entry.act is Act.WITHDRAWN:
            continue
        first = entry
        former: list[LayupEntry] = []
        while first.replaces in places and len(former) < len(entries):
            first = entries[places[first.replaces]]
            former.append(first)
        times = [one.at for one in former if one.act is not Act.WITHDRAWN and one.at != entry.at]
        found.append(_Standing(entry=entry, place=places[first.id], former=tuple(times)))
    return sorted(found, key=lambda one: one.place)


def _days_of(standing: Iterable[_Standing]) -> dict[str, _Day | None]:
    """The day of each entry whose hour tells nothing of the order; None where it does.

    Of entries that were written before days without an hour were kept apart, nobody can tell a
    noon that was told from one that was made up: they keep it as their hour.
    An hour that another entry had too, until that one was corrected, was made up for both.
    """
    several = list(standing)
    made_up = {at for one in several for at in one.former}
    found: dict[str, _Day | None] = {}
    for one in several:
        entry, day = one.entry, _day_without_hour(one.entry)
        if day is None and entry.at in made_up and entry.at not in one.former:
            day = _Day(began=entry.at - _HALF_DAY, ended=entry.at + _HALF_DAY)
        found[entry.id] = day
    return found


def _day_without_hour(entry: LayupEntry) -> _Day | None:
    """The day on which an entry was done at an hour that nobody told; None where it was told."""
    began = entry.day_began
    if began is None:
        return None
    # Of the day on which it is written nobody can tell what is still to come.
    so_far = timedelta(0) < entry.at - began < _SHORTEST_HALF_DAY
    ended = entry.at + timedelta.resolution if so_far else began + 2 * _HALF_DAY
    return _Day(began=began, ended=max(ended, entry.at + timedelta.resolution))


def earliest_time(entry: LayupEntry) -> datetime:
    """When an entry was done at the earliest: its hour, or the begin of a day without one."""
    return entry.at if entry.day_began is None else entry.day_began


def latest_time(entry: LayupEntry) -> datetime:
    """When an entry was done at the latest: its hour, or the last moment of a day without one.

    What is written on its own day was done by the time of writing.
    """
    day = _day_without_hour(entry)
    return entry.at if day is None else day.ended - timedelta.resolution


def _time_of(one: _Standing, day: _Day | None, told: Iterable[_Standing]) -> datetime:
    """When an entry counts as done, beside those whose hours are told."""
    if day is None:
        return one.entry.at
    of_day = [each for each in told if day.holds(each.entry.at)]
    after = max((each.entry.at for each in of_day if each.place < one.place), default=day.began)
    before = min((each.entry.at for each in of_day if each.place > one.place), default=day.ended)
    if after > before:
        return after if undoes_work(one.entry) else before
    return min(max(one.entry.at, after), before)


def _places_of_one_time(standing: Iterable[_Standing]) -> list[list[int]]:
    """Places of entries that have one time, or one day on which an hour is not told."""
    several = list(standing)
    days = sorted(
        (day for day in _days_of(several).values() if day is not None), key=lambda day: day.began
    )
    groups: dict[datetime, dict[int, None]] = {}
    for one in several:
        day = next((each for each in days if each.holds(one.entry.at)), None)
        groups.setdefault(day.began if day else one.entry.at, {})[one.place] = None
    return [list(places) for places in groups.values()]


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
        next((day for day in days if day <= one.entry.at < day + 2 * _HALF_DAY), one.entry.at)
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


def undoes_work(entry: LayupEntry) -> bool:
    """Whether an entry can take protection away and gives none."""
    if entry.act in _ALSO_UNDO:
        return True
    said = {cell.verdict for deed in deeds_of(entry) for cell in TABLE[deed].values()}
    return Verdict.UNDOES in said and not said & _SAYS_SOMETHING


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
