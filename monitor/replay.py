"""A past stretch judged again, on the readings' clock and through the same code as at the time."""

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from monitor.clock import to_ms
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord, stored_craft
from monitor.craft.stored import StoredCraft
from monitor.judgement.air import MS_PER_H, Traces, series_needed, space_air
from monitor.judgement.judge import judge
from monitor.judgement.memory import Memory
from monitor.judgement.recent import SPAN_H
from monitor.judgement.round import learn_outlook, remembered
from monitor.judgement.tonight import outdoors
from monitor.store.readings import SeriesKey
from monitor.store.store import Store
from monitor.yard.assessment import Assessment, Hazard, Standing
from monitor.yard.reading import Trace
from monitor.yard.record_view import shelters, wording
from monitor.yard.space import Mount, SpaceKind, Yard

LOOK_EVERY = timedelta(hours=1)  # the whole yard; between two looks only where they differ
_CHUNK = timedelta(days=1)  # of readings at once
_SEASON = timedelta(days=300)

Key = tuple[Hazard, str, str]  # a subject wherever it stands: its craft, else its space, and part
Judged = dict[Key, Assessment]


@dataclass(frozen=True, slots=True)
class Change:
    """One subject whose standing is not what it was; ``was`` is None where it was not judged."""

    was: Standing | None
    judged: Assessment
    craft: StoredCraft | None  # as it stood then; None for a space's own air and its sensors


class Replay:
    """Re-judges a stretch of stored readings; the store is only read."""

    def __init__(
        self, store: Store, yard: Yard, profiles: Mapping[str, Profile], every: timedelta
    ) -> None:
        """Remember what to judge by.

        Parameters
        ----------
        store : Store
        yard : Yard
            As it is configured now.
        profiles : mapping of Profile by id
        every : timedelta
            To this the time of a change is told. The whole yard is looked at every hour (or at
            this step, if it is longer), and between two looks, by halving the time, every
            space where something stands otherwise at their ends.

        Raises
        ------
        ValueError
            If the step is not above 0.
        """
        if every <= timedelta():
            raise ValueError(f"a replay cannot go on in steps of {every}")
        self._store = store
        self._yard = yard
        self._every = every
        # A look holds whole steps, so that a halved stretch ends on one.
        self._look = max(LOOK_EVERY // every, 1) * every
        self._readings = _Readings(store, yard)
        with store.snapshot() as tx:
            self._craft = _CraftThen(tx.layup.records(profiles), yard)
        self.rounds = 0  # judged so far, of the yard or of a part of it

    def run(self, since: datetime, until: datetime) -> Iterator[Change]:
        """Judge from ``since`` to ``until``, both included.

        Yields
        ------
        Change
            In time order. First how everything stands at ``since``.

        Notes
        -----
        The lay-up record counts as it is now, each entry from its own time on. A standing
        that comes and goes between two looks at the whole yard is not seen.
        """
        memory = remembered(self._store, self._yard, since)
        with self._store.snapshot() as tx:
            learn_outlook(tx, memory, since, until)
        before = self._before(since)
        at, judged = since, self._judge(since, list(before.values()), memory)
        yield from _sorted([self._change(None, each) for each in judged.values()])
        while at < until:
            then = min(at + self._look, until)
            kept = _copy(memory)
            found = self._judge(then, list(judged.values()), memory)
            yield from _sorted(self._between((at, judged), (then, found), kept))
            at, judged = then, found

    def _between(
        self, left: tuple[datetime, Judged], right: tuple[datetime, Judged], memory: Memory
    ) -> list[Change]:
        """What changed after one moment and up to another, each change at its own time."""
        (begin, was), (end, then) = left, right
        changed = [
            key
            for key, each in then.items()
            if key not in was or was[key].standing != each.standing
        ]
        if not changed:
            return []
        steps = -(-(end - begin) // self._every)
        if steps <= 1:
            return [self._change(was.get(key), then[key]) for key in changed]
        spaces = {then[key].subject.space for key in changed}
        was, then = (
            {key: each for key, each in judged.items() if each.subject.space in spaces}
            | {key: judged[key] for key in changed if key in judged}
            for judged in (was, then)
        )
        middle = begin + (steps // 2) * self._every
        # From a copy: the memory must not know yet what came after that moment.
        found = self._judge(middle, list(was.values()), _copy(memory), spaces)
        # What is not there at that moment, because it is moved later, stands as it did.
        found = {key: each for key, each in was.items() if key in then} | found
        return [
            *self._between((begin, was), (middle, found), memory),
            *self._between((middle, found), (end, then), memory),
        ]

    def _change(self, was: Assessment | None, now: Assessment) -> Change:
        craft = self._craft.last(now.subject.craft) if now.subject.craft else None
        return Change(None if was is None else was.standing, now, craft)

    def _judge(
        self,
        at: datetime,
        earlier: Sequence[Assessment],
        memory: Memory,
        spaces: set[str] | None = None,
    ) -> Judged:
        """Judge the yard at a moment, or only some of its spaces."""
        self.rounds += 1
        traces, craft, yard = self._readings.up_to(at), self._craft.at(at), self._yard
        if spaces is not None:
            craft = [
                each
                for each in craft
                if each.space in spaces or (each.battery and each.battery.space in spaces)
            ]
            yard = _part(yard, spaces | _outdoors(yard, traces, at))
        judged = judge(yard, craft, traces, at, earlier, memory)
        return {
            _key(each): each for each in judged if spaces is None or each.subject.space in spaces
        }

    def _before(self, since: datetime) -> Judged:
        """What was last known of each subject: what has been through ice stays suspect."""
        with self._store.snapshot() as tx:
            return {_key(each): each for each in tx.assessments.changes(since - _SEASON, since)}


class _Readings:
    """The readings behind a moment, read day by day."""

    def __init__(self, store: Store, yard: Yard) -> None:
        self._store = store
        self._series = series_needed(yard)
        self._traces: dict[SeriesKey, Trace] = {}
        self._known_ms = 0  # readings before this are held

    def up_to(self, at: datetime) -> Traces:
        until = to_ms(at) + 1
        begin = until - int(SPAN_H * MS_PER_H)
        if until > self._known_ms:
            self._read_on(begin, until)
        return {key: _cut(trace, begin, until) for key, trace in self._traces.items()}

    def _read_on(self, begin: int, until: int) -> None:
        first = max(self._known_ms, begin)
        last = until + int(_CHUNK / timedelta(milliseconds=1))
        # A look behind this one may still be asked for.
        oldest = begin - int(2 * LOOK_EVERY / timedelta(milliseconds=1)) - int(24 * MS_PER_H)
        with self._store.snapshot() as tx:
            new = tx.readings.window(self._series, first, last)
        self._traces = {
            key: _joined(_cut(self._traces[key], oldest, first), trace)
            if key in self._traces
            else trace
            for key, trace in new.items()
        }
        self._known_ms = last


class _CraftThen:
    """The craft of the yard at any time; each is added up anew when its record has an event."""

    def __init__(self, records: Sequence[CraftRecord], yard: Yard) -> None:
        self._shelters, self._wording = shelters(yard), wording(yard)
        self._records = [(record, _events(record)) for record in records]
        self._known: dict[str, tuple[tuple[int, int], StoredCraft | None]] = {}

    def at(self, at: datetime) -> list[StoredCraft]:
        found = []
        for record, events in self._records:
            # Once a day too: what a treatment is worth fades with time alone.
            stamp = (bisect_right(events, at), at.toordinal())
            known = self._known.get(record.craft.id)
            if known is None or known[0] != stamp:
                known = (stamp, stored_craft(record, self._shelters, at, self._wording))
                self._known[record.craft.id] = known
            if known[1] is not None:
                found.append(known[1])
        return found

    def last(self, craft_id: str) -> StoredCraft | None:
        """A craft as it was added up last."""
        known = self._known.get(craft_id)
        return None if known is None else known[1]


def _events(record: CraftRecord) -> list[datetime]:
    ends = [record.craft.arrived_at, record.craft.left_at]
    return sorted(
        [each.at for each in record.entries]
        + [each.since for each in record.stays]
        + [each for each in ends if each is not None]
    )


def _part(yard: Yard, spaces: set[str]) -> Yard:
    """The yard as if it had only these spaces; maintainers stay, their batteries may be here."""
    return replace(
        yard,
        spaces=tuple(each for each in yard.spaces if each.id in spaces),
        sensors=tuple(
            each for each in yard.sensors if each.space in spaces or each.mount is Mount.BATTERY
        ),
    )


def _outdoors(yard: Yard, traces: Traces, at: datetime) -> set[str]:
    """The space that stands for outdoors at a moment: every building follows it."""
    open_air = [each for each in yard.spaces if each.kind in {SpaceKind.OPEN, SpaceKind.WRAPPED}]
    airs = {each.id: space_air(each, yard.sensors, traces, at) for each in open_air}
    outside = outdoors(airs)
    return set() if outside is None else {outside.space.id}


def _key(judged: Assessment) -> Key:
    subject = judged.subject
    return (judged.hazard, subject.craft or subject.space, subject.part)


def _sorted(changes: list[Change]) -> list[Change]:
    return sorted(changes, key=lambda each: (each.judged.at, each.judged.subject))


def _copy(memory: Memory) -> Memory:
    # What an agency said is looked up by when it was known, so one outlook serves all.
    return Memory(dict(memory.spaces), dict(memory.worked_out), memory.outlook)


def _cut(trace: Trace, begin_ms: int, until_ms: int) -> Trace:
    part = slice(*(int(at) for at in np.searchsorted(trace.at_ms, [begin_ms, until_ms])))
    return replace(trace, at_ms=trace.at_ms[part], value=trace.value[part], flag=trace.flag[part])


def _joined(old: Trace, new: Trace) -> Trace:
    return replace(
        new,
        at_ms=np.concatenate([old.at_ms, new.at_ms]),
        value=np.concatenate([old.value, new.value]),
        flag=np.concatenate([old.flag, new.flag]),
    )
