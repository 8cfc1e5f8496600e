"""A case over one circuit: what is on record of its winter, for a claim that is made in spring.

It says what was found, which nights came near or through what the circuit held, who was told and
what they did, every piece of work with its corrections, what was left undone on purpose, and when
nobody watched. It blames nobody and infers nothing: whether a night did the damage is for people to
judge who see the part.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from monitor.clock import from_ms
from monitor.craft.findings import Finding, findings
from monitor.craft.layup import Act, LayupEntry
from monitor.craft.profile import CircuitProfile, Profile
from monitor.craft.reach import reached
from monitor.craft.record import CraftRecord
from monitor.craft.settling import plain_part
from monitor.reports.air import read_hourly_air
from monitor.reports.circuit_nights import (
    CircuitNight,
    nights_near_limit,
    read_circuit_nights,
    winter_begins,
)
from monitor.reports.record_events import WorkTold, newest_first, record_events
from monitor.store.outbox_reports import MessageFate
from monitor.store.store import Transaction
from monitor.yard.alarm import LAIDUP, Alarm, AlarmEvent, AlarmState
from monitor.yard.hourly import HOUR_MS
from monitor.yard.space import Yard

_SHORTEST_GAP_H = 2  # hours in a row without a reading
_SET_ASIDE = frozenset({AlarmState.SHELVED, AlarmState.OUT_OF_SERVICE, AlarmState.SUPPRESSED})
_TOLD_TO_FIT = timedelta(days=1)  # a thread goes on for so long after its alarm


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchGap:
    """Hours in a row in which nothing was read of the air around the craft."""

    space: str
    since: datetime
    until: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmOfCase:
    """One alarm on the circuit, with every change of it."""

    alarm: Alarm
    events: tuple[AlarmEvent, ...]

    @property
    def acknowledged(self) -> AlarmEvent | None:
        """The first time that somebody took it on; None while nobody has."""
        return next((one for one in self.events if _takes_on(one)), None)

    @property
    def set_aside(self) -> tuple[AlarmEvent, ...]:
        """When it was shelved, suppressed or taken out of service, by whom and why."""
        return tuple(one for one in self.events if one.after in _SET_ASIDE)


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitCase:
    """All that is on record of one circuit in one winter; the newest first."""

    record: CraftRecord
    circuit: CircuitProfile
    finding: Finding | None  # what opened the case; None: it was only asked for
    since: datetime
    until: datetime
    nights: tuple[CircuitNight, ...]
    alarms: tuple[AlarmOfCase, ...]
    messages: tuple[MessageFate, ...]  # that name the craft, or are of a thread that told of it
    work: tuple[WorkTold, ...]  # that reached the circuit, with every version
    left_undone: tuple[LayupEntry, ...]  # declined, on purpose, or by its owner's word alone
    gaps: tuple[WatchGap, ...]

    @property
    def near(self) -> list[CircuitNight]:
        """Nights near or through its limit."""
        return nights_near_limit(self.nights)

    @property
    def unseen(self) -> list[CircuitNight]:
        """Nights of which nobody can tell."""
        return [one for one in self.nights if one.is_unseen]


def _takes_on(event: AlarmEvent) -> bool:
    """Whether somebody took an alarm on by it; one that was over by then goes on to normal."""
    late = event.before is AlarmState.RETURNED and event.after is AlarmState.NORMAL
    return event.by != LAIDUP and (event.after is AlarmState.ACKNOWLEDGED or late)


def circuit_of_part(part: str, profile: Profile) -> str:
    """The circuit that a finding's part names; empty where it names none."""
    asked = plain_part(part)
    for one in profile.circuits:
        if asked in {plain_part(one.circuit.id), plain_part(one.circuit.name)}:
            return one.circuit.id
    return ""


def findings_of(record: CraftRecord, now: datetime) -> list[Finding]:
    """What was found on a craft, settled or not, the newest first."""
    return findings(record.on_record, now, record.profile)[::-1]


def findings_on_circuits(record: CraftRecord, now: datetime) -> list[Finding]:
    """Those of them whose part is a circuit of the craft: each opens a case."""
    return [
        one for one in findings_of(record, now) if circuit_of_part(one.seen.part, record.profile)
    ]


def finding_asked_for(found: Sequence[Finding], finding: str, circuit: str) -> Finding | None:
    """The finding of that id; without one the newest, unless a circuit is asked for."""
    if finding:
        return next((one for one in found if one.seen.id == finding), None)
    return None if circuit else next(iter(found), None)


def read_circuit_case(
    tx: Transaction,
    yard: Yard,
    record: CraftRecord,
    circuit: str,
    now: datetime,
    finding: Finding | None = None,
) -> CircuitCase:
    """Gather what is on record of a circuit in the winter before a time.

    Parameters
    ----------
    tx : Transaction
    yard : Yard
    record : CraftRecord
    circuit : str
        Id of one of its circuits.
    now : datetime
    finding : Finding, optional
        What opens the case; what comes after it is no matter of it, but work and settling are.
    """
    since = winter_begins(record, finding.found_at if finding else now, yard)
    until = min(finding.found_at, now) if finding else now
    nights = read_circuit_nights(tx, yard, record, circuit, _on_the_hour(since), until)
    threads = {
        one.thread
        for one in tx.conversations.open_threads(closed_since=since)
        if one.tells_of(record.craft.id)
    }
    messages = tx.outbox.fates_naming(record.craft.name, threads, since, until + _TOLD_TO_FIT)
    links = tx.layup.links_of(record.craft.id)
    work = [
        one
        for one in newest_first(record_events(record, links, now))
        if _touches(one, circuit, record) and one.versions[-1].at >= since
    ]
    return CircuitCase(
        record=record,
        circuit=record.profile.find(circuit),
        finding=finding,
        since=since,
        until=until,
        nights=tuple(nights),
        alarms=tuple(_alarms_of(tx, record, circuit, since, now)),
        messages=tuple(messages[::-1]),
        work=tuple(work),
        left_undone=tuple(_left_undone(record, circuit, since, now)),
        gaps=tuple(_gaps(tx, yard, record, since, until)[::-1]),
    )


def _alarms_of(
    tx: Transaction, record: CraftRecord, circuit: str, since: datetime, until: datetime
) -> list[AlarmOfCase]:
    """A circuit's alarms raised within a span, the newest first, with all that became of them."""
    of_circuit = [
        one
        for one in tx.alarms.of_craft(record.craft.id)[::-1]
        if one.part == circuit and since <= one.raised_at <= until
    ]
    histories = tx.alarms.histories_of([one.id for one in of_circuit])
    return [AlarmOfCase(alarm=one, events=tuple(histories[one.id])) for one in of_circuit]


def _left_undone(
    record: CraftRecord, circuit: str, since: datetime, now: datetime
) -> Iterator[LayupEntry]:
    """What was declined, or left to warmth or to the owner's word; the newest first."""
    for one in record.standing(now)[::-1]:
        if one.at < since:
            continue
        if one.act is Act.DECLINED or (
            one.act in {Act.KEPT_WARM, Act.OWNER_STATEMENT}
            and circuit in reached(one, record.profile)
        ):
            yield one


def _touches(told: WorkTold, circuit: str, record: CraftRecord) -> bool:
    """Whether any version of a piece of work reached the circuit; every move is of it, too."""
    return any(
        event.move is not None
        or (
            event.entry is not None
            and (circuit in event.entry.circuits or circuit in reached(event.entry, record.profile))
        )
        for event in told.versions
    )


def _gaps(
    tx: Transaction, yard: Yard, record: CraftRecord, since: datetime, until: datetime
) -> list[WatchGap]:
    """Hours in a row without a reading where the craft stood, from its first reading on."""
    found: list[WatchGap] = []
    stays = sorted(record.stays, key=lambda one: one.since)
    for stay, ends in zip(stays, [*(one.since for one in stays[1:]), until], strict=True):
        begins, ends = _on_the_hour(max(stay.since, since)), min(ends, until)
        if begins >= ends or all(space.id != stay.space for space in yard.spaces):
            continue
        air = read_hourly_air(tx, yard, begins, ends)[stay.space]
        found += _runs_unseen(stay.space, air.at_ms, np.isnan(air.coldest_c))
    return found


def _runs_unseen(space: str, at_ms: np.ndarray, unseen: np.ndarray) -> Sequence[WatchGap]:
    edges = np.flatnonzero(np.diff(np.concatenate(([False], unseen, [False])).astype(np.int8)))
    return [
        WatchGap(
            space=space,
            since=from_ms(int(at_ms[first]) - HOUR_MS // 2),
            until=from_ms(int(at_ms[after - 1]) + HOUR_MS // 2),
        )
        for first, after in zip(edges[::2], edges[1::2], strict=True)
        if after - first >= _SHORTEST_GAP_H
    ]


def _on_the_hour(at: datetime) -> datetime:
    return at.replace(minute=0, second=0, microsecond=0)
