"""A past stretch judged again, on the readings' clock and through the same code as at the time."""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, fields, replace
from datetime import datetime, timedelta
from typing import NamedTuple

import numpy as np

from monitor.clock import to_ms
from monitor.craft.account import season
from monitor.craft.craft_condition import WORK_COUNTS
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord, stored_craft
from monitor.craft.stored import Battery, StoredCraft
from monitor.craft.work_order import earliest_time
from monitor.judgement.air.grid import MS_PER_H, PAST_H, Traces, series_needed, space_airs
from monitor.judgement.air.past_weeks import Memory
from monitor.judgement.air.placed_traces import by_place
from monitor.judgement.air.recent_readings import SPAN_H
from monitor.judgement.air.tonight import outdoor_air
from monitor.judgement.grouped_judgements import GroupedJudgements, Key, PartGroups, key_of
from monitor.judgement.groups import part_groups
from monitor.judgement.inputs import YardInputs, prepare_inputs
from monitor.judgement.judge import judge_prepared
from monitor.judgement.round import load_forecasts, load_past_weeks
from monitor.store.series import SeriesKey
from monitor.store.store import Store
from monitor.wording import Wording
from monitor.yard.assessment import Assessment, Standing
from monitor.yard.reading import Trace
from monitor.yard.space import SpaceKind, Yard, sensors_of_place, shelters

LOOK_EVERY = timedelta(hours=1)  # the whole yard; between two looks only where they differ
_CHUNK = timedelta(days=1)  # of readings at once
_TOGETHER = timedelta(hours=12)  # of looks whose craft are followed at once
_SEASON = timedelta(days=300)
_LISTS_KEPT = 16  # of craft: looks go back and forth within an hour


@dataclass(frozen=True, slots=True)
class ReplayedChange:
    """One subject whose standing is not what it was; ``was`` is None where it was not judged."""

    was: Standing | None
    judged: Assessment
    craft: StoredCraft | None  # as it stood then; None for a space's own air and its sensors


class _Span(NamedTuple):
    """A stretch between two looks, and the memory as it was at its begin."""

    begin: datetime
    was: GroupedJudgements
    end: datetime
    then: GroupedJudgements
    memory: Memory


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
            self._craft = _CraftThen(tx.layup.all_records(profiles, check_chains=True), yard)
        self._kinds: PartGroups | None = None
        self.rounds = 0  # judged so far, of the yard or of a part of it

    def run(self, since: datetime, until: datetime) -> Iterator[ReplayedChange]:
        """Judge from ``since`` to ``until``, both included.

        Yields
        ------
        ReplayedChange
            In time order. First how everything stands at ``since``.

        Notes
        -----
        The lay-up record counts as it is now, each entry from its own time on. A standing
        that comes and goes between two looks at the whole yard is not seen.
        """
        memory = load_past_weeks(self._store, self._yard, since)
        with self._store.snapshot() as tx:
            load_forecasts(tx, memory, since, until)
        before = self._known_before(since)
        kinds, moment = self._inputs_at(since, before, memory)
        at, found = since, judge_prepared(prepare_inputs([moment])[0], kinds, before)
        yield from _sort_changes([self._change_of(part, None, found) for part in found.all_parts()])
        while at < until:
            spans = self._next_spans(at, found, until, memory)
            yield from _sort_changes(self._changes_within(spans))
            at, found = spans[-1].end, spans[-1].then

    def _next_spans(
        self, at: datetime, found: GroupedJudgements, until: datetime, memory: Memory
    ) -> list["_Span"]:
        """Look at the whole yard some times more, following all that stands in it at once."""
        known, moments, kinds = [], [], []
        for then in self._next_times(at, until):
            known.append(_copy_memory(memory))
            alike, moment = self._inputs_at(then, found, memory)
            kinds.append(alike)
            moments.append(moment)
        spans = []
        for before, alike, each in zip(known, kinds, prepare_inputs(moments), strict=True):
            later = judge_prepared(each, alike, found)
            spans.append(_Span(at, found, each.inputs.now, later, before))
            at, found = each.inputs.now, later
        return spans

    def _next_times(self, at: datetime, until: datetime) -> list[datetime]:
        """The next looks: those of a day, as long as nothing happens to a craft.

        Then kinds of parts are found anew, by what was judged of each part up to there.
        """
        looks = [min(at + self._look, until)]
        while looks[-1] < min(until, at + _TOGETHER):
            then = min(looks[-1] + self._look, until)
            if then > at + _TOGETHER or self._craft.stamp_at(then) != self._craft.stamp_at(
                looks[0]
            ):
                break
            looks.append(then)
        return looks

    def _changes_within(self, spans: list["_Span"]) -> list[ReplayedChange]:
        """What changed in each span, each change at its own time.

        The middles of all spans in which something changed are followed at once, then those of
        their halves, and so on.
        """
        changes = []
        while spans:
            halved, kinds, moments = [], [], []
            for each in spans:
                changed = each.was.changed_in(each.then)
                steps = -(-(each.end - each.begin) // self._every)
                if changed and steps <= 1:
                    changes += [
                        self._change_of(part, each.was.assessment_of(part), each.then)
                        for part in changed
                    ]
                elif changed:
                    spaces = each.then.spaces_of(changed)
                    middle = each.begin + (steps // 2) * self._every
                    # From a copy: the memory must not know yet what came after that moment.
                    alike, moment = self._inputs_at(
                        middle, each.was, _copy_memory(each.memory), spaces
                    )
                    halved.append((each, spaces))
                    kinds.append(alike)
                    moments.append(moment)
            spans = []
            for (each, spaces), alike, at in zip(
                halved, kinds, prepare_inputs(moments), strict=True
            ):
                # What is not judged there, because it is moved later, stands as it did.
                found = each.was.updated_by(
                    judge_prepared(at, alike, each.was).within_spaces(spaces)
                )
                middle = at.inputs.now
                spans.append(each._replace(end=middle, then=found))
                spans.append(each._replace(begin=middle, was=found))
        return changes

    def _change_of(
        self, part: Key, was: Assessment | None, now: GroupedJudgements
    ) -> ReplayedChange:
        """One change, in the words of the part's own record."""
        judged = now.own_assessment(part)
        craft = self._craft.last_seen(part[1]) if judged.subject.craft else None
        return ReplayedChange(None if was is None else was.standing, judged, craft)

    def _inputs_at(
        self, at: datetime, was: GroupedJudgements, memory: Memory, spaces: set[str] | None = None
    ) -> tuple[PartGroups, YardInputs]:
        """The yard at a moment, or only some of its spaces and what they need."""
        self.rounds += 1
        traces, craft = self._readings.up_to(at), self._craft.craft_at(at)
        kinds = self._kinds = part_groups(self._yard, craft, was, at, self._kinds)
        yard = self._yard
        if spaces is not None:
            came_from = _came_from(kinds.craft, spaces, at)
            yard = _part_of_yard(yard, spaces | _outdoor_spaces(yard, traces, at) | came_from)
        return kinds, YardInputs.gather(yard, kinds.craft, traces, at, memory)

    def _known_before(self, since: datetime) -> GroupedJudgements:
        """What was last known of each subject: what has been through ice stays suspect."""
        with self._store.snapshot() as tx:
            known = tx.assessments.changes_between(since - _SEASON, since)
        return GroupedJudgements({key_of(each): each for each in known})


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
        return {key: _cut_trace(trace, begin, until) for key, trace in self._traces.items()}

    def _read_on(self, begin: int, until: int) -> None:
        first = max(self._known_ms, begin)
        last = until + int(_CHUNK / timedelta(milliseconds=1))
        # A look behind this one may still be asked for.
        oldest = begin - int(2 * LOOK_EVERY / timedelta(milliseconds=1)) - int(24 * MS_PER_H)
        with self._store.snapshot() as tx:
            new = tx.readings.traces_between(self._series, first, last)
        self._traces = {
            key: _join_traces(_cut_trace(self._traces[key], oldest, first), trace)
            if key in self._traces
            else trace
            for key, trace in new.items()
        }
        self._known_ms = last


class _CraftThen:
    """The craft of the yard at any time; each is added up anew when its record has an event."""

    def __init__(self, records: Sequence[CraftRecord], yard: Yard) -> None:
        self._shelters, self._wording = shelters(yard), Wording(zone=yard.zone, units=None)
        self._records = [(record, _event_times(record)) for record in records]
        self._known: dict[str, tuple[tuple[int, int], StoredCraft | None]] = {}
        self._seen: dict[str, StoredCraft] = {}
        self._events = sorted(each for _, events in self._records for each in events)
        self._lists: dict[tuple[int, int], list[StoredCraft]] = {}

    def craft_at(self, at: datetime) -> list[StoredCraft]:
        """All craft that were in the yard's care, the same list while nothing happens to any."""
        stamp = self.stamp_at(at)
        if stamp not in self._lists:
            if len(self._lists) > _LISTS_KEPT:
                self._lists.clear()
            self._lists[stamp] = self._added_up(at)
        return self._lists[stamp]

    def stamp_at(self, at: datetime) -> tuple[int, int]:
        """Equal for two times between which nothing happened to any craft."""
        return bisect_right(self._events, at), season(at)

    def _added_up(self, at: datetime) -> list[StoredCraft]:
        found = []
        for record, events in self._records:
            stamp = (bisect_right(events, at), season(at))
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

    def last_seen(self, craft_id: str) -> StoredCraft | None:
        """A craft as it was last seen in the yard."""
        return self._seen.get(craft_id)


def _event_times(record: CraftRecord) -> list[datetime]:
    """Times at which a record adds up to something else; a new season is the only one beside."""
    ends = [record.craft.arrived_at, record.craft.left_at]
    return sorted(
        [each.at for each in record.entries]
        + [earliest_time(each) + WORK_COUNTS for each in record.entries]
        + [each.since for each in record.stays]
        + [each for each in ends if each is not None]
    )


def _part_of_yard(yard: Yard, spaces: set[str]) -> Yard:
    """The yard as if it had only these spaces.

    All its sensors stay: a battery's maintainer may be told of elsewhere, and whether all fell
    silent together is asked of all.
    """
    return replace(yard, spaces=tuple(each for each in yard.spaces if each.id in spaces))


def _came_from(craft: Iterable[StoredCraft], spaces: set[str], at: datetime) -> set[str]:
    """Spaces in whose air something stood before it came here, within the hours looked at."""
    recent = at - timedelta(hours=PAST_H)
    moved: list[StoredCraft | Battery] = []
    for each in craft:
        moved += [each] if each.space in spaces else []
        if each.battery is not None and (each.battery.space or each.space) in spaces:
            moved.append(each.battery)
    return {each.came_from for each in moved if each.since is not None and each.since > recent}


def _outdoor_spaces(yard: Yard, traces: Traces, at: datetime) -> set[str]:
    """The space that stands for outdoors at a moment: every building follows it."""
    for kind in (SpaceKind.OPEN, SpaceKind.WRAPPED):
        here = [each for each in yard.spaces if each.kind is kind]
        outside = outdoor_air(space_airs(here, sensors_of_place(yard), by_place(traces, yard), at))
        if outside is not None:
            return {outside.space.id}
    return set()


def _sort_changes(changes: list[ReplayedChange]) -> list[ReplayedChange]:
    return sorted(changes, key=lambda each: (each.judged.at, each.judged.subject))


def _copy_memory(memory: Memory) -> Memory:
    # What an agency said is looked up by when it was known, so one outlook serves all.
    kept = copy(memory)
    for each in fields(memory):
        if isinstance(value := getattr(memory, each.name), dict):
            setattr(kept, each.name, dict(value))
    return kept


def _cut_trace(trace: Trace, begin_ms: int, until_ms: int) -> Trace:
    part = slice(*(int(at) for at in np.searchsorted(trace.at_ms, [begin_ms, until_ms])))
    return replace(trace, at_ms=trace.at_ms[part], value=trace.value[part], flag=trace.flag[part])


def _join_traces(old: Trace, new: Trace) -> Trace:
    return replace(
        new,
        at_ms=np.concatenate([old.at_ms, new.at_ms]),
        value=np.concatenate([old.value, new.value]),
        flag=np.concatenate([old.flag, new.flag]),
    )
