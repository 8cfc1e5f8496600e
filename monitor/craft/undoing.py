"""What takes protection away again: runs, opened circuits, time away, spring, torn covers, ice."""

from collections.abc import Mapping
from datetime import datetime, timedelta

from monitor.craft.contents import Contents
from monitor.craft.layup import OF_HULL, RUNS, Act, LayupEntry, Outflow
from monitor.craft.pouring import Touched
from monitor.craft.profile import CircuitKind, CircuitProfile
from monitor.craft.protection import Confidence, LayupState
from monitor.craft.reasons import Because, Reason
from monitor.craft.work_order import earliest_time

_UNDOES: Mapping[Act, tuple[LayupState, Because]] = {
    Act.CIRCUIT_OPENED: (LayupState.VOID, Because.OPENED),
    Act.PORT_LEFT_OPEN: (LayupState.VOID, Because.PORT_OPEN),
    Act.COMMISSIONED: (LayupState.VOID, Because.COMMISSIONED),
    Act.COVER_TORN: (LayupState.UNKNOWN, Because.COVER_TORN),
    Act.COVER_OFF: (LayupState.UNKNOWN, Because.COVER_OFF),
}

# Antifreeze run through two engines one after the other, and fog at the end of it.
_ONE_RUN = timedelta(hours=3)


def apply_undoing(touched: Touched, entry: LayupEntry) -> None:
    """Apply an entry that brings water in or opens a circuit; other entries change nothing."""
    for _, contents in touched:
        if entry.act in RUNS:
            _run(contents, entry, Because.RUN)
        elif entry.act in _UNDOES:
            state, because = _UNDOES[entry.act]
            if entry.act is Act.CIRCUIT_OPENED:
                contents.blocked = contents.filled = False
                contents.kinds = frozenset()
            contents.let_water_in(state, Reason(because=because, entry=entry), entry.at)
            # Who has it open can let out and measure what no drain reaches.
            contents.drained = entry.act is Act.CIRCUIT_OPENED
        elif entry.act is Act.OWNER_STATEMENT and contents.state is LayupState.UNKNOWN:
            contents.why = Reason(because=Because.OWNERS_WORD, entry=entry)


def apply_fogging(touched: Touched, entry: LayupEntry, at: datetime) -> None:
    """Apply fogging with the engine running: on a hose, unless antifreeze ran through it just now.

    Fog goes in as the run on antifreeze ends; an engine that is started again for it draws water.
    """
    just_run = {
        one.flow or one.circuit.id
        for one, contents in touched
        if contents.run_through_at is not None and at - contents.run_through_at <= _ONE_RUN
    }
    for one, contents in touched:
        if (one.flow or one.circuit.id) not in just_run:
            _run(contents, entry, Because.FOGGED_ON_WATER)


def _run(contents: Contents, entry: LayupEntry, because: Because) -> None:
    """Apply a run on water. It clears no passage that was blocked.

    A flush rinses glycol out only where somebody saw clear water come: of one that nobody watched
    to its end, what stood there before may be left.
    """
    treated = contents.treated_at
    if entry.act is Act.FLUSHED and entry.evidence.outflow is Outflow.NONE:
        blocked = Reason(because=Because.BLOCKED, entry=entry)
        contents.let_water_in(LayupState.UNPROVEN, blocked, entry.at)
        contents.blocked = True
        return
    if entry.act is Act.FLUSHED and entry.evidence.outflow is Outflow.CLEAR_WATER:
        contents.kinds, contents.filled = frozenset(), False
        contents.poison = None
    if contents.state is LayupState.UNKNOWN or treated is None:
        contents.let_water_in(
            LayupState.UNKNOWN, Reason(because=Because.RUN_FIRST, entry=entry), entry.at
        )
        return
    again = contents.state is LayupState.VOID
    why = Reason(because=because, entry=entry, at=None if again else treated)
    contents.let_water_in(LayupState.VOID, why, entry.at)


def apply_posture(one: CircuitProfile, contents: Contents, entry: LayupEntry) -> None:
    """Note how it stands now: a pocket that is dry only upright collects rain when tilted.

    What lake water left behind ran out while it stood right, and does not come back. How the hull
    stands says nothing of an engine on it.
    """
    if one.posture is None or (entry.posture in OF_HULL) != (one.posture in OF_HULL):
        return
    contents.posture = entry.posture
    exposed = one.kind is CircuitKind.POCKET and contents.dry
    if entry.posture is one.posture or not exposed:
        return
    contents.let_water_in(
        LayupState.UNPROVEN,
        Reason(
            because=Because.STANDS_WRONG,
            entry=entry,
            posture=str(one.posture),
            stands=str(entry.posture or ""),
        ),
        entry.at,
    )


def apply_return(held: Mapping[str, Contents], touched: Touched, entry: LayupEntry) -> None:
    """Apply a return from outside the yard.

    What only heat kept is void, as no heat of the yard's kept it out there. Work done before
    counts on only if somebody says that the craft neither ran nor was afloat.
    """
    used = entry.evidence.used_away
    because, state = Because.BACK_UNSAID, LayupState.UNPROVEN
    if used:
        because, state = Because.BACK_USED, LayupState.VOID
    for _, contents in touched if used is not False else ():
        contents.let_water_in(state, Reason(because=because, entry=entry), entry.at)
    for contents in held.values():
        if contents.state is LayupState.HEAT_ONLY:
            why = Reason(because=Because.BACK_OUT_OF_HEAT, entry=entry)
            contents.let_water_in(LayupState.VOID, why, entry.at)


def doubt_reading(contents: Contents, entry: LayupEntry, iced_at: datetime | None) -> None:
    """Let part ice count after a look that may have come before it: its hour is not told."""
    if iced_at is None or iced_at < earliest_time(entry):
        return
    if contents.proven and not contents.dry:
        apply_ice(contents, iced_at)


def apply_ice(contents: Contents, at: datetime) -> None:
    """It was computed below its ice point: presume damage, or distrust an old reading."""
    if not contents.proven:
        contents.unlooked_ice = (*contents.unlooked_ice, at)
        return
    contents.part_ice_at = at
    contents.confidence = Confidence.LOW
    if not any(one.because is Because.PART_ICE for one in contents.notes):
        contents.notes.append(Reason(because=Because.PART_ICE, at=at))
