"""What happened to a craft's circuits: each move, each piece of work and each ice, in turn."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from monitor.craft import pouring, treating, undoing
from monitor.craft.conflicting_words import better_words, judged_order
from monitor.craft.contents import Contents
from monitor.craft.craft_stays import Shelter, Stay, moves_into_cold, stay_at
from monitor.craft.findings import finding_that_doubts
from monitor.craft.layup import ANTIFREEZE, Act, LayupEntry
from monitor.craft.profile import CircuitProfile, Profile
from monitor.craft.protection import LayupState
from monitor.craft.reach import circuits_beside, passed_unnamed, reached, spoilt_by_glycol
from monitor.craft.reasons import Because, Reason
from monitor.craft.settling import settled_by
from monitor.craft.work_order import PlacedWork, earliest_time

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

    It takes what `monitor.craft.account.protections` takes; ice in a circuit that the profile does
    not have is left out, as is what comes later than ``at``.
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
                apply=_Work(
                    profile=profile,
                    done=one,
                    circuits=tuple(profile.find(name) for name in reached(one.entry, profile)),
                    stays=stays,
                    shelters=shelters,
                    doubts=doubts,
                ).change,
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Work:
    """One piece of work: the circuits that it reaches, and what of the craft decides its effect."""

    profile: Profile
    done: PlacedWork
    circuits: tuple[CircuitProfile, ...]
    stays: tuple[Stay, ...]
    shelters: Mapping[str, Shelter]
    doubts: _Doubts

    @property
    def entry(self) -> LayupEntry:
        """What was entered for it."""
        return self.done.entry

    def change(self, held: dict[str, Contents]) -> None:
        """Change what stands in each circuit by what was done."""
        touched = [(one, held[one.circuit.id]) for one in self.circuits]
        if self.entry.posture is not None:
            for one in self.profile.circuits:
                undoing.apply_posture(one, held[one.circuit.id], self.entry)
        if self.entry.act in ANTIFREEZE:
            self._pour(held, touched)
        else:
            _CHANGES.get(self.entry.act, _undo)(self, held, touched)
        _note_doubts(touched, self.entry, self.doubts)
        self._note_run(held)

    def _pour(self, held: dict[str, Contents], touched: pouring.Touched) -> None:
        beside = passed_unnamed(self.entry, self.profile)
        pouring.apply_antifreeze(
            touched, self.entry, [(one, held[one.circuit.id]) for one in beside]
        )
        mute = spoilt_by_glycol(self.entry, self.profile)
        pouring.apply_another_glycol((held[name] for name in mute), self.entry)

    def _note_run(self, held: dict[str, Contents]) -> None:
        """Note through which circuits antifreeze still runs after it."""
        if self.entry.act in _ENDS_NO_RUN:
            return
        through = self.done.at if self.entry.act is Act.ANTIFREEZE_RUN_THROUGH else None
        names = [one.circuit.id for one in self.circuits]
        for name in (*names, *(one.circuit.id for one in circuits_beside(names, self.profile))):
            held[name].run_through_at = through


_Change = Callable[[_Work, dict[str, Contents], pouring.Touched], None]


def _look_inside(work: _Work, held: dict[str, Contents], touched: pouring.Touched) -> None:
    for name in work.entry.circuits:
        treating.end_suspicion(held[name], work.entry)
    part_ice = [(contents, contents.part_ice_at) for _, contents in touched]
    treating.apply_inspection(touched, work.entry)
    for contents, iced_at in part_ice:
        undoing.doubt_reading(contents, work.entry, iced_at)


def _keep_warm(work: _Work, _held: dict[str, Contents], touched: pouring.Touched) -> None:
    entry = work.entry
    warmed_by = _coldest_shelter(work.done, work.stays, work.shelters)
    treating.apply_kept_warm(touched, entry, warmed_by)
    for left, after in moves_into_cold(work.stays, work.shelters, work.done.at):
        # Its hour is not told: it may have been kept warm before it was moved that day.
        if entry.day_began is not None and earliest_time(entry) <= after.since:
            cold = [contents for _, contents in touched if not contents.proven]
            _apply_cold_move(cold, _cold_reason(left, after, work.shelters), entry.at)


def _repair(_work: _Work, _held: dict[str, Contents], touched: pouring.Touched) -> None:
    for _, contents in touched:
        contents.blocked = False


def _bring_back(work: _Work, held: dict[str, Contents], touched: pouring.Touched) -> None:
    undoing.apply_return(held, touched, work.entry)


def _fog(work: _Work, _held: dict[str, Contents], touched: pouring.Touched) -> None:
    undoing.apply_fogging(touched, work.entry, work.done.at)


def _undo(work: _Work, _held: dict[str, Contents], touched: pouring.Touched) -> None:
    undoing.apply_undoing(touched, work.entry)


def _treat(apply: Callable[[pouring.Touched, LayupEntry], None]) -> _Change:
    """A change that asks for nothing but the circuits that the work reaches."""
    return lambda work, _held, touched: apply(touched, work.entry)


# Antifreeze apart, which also reaches circuits that it was not poured into.
_CHANGES: Mapping[Act, _Change] = {
    Act.INSPECTED: _look_inside,
    Act.KEPT_WARM: _keep_warm,
    Act.REPAIRED: _repair,
    Act.BROUGHT_BACK: _bring_back,
    Act.FOGGED_RUNNING: _fog,
    Act.DRAINED: _treat(treating.apply_draining),
    Act.BLOWN_OUT: _treat(treating.apply_draining),
    Act.OIL_CHANGED: _treat(treating.apply_oil_change),
    Act.STOOD: _treat(treating.apply_standing),
}


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
