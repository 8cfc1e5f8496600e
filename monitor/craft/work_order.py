"""In which order work was done: by its hours, and where those are not told by who wrote it when."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from monitor.craft.act_table import TABLE, Verdict, deeds_of
from monitor.craft.layup import Act, LayupEntry

HALF_DAY = timedelta(hours=12)
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
_SAYS_SOMETHING = {Verdict.PROVES, Verdict.HINTS, Verdict.WARMTH}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedWork:
    """An entry that counts, and when it counts as done."""

    at: datetime  # its hour, or of a day without one what its list and the caution make of it
    entry: LayupEntry


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingEntry:
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
    standing = list_standing(entries)
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


def list_standing(entries: Sequence[LayupEntry]) -> list[StandingEntry]:
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
        found.append(StandingEntry(entry=entry, place=places[first.id], former=tuple(times)))
    return sorted(found, key=lambda one: one.place)


def _days_of(standing: Iterable[StandingEntry]) -> dict[str, _Day | None]:
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
            day = _Day(began=entry.at - HALF_DAY, ended=entry.at + HALF_DAY)
        found[entry.id] = day
    return found


def _day_without_hour(entry: LayupEntry) -> _Day | None:
    """The day on which an entry was done at an hour that nobody told; None where it was told."""
    began = entry.day_began
    if began is None:
        return None
    # Of the day on which it is written nobody can tell what is still to come.
    so_far = timedelta(0) < entry.at - began < _SHORTEST_HALF_DAY
    ended = entry.at + timedelta.resolution if so_far else began + 2 * HALF_DAY
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


def _time_of(one: StandingEntry, day: _Day | None, told: Iterable[StandingEntry]) -> datetime:
    """When an entry counts as done, beside those whose hours are told."""
    if day is None:
        return one.entry.at
    of_day = [each for each in told if day.holds(each.entry.at)]
    after = max((each.entry.at for each in of_day if each.place < one.place), default=day.began)
    before = min((each.entry.at for each in of_day if each.place > one.place), default=day.ended)
    if after > before:
        return after if undoes_work(one.entry) else before
    return min(max(one.entry.at, after), before)


def places_of_one_time(standing: Iterable[StandingEntry]) -> list[list[int]]:
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


def undoes_work(entry: LayupEntry) -> bool:
    """Whether an entry can take protection away and gives none."""
    if entry.act in _ALSO_UNDO:
        return True
    said = {cell.verdict for deed in deeds_of(entry) for cell in TABLE[deed].values()}
    return Verdict.UNDOES in said and not said & _SAYS_SOMETHING
