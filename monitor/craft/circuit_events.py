"""What happened to a craft's circuits: each move, each piece of work and each ice, in turn."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from monitor.craft import pouring, treating, undoing
from monitor.craft.contents import Contents
from monitor.craft.findings import finding_that_doubts
from monitor.craft.kept import Shelter, Stay, moves_into_cold, stay_at
from monitor.craft.layup import ANTIFREEZE, Act, LayupEntry
from monitor.craft.profile import Profile
from monitor.craft.protection import LayupState
from monitor.craft.reach import circuits_beside, passed_unnamed, reached, spoilt_by_glycol
from monitor.craft.reasons import Because, Reason
from monitor.craft.settling import settled_by
from monitor.craft.work_order import (
    PlacedWork,
    better_words,
    earliest_time,
    judged_order,
)

# A sample may be read, and fog goes in, while antifreeze still runs through.
_ENDS_NO_RUN = frozenset({Act.INSPECTED, Act.FOGGED_RUNNING})


@dataclass(frozen=True, slots=True, kw_only=True)
class Iced:
    """A circuit was computed to be below its ice point at that time."""

    circuit: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitEvent:
    """One thing that happened, and how it changes what stands in each circuit."""

    at: datetime
    rank: int  # at one and the same moment: moves, then work, then ice
    apply: Callable[[dict[str, Contents]], None]
    entry: str = ""  # id of the work


@dataclass(frozen=True, slots=True, kw_only=True)
class _Doubts:
    """What of the whole record decides whether a piece of work is in doubt."""

    better: Mapping[str, LayupEntry]  # what tells better of the same look, by the entry's id
    settled: frozenset[str]  # ids of findings


def events_until(
    profile: Profile,
    entries: tuple[LayupEntry, ...],
    stays: tuple[Stay, ...],
    shelters: Mapping[str, Shelter],
    at: datetime,
    iced: tuple[Iced, ...],
) -> list[CircuitEvent]:
    """Moves, work and ice until a time, in the order in which they count.

    Parameters
    ----------
    profile : Profile
        The craft's type; ice in a circuit that it does not have is left out.
    entries : tuple of LayupEntry
        The whole lay-up record, in any order, corrections and all.
    stays : tuple of Stay
        Where the craft stood, in any order.
    shelters : mapping of str to Shelter
        The yard's spaces by id. A space that is not in it counts as cold.
    at : datetime
        What comes later is left out.
    iced : tuple of Iced
        Times at which a circuit was computed to be below its ice point.
    """
    known = profile.circuit_ids
    counting = judged_order(entries, at)
    doubts = _Doubts(
        better=better_words(counting),
        settled=frozenset(settled_by((done.entry for done in counting), profile)),
    )
    events = [
        *_moves(stays, shelters, at),
        *(
            CircuitEvent(
                at=one.at,
                rank=1,
                apply=_work(profile, one, stays, shelters, doubts),
                entry=one.entry.id,
            )
            for one in counting
        ),
        *(
            CircuitEvent(at=one.at, rank=2, apply=_ice(one))
            for one in iced
            if one.at <= at and one.circuit in known
        ),
    ]
    return sorted(events, key=lambda one: (one.at, one.rank))


def _work(
    profile: Profile,
    done: PlacedWork,
    stays: tuple[Stay, ...],
    shelters: Mapping[str, Shelter],
    doubts: _Doubts,
) -> Callable[[dict[str, Contents]], None]:
    entry = done.entry
    circuits = [profile.find(name) for name in reached(entry, profile)]
    mute = spoilt_by_glycol(entry, profile)
    beside = passed_unnamed(entry, profile)

    def apply(held: dict[str, Contents]) -> None:
        touched = [(one, held[one.circuit.id]) for one in circuits]
        if entry.posture is not None:
            for one in profile.circuits:
                undoing.apply_posture(one, held[one.circuit.id], entry)
        if entry.act in ANTIFREEZE:
            pouring.apply_antifreeze(
                touched, entry, [(one, held[one.circuit.id]) for one in beside]
            )
            pouring.apply_another_glycol((held[name] for name in mute), entry)
        elif entry.act is Act.INSPECTED:
            for name in entry.circuits:
                treating.end_suspicion(held[name], entry)
            part_ice = [(contents, contents.part_ice_at) for _, contents in touched]
            treating.apply_inspection(touched, entry)
            for contents, iced_at in part_ice:
                undoing.doubt_reading(contents, entry, iced_at)
        elif entry.act is Act.KEPT_WARM:
            treating.apply_kept_warm(touched, entry, _coldest_shelter(done, stays, shelters))
            for left, after in moves_into_cold(stays, shelters, done.at):
                # Its hour is not told: it may have been kept warm before it was moved that day.
                if entry.day_began is not None and earliest_time(entry) <= after.since:
                    cold = [contents for _, contents in touched if not contents.proven]
                    _apply_cold_move(cold, _cold_reason(left, after, shelters), entry.at)
        elif entry.act is Act.REPAIRED:
            for _, contents in touched:
                contents.blocked = False
        elif entry.act is Act.BROUGHT_BACK:
            undoing.apply_return(held, touched, entry)
        elif entry.act is Act.FOGGED_RUNNING:
            undoing.apply_fogging(touched, entry, done.at)
        else:
            _APPLY.get(entry.act, undoing.apply_undoing)(touched, entry)
        _note_doubts(touched, entry, doubts)
        if entry.act not in _ENDS_NO_RUN:
            through = done.at if entry.act is Act.ANTIFREEZE_RUN_THROUGH else None
            names = [one.circuit.id for one in circuits]
            for name in (*names, *(one.circuit.id for one in circuits_beside(names, profile))):
                held[name].run_through_at = through

    return apply


def _coldest_shelter(
    done: PlacedWork, stays: tuple[Stay, ...], shelters: Mapping[str, Shelter]
) -> Shelter | None:
    """Where a craft stood that was left to the heat; where its hour is not told, any place of then.

    A place without heat counts before one with it.
    """
    first = min(earliest_time(done.entry), done.at)
    places = [stay_at(stays, first), *(one for one in stays if first < one.since <= done.at)]
    found = [shelters.get(one.space) if one is not None else None for one in places]
    cold = [one for one in found if one is None or not one.heated]
    return cold[-1] if cold else found[-1]


def _note_doubts(touched: pouring.Touched, entry: LayupEntry, doubts: _Doubts) -> None:
    """Note what another word on the same look says, and findings about what was just done."""
    better = doubts.better.get(entry.id)
    for one, contents in touched:
        if better is not None and treating.tells_dry(better, one) and not contents.proven:
            contents.notes.append(Reason(because=Because.TOLD_BETTER, entry=better))
        seen = finding_that_doubts(entry, one, doubts.settled)
        if seen is not None and contents.proven:
            because = Because.FINDING_DOUBTS
            contents.doubt = Reason(because=because, entry=entry, name=seen.words)


_APPLY: Mapping[Act, Callable[[pouring.Touched, LayupEntry], None]] = {
    Act.DRAINED: treating.apply_draining,
    Act.BLOWN_OUT: treating.apply_draining,
    Act.OIL_CHANGED: treating.apply_oil_change,
    Act.STOOD: treating.apply_standing,
}


def _moves(
    stays: tuple[Stay, ...], shelters: Mapping[str, Shelter], at: datetime
) -> list[CircuitEvent]:
    moves = []
    for left, after in moves_into_cold(stays, shelters, at):
        why = _cold_reason(left, after, shelters)
        moves.append(CircuitEvent(at=after.since, rank=0, apply=_cold_move(why, after.since)))
    return moves


def _cold_reason(left: Shelter, after: Stay, shelters: Mapping[str, Shelter]) -> Reason:
    entered = shelters.get(after.space)
    return Reason(
        because=Because.OUT_OF_HEAT,
        at=after.since,
        name=left.name,
        other=entered.name if entered else after.space,
    )


def _cold_move(why: Reason, at: datetime) -> Callable[[dict[str, Contents]], None]:
    def apply(held: dict[str, Contents]) -> None:
        warm = [one for one in held.values() if one.state is LayupState.HEAT_ONLY]
        _apply_cold_move(warm, why, at)

    return apply


def _apply_cold_move(several: Iterable[Contents], why: Reason, at: datetime) -> None:
    for contents in several:
        contents.judge_as_water(LayupState.VOID, why, at)


def _ice(iced: Iced) -> Callable[[dict[str, Contents]], None]:
    def apply(held: dict[str, Contents]) -> None:
        undoing.apply_ice(held[iced.circuit], iced.at)

    return apply
