"""The nights of one circuit: what was expected, what came, what it held, and what was not seen.

Facts alone, of what is on record: no night is called harmful, and none harmless, that nobody saw.
The season record and a claim's case read them here.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from math import inf, isnan

from monitor.clock import to_ms
from monitor.craft.protection import LayupState, Protection
from monitor.craft.record import CANNOT_BE_ADDED_UP, CraftRecord, protections_on_record
from monitor.phrases.standings import row_of
from monitor.reports.craft_nights import (
    NIGHT_BEGINS,
    HourlyCourse,
    PastNight,
    past_nights,
    read_craft_course,
)
from monitor.store.store import Transaction
from monitor.yard.assessment import Assessment, Hazard, Standing
from monitor.yard.forecast import SaidNight
from monitor.yard.space import Yard, shelters

# Air or inside within this of what a circuit holds is near its limit: the margin below which a
# standing is called thin (monitor.yard.standing).
NEAR_K = 2.0
_NIGHT = timedelta(hours=20)  # as `past_nights` has it
_PASSED = frozenset({Standing.ICING, Standing.SOLID, Standing.SUSPECT})
_NEAR = frozenset({Standing.EXPOSED, Standing.THIN, Standing.SLUSH})


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitNight:
    """One night of one circuit, named by its evening; None where nothing is known.

    ``inside_low_c`` is read where the circuit has a probe, else reckoned from the air; ``held_c``
    is where its first ice begins (-inf: seen dry), by the record as it stands now for that
    evening. ``judged`` is the worst standing of the watch within the night.
    """

    evening: date
    space: str
    said: SaidNight | None
    air_low_c: float | None
    inside_low_c: float | None
    inside_is_read: bool
    held: Protection | None  # None: what was on record cannot be added up
    judged: Standing | None
    unseen_h: float  # hours without a reading of its air
    hours: float

    @property
    def held_c(self) -> float | None:
        """Where first ice begins in it [°C]."""
        return None if self.held is None else self.held.ice_point_c

    @property
    def room_k(self) -> float | None:
        """What was left between the coldest inside it and its first ice; None: nobody knows."""
        low_c = self.inside_low_c if self.inside_low_c is not None else self.air_low_c
        if low_c is None or self.held_c is None:
            return None
        return inf if self.held_c == -inf else low_c - self.held_c

    @property
    def is_past_limit(self) -> bool:
        """Whether it came through its limit, or the watch found ice or counts it as suspect."""
        room_k = self.room_k
        return (room_k is not None and room_k < 0.0) or self.judged in _PASSED

    @property
    def is_near_limit(self) -> bool:
        """Whether it came within `NEAR_K` of it, or was expected to; also what came through."""
        room_k = self.room_k
        near = room_k is not None and room_k < NEAR_K
        return near or self.is_past_limit or self.judged in _NEAR

    @property
    def is_unseen(self) -> bool:
        """Whether nobody can tell: nothing is known of its cold, or of what it held."""
        return self.room_k is None


def read_circuit_nights(
    tx: Transaction,
    yard: Yard,
    record: CraftRecord,
    circuit: str,
    since: datetime,
    until: datetime,
) -> list[CircuitNight]:
    """Read each whole night of a circuit while its craft was in the yard, the newest first.

    Parameters
    ----------
    tx : Transaction
    yard : Yard
    record : CraftRecord
    circuit : str
        Id of one of its circuits.
    since, until : datetime
        Nights that begin before, or end after, are left out.
    """
    changes = [
        one.seen
        for one in tx.standing_history.changes_of_craft(record.craft.id, since)
        if one.seen.hazard is Hazard.FROST and one.seen.subject.part == circuit
    ]
    spaces = {stay.space for stay in record.stays}
    latest = [
        one
        for one in tx.assessments.latest_in(sorted(spaces), record.craft.id)
        if one.hazard is Hazard.FROST and one.subject.part == circuit
    ]
    judged = latest[0] if latest else (changes[-1] if changes else None)
    course = read_craft_course(tx, yard, record.stays, judged, since, until)
    first = since.astimezone(yard.zone).date()
    said = {(one.space, one.evening): one for one in tx.said_nights.nights_since(first)}
    protections = _Protections(record, circuit, yard)
    return [
        _night_of(night, course, said, changes, protections, yard)
        for night in past_nights(course, record.stays, yard, until)
        if record.in_yard_at(_bounds(night.evening, yard)[0])
    ]


def nights_near_limit(nights: Sequence[CircuitNight]) -> list[CircuitNight]:
    """Those that came near or through what the circuit held, in the order in which they stand."""
    return [one for one in nights if one.is_near_limit]


def _night_of(
    night: PastNight,
    course: HourlyCourse,
    said: dict[tuple[str, date], SaidNight],
    changes: Sequence[Assessment],
    protections: "_Protections",
    yard: Yard,
) -> CircuitNight:
    begins, ends = _bounds(night.evening, yard)
    within = (course.at_ms >= to_ms(begins)) & (course.at_ms < to_ms(ends))
    unseen = sum(isnan(each) for each in course.air_c[within])
    return CircuitNight(
        evening=night.evening,
        space=night.space,
        said=said.get((night.space, night.evening)),
        air_low_c=night.air_low_c,
        inside_low_c=night.inside_low_c,
        inside_is_read=course.is_probed,
        held=protections.at(begins),
        judged=_worst_within(changes, begins, ends),
        unseen_h=float(unseen),
        hours=float(within.sum()),
    )


def _bounds(evening: date, yard: Yard) -> tuple[datetime, datetime]:
    begins = datetime.combine(evening, NIGHT_BEGINS, yard.zone)
    return begins, begins + _NIGHT


def _worst_within(
    changes: Sequence[Assessment], begins: datetime, ends: datetime
) -> Standing | None:
    """The worst standing that held in a night: the one that it began with, and each after."""
    before = [one for one in changes if one.at <= begins]
    held = [*before[-1:], *(one for one in changes if begins < one.at <= ends)]
    return max(held, key=_badness).standing if held else None


def _badness(seen: Assessment) -> tuple[bool, bool, bool]:
    return row_of(seen).too_late, seen.standing in _PASSED, seen.standing in _NEAR


class _Protections:
    """What a circuit held at some times; added up once for each state of its record."""

    def __init__(self, record: CraftRecord, circuit: str, yard: Yard) -> None:
        self._record, self._circuit = record, circuit
        self._shelters = shelters(yard)
        self._known: dict[tuple[int, int, int], Protection | None] = {}

    def at(self, at: datetime) -> Protection | None:
        """What it held; None where the record cannot be added up."""
        record = self._record
        state = (
            sum(one.at <= at for one in record.entries),
            sum(one.since <= at for one in record.stays),
            sum(one.at <= at for one in record.iced),
        )
        if state not in self._known:
            self._known[state] = self._add_up(at)
        return self._known[state]

    def _add_up(self, at: datetime) -> Protection | None:
        try:
            return protections_on_record(self._record, self._shelters, at)[self._circuit]
        except CANNOT_BE_ADDED_UP:
            return None


def winter_begins(record: CraftRecord, now: datetime, yard: Yard) -> datetime:
    """When the winter began that a time belongs to: with July, or with the craft's arrival."""
    local = now.astimezone(yard.zone)
    july = datetime.combine(date(local.year - (local.month < 7), 7, 1), time(), yard.zone)
    return max(july, record.craft.arrived_at.astimezone(yard.zone))


def was_proven(night: CircuitNight) -> bool:
    """Whether the record shows what it held that night; else it counted as water."""
    return night.held is not None and night.held.state is LayupState.PROVEN
