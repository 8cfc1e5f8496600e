"""A past stretch judged again, on the readings' clock and through the same code as at the time."""

import operator
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
from monitor.judgement.alike import Alike, Key, alike
from monitor.judgement.judge import judge
from monitor.judgement.memory import Memory
from monitor.judgement.recent import SPAN_H
from monitor.judgement.round import learn_outlook, remembered
from monitor.judgement.tonight import outdoors
from monitor.store.readings import SeriesKey
from monitor.store.store import Store
from monitor.wording import Wording
from monitor.yard.assessment import Assessment, Hazard, Standing
from monitor.yard.reading import Trace
from monitor.yard.record_view import shelters
from monitor.yard.space import Mount, SpaceKind, Yard

LOOK_EVERY = timedelta(hours=1)  # the whole yard; between two looks only where they differ
_CHUNK = timedelta(days=1)  # of readings at once
_SEASON = timedelta(days=300)
_OWN_WORDS = "\0"  # in a basis that many circuits share: where each one's own record speaks

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
        self._apart = frozenset(each.craft for each in yard.sensors if each.craft is not None)
        self._alike: tuple[list[StoredCraft], Alike] | None = None
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
        at, judged = since, self._judge(since, self._before(since), memory)
        yield from _sorted([self._change(key, None, each) for key, each in judged.items()])
        while at < until:
            then = min(at + self._look, until)
            self._craft.day = then.toordinal()
            kept = _copy(memory)
            found = self._judge(then, judged, memory)
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
            return [self._change(key, was.get(key), then[key]) for key in changed]
        spaces = {then[key].subject.space for key in changed}
        middle = begin + (steps // 2) * self._every
        # From a copy: the memory must not know yet what came after that moment. What is not
        # judged there, because it is moved later, stands as it did.
        found = was | self._judge(middle, was, _copy(memory), spaces)
        return [
            *self._between((begin, was), (middle, found), memory),
            *self._between((middle, found), (end, then), memory),
        ]

    def _change(self, key: Key, was: Assessment | None, now: Assessment) -> Change:
        """One change, in the words of the part's own record."""
        _, owner, part = key
        craft = self._craft.last(owner) if now.subject.craft else None
        if craft is not None:
            held = craft.protection.get(part)
            why = "" if held is None else held.why.rstrip(". ")
            subject = replace(now.subject, craft=owner, part=part)
            now = replace(now, subject=subject, basis=now.basis.replace(_OWN_WORDS, why))
        return Change(None if was is None else was.standing, now, craft)

    def _judge(
        self, at: datetime, was: Judged, memory: Memory, spaces: set[str] | None = None
    ) -> Judged:
        """Judge the yard at a moment, or only some of its spaces."""
        self.rounds += 1
        traces, yard = self._readings.up_to(at), self._yard
        kinds = self._kinds(self._craft.at(at), was, at)
        craft = kinds.craft
        if spaces is not None:
            craft = [
                each
                for each in craft
                if each.space in spaces or (each.battery and each.battery.space in spaces)
            ]
            yard = _part(yard, spaces | _outdoors(yard, traces, at))
        judged = judge(yard, craft, traces, at, _earlier(craft, was), memory)
        words = {
            (each.id, name): held.why.rstrip(". ")
            for each in craft
            for name, held in each.protection.items()
        }
        found = {
            _key(each): _of_any(each, words)
            for each in judged
            if spaces is None or each.subject.space in spaces
        }
        for part, judged_for in kinds.stands_for.items():
            if judged_for in found:
                found[part] = found[judged_for]
        return found

    def _kinds(self, craft: list[StoredCraft], was: Judged, at: datetime) -> Alike:
        """Parts that nothing tells apart; found anew when any craft's record has moved on."""
        known = self._alike
        if known is None or not (
            len(known[0]) == len(craft) and all(map(operator.is_, known[0], craft))
        ):
            known = self._alike = (craft, alike(craft, was, self._apart, at))
        return known[1]

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
        self._shelters, self._wording = shelters(yard), Wording(zone=yard.zone, units=None)
        self._records = [(record, _events(record)) for record in records]
        self._known: dict[str, tuple[tuple[int, int], StoredCraft | None]] = {}
        self._seen: dict[str, StoredCraft] = {}
        self.day = 0  # moves on once a day: what a treatment is worth fades with time alone

    def at(self, at: datetime) -> list[StoredCraft]:
        found = []
        for record, events in self._records:
            stamp = (bisect_right(events, at), self.day)
            known = self._known.get(record.craft.id)
            if known is None or known[0] != stamp:
                anew = stored_craft(record, self._shelters, at, self._wording)
                # The same object where nothing has changed: its kind need not be found again.
                known = (stamp, known[1] if known is not None and known[1] == anew else anew)
                self._known[record.craft.id] = known
            if known[1] is not None:
                found.append(known[1])
                self._seen[record.craft.id] = known[1]
        return found

    def last(self, craft_id: str) -> StoredCraft | None:
        """A craft as it was last seen in the yard."""
        return self._seen.get(craft_id)


def _of_any(judged: Assessment, words: Mapping[tuple[str, str], str]) -> Assessment:
    """The judgement of a circuit without the words of its own record: those of its kind differ."""
    if judged.hazard is not Hazard.FROST:
        return judged
    own = words[judged.subject.craft, judged.subject.part]
    return replace(judged, basis=judged.basis.replace(own, _OWN_WORDS, 1)) if own else judged


def _earlier(craft: Sequence[StoredCraft], was: Judged) -> list[Assessment]:
    """What was last known of these circuits, each under its own name."""
    found = []
    for each in craft:
        for circuit in each.circuits:
            known = was.get((Hazard.FROST, each.id, circuit.id))
            if known is not None:
                subject = replace(known.subject, craft=each.id, part=circuit.id)
                found.append(replace(known, subject=subject))
    return found


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
    for kind in (SpaceKind.OPEN, SpaceKind.WRAPPED):
        here = [each for each in yard.spaces if each.kind is kind]
        outside = outdoors({each.id: space_air(each, yard.sensors, traces, at) for each in here})
        if outside is not None:
            return {outside.space.id}
    return set()


def _key(judged: Assessment) -> Key:
    subject = judged.subject
    return (judged.hazard, subject.craft or subject.space, subject.part)


def _sorted(changes: list[Change]) -> list[Change]:
    return sorted(changes, key=lambda each: (each.judged.at, each.judged.subject))


def _copy(memory: Memory) -> Memory:
    # What an agency said is looked up by when it was known, so one outlook serves all.
    return Memory(
        dict(memory.spaces), dict(memory.starts), dict(memory.worked_out), memory.outlook
    )


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
