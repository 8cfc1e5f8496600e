"""The account of a craft's circuits: each entry and each move in turn, down to what stands."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime

from monitor.craft import treating, undoing
from monitor.craft.act_table import is_mute
from monitor.craft.contents import Contents
from monitor.craft.kept import Shelter, Stay, moves_into_cold, stay_at
from monitor.craft.layup import (
    ANTIFREEZE,
    ENGINE_RUNS,
    RUNS,
    Act,
    LayupEntry,
    standing_entries,
)
from monitor.craft.profile import CircuitKind, Profile
from monitor.craft.protection import LayupState, Protection
from monitor.wording import Wording

_SEASON_MONTH = 7  # a winter's lay-up counts until the next July; before that it is last season's

_REACHES: dict[Act, frozenset[CircuitKind]] = {
    **dict.fromkeys(RUNS, frozenset({CircuitKind.RAW})),
    Act.COMMISSIONED: frozenset({CircuitKind.RAW, CircuitKind.PLUMBING}),
    Act.COVER_TORN: frozenset({CircuitKind.POCKET}),
    Act.KEPT_WARM: frozenset(CircuitKind),
    Act.OWNER_STATEMENT: frozenset(CircuitKind),
    Act.STOOD: frozenset(CircuitKind),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Iced:
    """A circuit was computed to be below its ice point at that time."""

    circuit: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class _Event:
    at: datetime
    rank: int  # at one and the same moment: moves, then work, then ice
    apply: Callable[[dict[str, Contents]], None]


def reached(entry: LayupEntry, profile: Profile) -> tuple[str, ...]:
    """Circuits that an entry tells anything of, in the order in which it names them.

    They are those that it names, or that its act always reaches, without those of which its act
    says nothing: there the entry is a note.
    """
    kinds = _REACHES.get(entry.act, frozenset())
    named = entry.circuits or tuple(one.circuit.id for one in profile.circuits if one.kind in kinds)
    return tuple(name for name in named if not is_mute(entry, profile.find(name)))


def ran_engine(entry: LayupEntry, profile: Profile) -> bool:
    """Whether the engine ran for it: antifreeze also goes through pumps of their own."""
    if entry.act not in ENGINE_RUNS:
        return False
    if entry.act is not Act.ANTIFREEZE_RUN_THROUGH or not entry.circuits:
        return True
    known = profile.circuit_ids
    return any(
        profile.find(name).kind is CircuitKind.RAW for name in entry.circuits if name in known
    )


def season(at: datetime) -> int:
    """Year in whose July the lay-up season of that time began (northern winter)."""
    return at.year if at.month >= _SEASON_MONTH else at.year - 1


def protections(
    profile: Profile,
    entries: tuple[LayupEntry, ...],
    stays: tuple[Stay, ...],
    shelters: Mapping[str, Shelter],
    at: datetime,
    iced: tuple[Iced, ...] = (),
    wording: Wording | None = None,
) -> dict[str, Protection]:
    """What each circuit can stand at one time, from everything on record until then.

    Parameters
    ----------
    profile : Profile
        The craft's type; every circuit of it gets a protection.
    entries : tuple of LayupEntry
        The whole lay-up record, in any order, corrections and all.
    stays : tuple of Stay
        Where the craft stood, in any order.
    shelters : mapping of str to Shelter
        The yard's spaces by id. A space that is not in it counts as cold.
    at : datetime
        The time to judge for; later entries do not count.
    iced : tuple of Iced, optional
        Times at which a circuit was computed to be below its ice point.
    wording : Wording, optional
        Zone and units of the sentences.

    Returns
    -------
    dict of str to Protection
        By circuit id, in the profile's order.
    """
    words = wording or Wording()
    held = {name: Contents(circuit=name) for name in profile.circuit_ids}
    events = [
        *_moves(stays, shelters, at, words),
        *(
            _Event(
                at=entry.at,
                rank=1,
                apply=_work(profile, entry, stays, shelters, words),
            )
            for entry in standing_entries(entries, at)
        ),
        *(
            _Event(at=one.at, rank=2, apply=_ice(one, words))
            for one in iced
            if one.at <= at and one.circuit in held
        ),
    ]
    for event in sorted(events, key=lambda one: (one.at, one.rank)):
        for contents in held.values():
            _forget_last_season(contents, event.at, words)
        event.apply(held)
    for contents in held.values():
        _forget_last_season(contents, at, words)
    stay = stay_at(stays, at)
    shelter = shelters.get(stay.space) if stay else None
    if shelter is not None and shelter.heated:
        for contents in held.values():
            if contents.state is LayupState.UNKNOWN:
                contents.notes.append(f"only the heat of {shelter.name} keeps it")
    return {name: contents.protection() for name, contents in held.items()}


def _work(
    profile: Profile,
    entry: LayupEntry,
    stays: tuple[Stay, ...],
    shelters: Mapping[str, Shelter],
    words: Wording,
) -> Callable[[dict[str, Contents]], None]:
    circuits = [profile.find(name) for name in reached(entry, profile)]

    def apply(held: dict[str, Contents]) -> None:
        touched = [(one, held[one.circuit.id]) for one in circuits]
        if entry.posture is not None:
            for one in profile.circuits:
                undoing.stood(one, held[one.circuit.id], entry, words)
        if entry.act in ANTIFREEZE:
            treating.antifreeze(touched, entry, words)
        elif entry.act in {Act.DRAINED, Act.BLOWN_OUT}:
            treating.drained(touched, entry, words)
        elif entry.act is Act.OIL_CHANGED:
            treating.oil_changed(touched, entry, words)
        elif entry.act is Act.INSPECTED:
            treating.inspected(touched, entry, words)
        elif entry.act is Act.KEPT_WARM:
            stay = stay_at(stays, entry.at)
            shelter = shelters.get(stay.space) if stay else None
            treating.kept_warm(touched, entry, shelter, words)
        else:
            undoing.undone(touched, entry, words)

    return apply


def _moves(
    stays: tuple[Stay, ...],
    shelters: Mapping[str, Shelter],
    at: datetime,
    words: Wording,
) -> list[_Event]:
    moves = []
    for left, after in moves_into_cold(stays, shelters, at):
        entered = shelters.get(after.space)
        name = entered.name if entered else after.space
        why = (
            f"left untreated and moved out of the heat of {left.name} to {name} on"
            f" {words.day(after.since)}"
        )
        moves.append(_Event(at=after.since, rank=0, apply=_cold_move(why, after.since)))
    return moves


def _cold_move(why: str, at: datetime) -> Callable[[dict[str, Contents]], None]:
    def apply(held: dict[str, Contents]) -> None:
        for contents in held.values():
            if contents.state is LayupState.HEAT_ONLY:
                contents.water(LayupState.VOID, why, at)

    return apply


def _ice(iced: Iced, words: Wording) -> Callable[[dict[str, Contents]], None]:
    def apply(held: dict[str, Contents]) -> None:
        undoing.iced(held[iced.circuit], iced.at, words)

    return apply


def _forget_last_season(contents: Contents, at: datetime, words: Wording) -> None:
    treated = contents.treated_at
    if treated is None or season(treated) >= season(at):
        return
    if contents.state in {LayupState.PROVEN, LayupState.HEAT_ONLY}:
        contents.water(
            LayupState.UNKNOWN,
            f"last treated on {words.day(treated)}, in an earlier season, and not read again since",
            treated,
        )
