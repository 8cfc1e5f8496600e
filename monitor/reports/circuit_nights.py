"""The nights of one circuit: what was expected, what came, what it held, and what was not seen.

Facts alone, of what is on record: no night is called harmful, and none harmless, that nobody saw.
They are read and judged as the season record's are (`monitor.reports.season.read_nights`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from math import inf

from monitor.craft.craft_stays import with_measured_lag
from monitor.craft.protection import LayupState, Protection
from monitor.craft.record import CraftRecord
from monitor.reports.season.figures import NightVerdict, SeasonNight
from monitor.reports.season.night_hours import NightRows, night_spans
from monitor.reports.season.read_nights import (
    YardNights,
    read_nights,
    said_by_night,
)
from monitor.reports.season.shared_nights import SharedNights
from monitor.reports.season.space_hours import Hours, SeasonAir
from monitor.reports.season.work import HeldOverTime, kept_in
from monitor.store.store import Transaction
from monitor.yard.assessment import Standing
from monitor.yard.forecast import SaidNight
from monitor.yard.space import Yard

_PAST = frozenset({NightVerdict.ICE, NightVerdict.PASSED})
_NEAR = _PAST | {NightVerdict.NEAR}
_MIDNIGHT = time(23, 59)
_DAY_H = 24.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitNight:
    """One night of one circuit, named by its evening; None where nothing is known.

    ``inside_low_c`` is read where the circuit has a probe, else reckoned from the air; ``held`` is
    what it could stand at the coldest hour, by the record as it stands now. ``judged`` is the worst
    standing of the watch within the night; ``verdict`` is what the season record says of it.
    """

    evening: date
    space: str
    said: SaidNight | None
    air_low_c: float | None
    inside_low_c: float | None
    inside_is_read: bool
    held: Protection | None  # None: what was on record cannot be added up
    judged: Standing | None
    verdict: NightVerdict
    unseen_h: float  # hours without a reading of its air

    @property
    def held_c(self) -> float | None:
        """Where first ice begins in it [°C]; -inf: seen dry."""
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
        """Whether it was colder than the circuit could stand, or ice was computed in it."""
        return self.verdict in _PAST

    @property
    def is_near_limit(self) -> bool:
        """Whether it came near that or through, or nobody saw a night that was to pass it."""
        expected = self.is_unseen and self.judged is Standing.EXPOSED
        return self.verdict in _NEAR or expected

    @property
    def is_unseen(self) -> bool:
        """Whether nobody can tell: too little is known of its cold, or of what it held."""
        return self.verdict is NightVerdict.NOT_KNOWN


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
        Nights of which less than half lies behind the first, and that end after the last, are left
        out.
    """
    kept = kept_in(record, since, until)
    if not kept:
        return []
    hours = Hours.hours_between(since, until)
    air = SeasonAir(tx, yard, hours)
    first = since.astimezone(yard.zone).date()
    shared = YardNights(
        yard=yard,
        nights=SharedNights(
            NightRows(night_spans(hours, yard, since, until)),
            air,
            said_by_night(tx.said_nights.nights_since(first)),
        ),
    )
    craft = record.craft
    lag = next((one for one in craft.measured if one.circuit == circuit), None)
    part = with_measured_lag(record.profile.find(circuit).circuit, lag)
    changes = tx.standing_history.bare_changes([craft.id], since, until)[craft.id]
    nights = read_nights(shared, record, kept, air.of_stays(kept), [part], changes)
    held = HeldOverTime(record, shared.shelters, [circuit])
    return [_circuit_night(one, circuit, shared, held) for one in reversed(nights)]


def nights_near_limit(nights: Sequence[CircuitNight]) -> list[CircuitNight]:
    """Those that came near or through what the circuit held, in the order in which they stand."""
    return [one for one in nights if one.is_near_limit]


def _circuit_night(
    night: SeasonNight, circuit: str, shared: YardNights, held: HeldOverTime
) -> CircuitNight:
    midnight = datetime.combine(night.evening, _MIDNIGHT, shared.yard.zone)
    return CircuitNight(
        evening=night.evening,
        space=night.space,
        said=shared.nights.said.get((night.space, night.evening)),
        air_low_c=night.low_c,
        inside_low_c=night.inside_low_c,
        inside_is_read=night.is_probed,
        held=held.held_at(night.low_at or midnight).get(circuit),
        judged=night.worst_standing,
        verdict=night.verdict,
        unseen_h=round((1.0 - night.heard) * _DAY_H, 1),
    )


def winter_begins(record: CraftRecord, now: datetime, yard: Yard) -> datetime:
    """When the winter began that a time belongs to: with July, or with the craft's arrival."""
    local = now.astimezone(yard.zone)
    july = datetime.combine(date(local.year - (local.month < 7), 7, 1), time(), yard.zone)
    return max(july, record.craft.arrived_at.astimezone(yard.zone))


def was_proven(night: CircuitNight) -> bool:
    """Whether the record shows what it held that night; else it counted as water."""
    return night.held is not None and night.held.state is LayupState.PROVEN
