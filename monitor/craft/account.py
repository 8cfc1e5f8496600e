"""The account of a craft's circuits: each entry and each move in turn, down to what stands."""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from monitor.craft import pouring, treating, undoing
from monitor.craft.act_table import Deed, Verdict, is_mute, verdict_on
from monitor.craft.contents import Contents
from monitor.craft.findings import finding_that_doubts
from monitor.craft.kept import Shelter, Stay, moves_into_cold, stay_at
from monitor.craft.layup import (
    ANTIFREEZE,
    ENGINE_RUNS,
    RUNS,
    Act,
    LayupEntry,
)
from monitor.craft.profile import CircuitKind, CircuitProfile, Profile, Shape
from monitor.craft.protection import LayupState, Protection
from monitor.craft.reasons import Because, Reason
from monitor.craft.work_order import PlacedWork, better_words, judged_order
from monitor.wording import Wording

_SEASON_MONTH = 7  # a winter's lay-up counts until the next July; before that it is last season's

# A sample may be read, and fog goes in, while antifreeze still runs through.
_ENDS_NO_RUN = frozenset({Act.INSPECTED, Act.FOGGED_RUNNING})
_REACHES: dict[Act, frozenset[CircuitKind]] = {
    **dict.fromkeys(RUNS, frozenset({CircuitKind.RAW})),
    Act.COMMISSIONED: frozenset({CircuitKind.RAW, CircuitKind.PLUMBING}),
    Act.FOGGED_RUNNING: frozenset({CircuitKind.RAW}),
    **dict.fromkeys((Act.COVER_TORN, Act.COVER_OFF), frozenset({CircuitKind.POCKET})),
    Act.KEPT_WARM: frozenset(CircuitKind),
    Act.OWNER_STATEMENT: frozenset(CircuitKind),
    Act.STOOD: frozenset(CircuitKind),
    Act.BROUGHT_BACK: frozenset({CircuitKind.RAW, CircuitKind.PLUMBING, CircuitKind.POCKET}),
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
    entry: str = ""  # id of the work


@dataclass(frozen=True, slots=True, kw_only=True)
class _Doubts:
    """What of the whole record decides whether a piece of work is in doubt."""

    better: Mapping[str, LayupEntry]  # what tells better of the same look, by the entry's id
    settled: frozenset[str]  # ids of findings


def reached(entry: LayupEntry, profile: Profile) -> tuple[str, ...]:
    """Circuits that an entry tells anything of, in the order in which it names them.

    They are those that it names, or that its act always reaches, without those of which its act
    says nothing: there the entry is a note. A run on water reaches all of a flow of which it
    names a part.
    """
    named = _named(entry, profile)
    return tuple(name for name in named if not is_mute(entry, profile.find(name)))


def ran_engine(entry: LayupEntry, profile: Profile) -> bool:
    """Whether the engine ran for it: antifreeze and a flush also go through pumps of their own."""
    if entry.act not in ENGINE_RUNS:
        return False
    if entry.act not in {Act.ANTIFREEZE_RUN_THROUGH, Act.FLUSHED} or not entry.circuits:
        return True
    known = profile.circuit_ids
    return any(
        profile.find(name).kind is CircuitKind.RAW for name in entry.circuits if name in known
    )


def is_of_engine(entry: LayupEntry, path: Collection[str]) -> bool:
    """Whether work is on the engine of a flow path; what names no circuit is on every engine."""
    return not entry.circuits or not set(path).isdisjoint(entry.circuits)


def _named(entry: LayupEntry, profile: Profile) -> tuple[str, ...]:
    kinds = _REACHES.get(entry.act, frozenset())
    if not entry.circuits or entry.act is Act.BROUGHT_BACK:
        return tuple(one.circuit.id for one in profile.circuits if one.kind in kinds)
    if entry.act not in RUNS | {Act.FOGGED_RUNNING}:
        return entry.circuits
    return entry.circuits + tuple(one.circuit.id for one in _beside(entry.circuits, profile))


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
    held = _nothing_on_record(profile)
    for event in _events(profile, entries, stays, shelters, at, iced):
        _apply(event, held)
    for contents in held.values():
        _forget_last_season(contents, at)
    stay = stay_at(stays, at)
    _note_heat(held.values(), shelters.get(stay.space) if stay else None)
    return {name: contents.to_protection(words) for name, contents in held.items()}


def protections_around(
    profile: Profile,
    entries: tuple[LayupEntry, ...],
    stays: tuple[Stay, ...],
    shelters: Mapping[str, Shelter],
    at: datetime,
    entry: str,
    iced: tuple[Iced, ...] = (),
    wording: Wording | None = None,
) -> tuple[dict[str, Protection], dict[str, Protection]]:
    """What each circuit could stand just before and just after a piece of work.

    That goes by its place in the order of the work, whatever hour was told; the other parameters
    are those of `protections`.

    Parameters
    ----------
    entry : str
        Id of the work; if it does not count at that time, all that does comes before it.
    """
    words = wording or Wording()
    held = _nothing_on_record(profile)
    before: dict[str, Protection] | None = None
    for event in _events(profile, entries, stays, shelters, at, iced):
        found = event.entry == entry
        if found:
            before = {name: one.to_protection(words) for name, one in held.items()}
        _apply(event, held)
        if found:
            break
    after = {name: one.to_protection(words) for name, one in held.items()}
    return after if before is None else before, after


def _apply(event: _Event, held: dict[str, Contents]) -> None:
    for contents in held.values():
        _forget_last_season(contents, event.at)
    event.apply(held)


def _events(
    profile: Profile,
    entries: tuple[LayupEntry, ...],
    stays: tuple[Stay, ...],
    shelters: Mapping[str, Shelter],
    at: datetime,
    iced: tuple[Iced, ...],
) -> list[_Event]:
    """Moves, work and ice until a time, in the order in which they count."""
    known = profile.circuit_ids
    counting = judged_order(entries, at)
    doubts = _Doubts(
        better=better_words(counting),
        settled=frozenset(name for done in counting for name in done.entry.settles),
    )
    events = [
        *_moves(stays, shelters, at),
        *(
            _Event(
                at=one.at,
                rank=1,
                apply=_work(profile, one, stays, shelters, doubts),
                entry=one.entry.id,
            )
            for one in counting
        ),
        *(
            _Event(at=one.at, rank=2, apply=_ice(one))
            for one in iced
            if one.at <= at and one.circuit in known
        ),
    ]
    return sorted(events, key=lambda one: (one.at, one.rank))


def _nothing_on_record(profile: Profile) -> dict[str, Contents]:
    """The account of every circuit before any entry, in the profile's order."""
    return {
        one.circuit.id: Contents(
            circuit=one.circuit.id,
            closed=one.shape is Shape.COOLANT_LOOP,
            drinking=one.circuit.drinking,
        )
        for one in profile.circuits
    }


def _note_heat(several: Iterable[Contents], shelter: Shelter | None) -> None:
    """Note that only heat keeps circuits of which nothing is known."""
    if shelter is None or not shelter.heated:
        return
    for contents in several:
        if contents.state is LayupState.UNKNOWN:
            contents.notes.append(Reason(because=Because.HEAT_KEEPS_IT, name=shelter.name))


def _work(
    profile: Profile,
    done: PlacedWork,
    stays: tuple[Stay, ...],
    shelters: Mapping[str, Shelter],
    doubts: _Doubts,
) -> Callable[[dict[str, Contents]], None]:
    entry = done.entry
    circuits = [profile.find(name) for name in reached(entry, profile)]
    mute = _spoilt_by_glycol(entry, profile)
    beside = _passed_unnamed(entry, profile)

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
                held[name].suspect_since, held[name].inspected_at = None, entry.at
            treating.apply_inspection(touched, entry)
        elif entry.act is Act.KEPT_WARM:
            stay = stay_at(stays, entry.at)
            treating.apply_kept_warm(touched, entry, shelters.get(stay.space) if stay else None)
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
            for name in (*names, *(one.circuit.id for one in _beside(names, profile))):
                held[name].run_through_at = through

    return apply


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


def _beside(names: Collection[str], profile: Profile) -> tuple[CircuitProfile, ...]:
    """Circuits on the flow paths of those named that are not named themselves."""
    flows = {profile.find(name).flow for name in names} - {""}
    return tuple(
        one for one in profile.circuits if one.flow in flows and one.circuit.id not in names
    )


def _passed_unnamed(entry: LayupEntry, profile: Profile) -> tuple[CircuitProfile, ...]:
    """Circuits that antifreeze run through also passed, being of one flow with those named.

    A tank stands at one end of its path, whatever makes it safe.
    """
    return _beside(entry.circuits, profile) if entry.act is Act.ANTIFREEZE_RUN_THROUGH else ()


def _spoilt_by_glycol(entry: LayupEntry, profile: Profile) -> tuple[str, ...]:
    """Circuits of which an entry proves nothing, but which another glycol spoils."""
    return tuple(
        name
        for name in _named(entry, profile)
        if is_mute(entry, one := profile.find(name))
        and verdict_on(Deed.SECOND_GLYCOL, one) is Verdict.UNDOES
    )


_APPLY: Mapping[Act, Callable[[pouring.Touched, LayupEntry], None]] = {
    Act.DRAINED: treating.apply_draining,
    Act.BLOWN_OUT: treating.apply_draining,
    Act.OIL_CHANGED: treating.apply_oil_change,
    Act.STOOD: treating.apply_standing,
}


def _moves(stays: tuple[Stay, ...], shelters: Mapping[str, Shelter], at: datetime) -> list[_Event]:
    moves = []
    for left, after in moves_into_cold(stays, shelters, at):
        entered = shelters.get(after.space)
        why = Reason(
            because=Because.OUT_OF_HEAT,
            at=after.since,
            name=left.name,
            other=entered.name if entered else after.space,
        )
        moves.append(_Event(at=after.since, rank=0, apply=_cold_move(why, after.since)))
    return moves


def _cold_move(why: Reason, at: datetime) -> Callable[[dict[str, Contents]], None]:
    def apply(held: dict[str, Contents]) -> None:
        for contents in held.values():
            if contents.state is LayupState.HEAT_ONLY:
                contents.judge_as_water(LayupState.VOID, why, at)

    return apply


def _ice(iced: Iced) -> Callable[[dict[str, Contents]], None]:
    def apply(held: dict[str, Contents]) -> None:
        undoing.apply_ice(held[iced.circuit], iced.at)

    return apply


def _forget_last_season(contents: Contents, at: datetime) -> None:
    treated = contents.treated_at
    if treated is None or season(treated) >= season(at):
        return
    if contents.state in {LayupState.PROVEN, LayupState.HEAT_ONLY}:
        why = Reason(because=Because.EARLIER_SEASON, at=treated)
        contents.judge_as_water(LayupState.UNKNOWN, why, treated)
    read = contents.warmest_read
    contents.forget_pours()
    if read is not None and season(read[1].at) >= season(at):
        contents.warmest_read = read
