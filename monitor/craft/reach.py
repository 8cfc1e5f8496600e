"""Which circuits and engines of a craft a piece of work reaches, named or not."""

from collections.abc import Collection

from monitor.craft.act_table import Deed, Verdict, is_mute, verdict_on
from monitor.craft.layup import ENGINE_RUNS, RUNS, Act, LayupEntry
from monitor.craft.profile import CircuitKind, CircuitProfile, Profile

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


def paths_by_engine(profile: Profile) -> tuple[tuple[str, ...], ...]:
    """Flow path of each engine that burns fuel; an empty one where lake water cools none."""
    return profile.engine_paths or ((),)


def is_of_engine(entry: LayupEntry, path: Collection[str]) -> bool:
    """Whether work is on the engine of a flow path; what names no circuit is on every engine."""
    return not entry.circuits or not path or not set(path).isdisjoint(entry.circuits)


def circuits_beside(names: Collection[str], profile: Profile) -> tuple[CircuitProfile, ...]:
    """Circuits on the flow paths of those named that are not named themselves."""
    flows = {profile.find(name).flow for name in names} - {""}
    return tuple(
        one for one in profile.circuits if one.flow in flows and one.circuit.id not in names
    )


def passed_unnamed(entry: LayupEntry, profile: Profile) -> tuple[CircuitProfile, ...]:
    """Circuits that antifreeze run through also passed, being of one flow with those named.

    A tank stands at one end of its path, whatever makes it safe.
    """
    if entry.act is not Act.ANTIFREEZE_RUN_THROUGH:
        return ()
    return circuits_beside(entry.circuits, profile)


def spoilt_by_glycol(entry: LayupEntry, profile: Profile) -> tuple[str, ...]:
    """Circuits of which an entry proves nothing, but which another glycol spoils."""
    return tuple(
        name
        for name in _named(entry, profile)
        if is_mute(entry, one := profile.find(name))
        and verdict_on(Deed.SECOND_GLYCOL, one) is Verdict.UNDOES
    )


def _named(entry: LayupEntry, profile: Profile) -> tuple[str, ...]:
    kinds = _REACHES.get(entry.act, frozenset())
    if not entry.circuits or entry.act is Act.BROUGHT_BACK:
        return tuple(one.circuit.id for one in profile.circuits if one.kind in kinds)
    if entry.act not in RUNS | {Act.FOGGED_RUNNING}:
        return entry.circuits
    beside = circuits_beside(entry.circuits, profile)
    return entry.circuits + tuple(one.circuit.id for one in beside)
