"""The spring plan: what is undone, drained, inspected and tested before the first start."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime, timedelta

from monitor.craft.account import season
from monitor.craft.battery_record import battery
from monitor.craft.craft_stays import Shelter, stay_at
from monitor.craft.findings import findings
from monitor.craft.layup import ANTIFREEZE, FOGGING, Act, LayupEntry, ReadyStep
from monitor.craft.plan.start import diesel_note, hose_order
from monitor.craft.plan.step import Ask, Care, JobPlan, JobStep, Note, StepKind
from monitor.craft.profile import CircuitKind, FuelSystem
from monitor.craft.protection import Basis, LayupState, Protection
from monitor.craft.reach import is_of_engine, paths_by_engine
from monitor.craft.record import CraftRecord, protections_on_record
from monitor.craft.stored import BatteryPlace

# Minutes of one person (common practice, no source).
_MINUTES = {
    StepKind.UNCOVER: 20.0,
    StepKind.LOOK_AFTER_ICE: 45.0,
    StepKind.LOOK_AT_UNPROVEN: 20.0,
    StepKind.SETTLE_FINDING: 0.0,  # nobody knows before it is looked at
    StepKind.CATCH_ANTIFREEZE: 30.0,
    StepKind.FLUSH_PLUMBING: 15.0,
    StepKind.CLOSE_DRAINS: 15.0,
    StepKind.LOOK_AT_OILS: 10.0,
    StepKind.CLEAR_CYLINDERS: 20.0,
    StepKind.LOOK_AT_FUEL: 15.0,
    StepKind.FIT_BATTERY: 20.0,
    StepKind.AIR_OUT: 10.0,
    StepKind.SIGN_OFF: 5.0,
    StepKind.FIRST_START: 30.0,
    StepKind.COMMISSION: 5.0,
}
_BEFORE = timedelta(milliseconds=1)
_PLACES = {
    BatteryPlace.BENCH: Note.ON_BENCH,
    BatteryPlace.ABOARD: Note.ABOARD,
    BatteryPlace.AWAY: Note.WITH_OWNER,
    BatteryPlace.UNKNOWN: Note.NOWHERE,
}


# What each step is ticked off as; a finding is settled by its work, and the last two by their acts.
READY_STEPS: Mapping[StepKind, ReadyStep] = {
    StepKind.UNCOVER: ReadyStep.UNCOVERED,
    StepKind.LOOK_AFTER_ICE: ReadyStep.ICE_TESTED,
    StepKind.LOOK_AT_UNPROVEN: ReadyStep.UNPROVEN_LOOKED_AT,
    StepKind.CATCH_ANTIFREEZE: ReadyStep.ANTIFREEZE_OUT,
    StepKind.FLUSH_PLUMBING: ReadyStep.FLUSHED_CLEAR,
    StepKind.CLOSE_DRAINS: ReadyStep.CLOSED,
    StepKind.LOOK_AT_OILS: ReadyStep.OILS_LOOKED_AT,
    StepKind.CLEAR_CYLINDERS: ReadyStep.CYLINDERS_CLEAR,
    StepKind.LOOK_AT_FUEL: ReadyStep.FUEL_LOOKED_AT,
    StepKind.FIT_BATTERY: ReadyStep.BATTERY_FITTED,
    StepKind.AIR_OUT: ReadyStep.AIRED,
    StepKind.FIRST_START: ReadyStep.STARTED,
}
_OPENS = frozenset({Act.DRAINED, Act.BLOWN_OUT, Act.CIRCUIT_OPENED, Act.PORT_LEFT_OPEN})


def spring_plan(record: CraftRecord, shelters: Mapping[str, Shelter], at: datetime) -> JobPlan:
    """What to do, in order, before this craft is started again; what is done of it too.

    Parameters
    ----------
    record : CraftRecord
        All that is on record.
    shelters : mapping of str to Shelter
        The yard's spaces by id.
    at : datetime
        The time that the plan is made at.

    Returns
    -------
    JobPlan
        Made of what the winter left: once the first step is ticked off, of the record as it stood
        before, with what went in, was opened, froze or was found since. Of a craft that is
        commissioned already only what is still to be looked at.
    """
    entries = record.standing(at)
    of_winter = tuple(one for one in entries if season(one.at) == season(at))
    commissioned = [one.at for one in of_winter if one.act is Act.COMMISSIONED]
    begun = spring_begun_at(of_winter)
    winter = (begun or (commissioned[-1] if commissioned else at)) - (
        _BEFORE if begun or commissioned else timedelta(0)
    )
    since = tuple(one for one in of_winter if one.at > winter)
    held = protections_on_record(record, shelters, winter)
    found = (*_damage(record, held, shelters, at), *_findings(record, winter, at))
    if commissioned:
        return _plan(record, tuple(one for one in found if not _is_settled(one)))
    autumn = tuple(one for one in of_winter if one.at <= winter)
    filled = _filled(record, held, since)
    return _plan(
        record,
        (
            _cover(autumn),
            *found,
            *_antifreeze(held, filled),
            _close(record, held, filled, since),
            *_flush(record, filled),
            *_oil(record),
            *_cylinders(record, of_winter),
            # No clamp makes a spark before somebody has looked for leaking fuel.
            *_fuel(record, of_winter),
            *_battery(record, tuple(one for one in entries if one.at <= winter), winter),
            *_air(record),
            JobStep(kind=StepKind.SIGN_OFF, act=Act.SIGNED_OFF),
            *_start(record, of_winter, filled),
        ),
    )


def spring_begun_at(of_winter: tuple[LayupEntry, ...]) -> datetime | None:
    """When the first step before the first start was ticked off; None where none is."""
    return min((one.at for one in of_winter if one.readied is not None), default=None)


def _is_settled(step: JobStep) -> bool:
    return step.finding is not None and step.finding.settled_at is not None


def _plan(record: CraftRecord, steps: tuple[JobStep, ...]) -> JobPlan:
    timed = tuple(replace(step, minutes=_MINUTES[step.kind]) for step in steps)
    return JobPlan(craft=record.craft.id, low_c=0.0, steps=timed, unreadable=record.unreadable)


def _cover(entries: tuple[LayupEntry, ...]) -> JobStep:
    screens = any(one.act is Act.RODENT_CARE for one in entries)
    return JobStep(
        kind=StepKind.UNCOVER, act=Act.COVER_OFF, notes=(Note.SCREENED,) if screens else ()
    )


def _damage(
    record: CraftRecord,
    held: Mapping[str, Protection],
    shelters: Mapping[str, Shelter],
    at: datetime,
) -> Iterator[JobStep]:
    iced = _iced_since(record, held, shelters, at)
    for name in record.profile.circuit_ids:
        if name in iced:
            yield JobStep(
                kind=StepKind.LOOK_AFTER_ICE, circuits=(name,), at=iced[name], act=Act.INSPECTED
            )
    loose = tuple(
        name
        for name in record.profile.circuit_ids
        if held[name].state is not LayupState.PROVEN and name not in iced
    )
    if loose:
        yield JobStep(kind=StepKind.LOOK_AT_UNPROVEN, circuits=loose, act=Act.INSPECTED)


def _iced_since(
    record: CraftRecord,
    held: Mapping[str, Protection],
    shelters: Mapping[str, Shelter],
    at: datetime,
) -> dict[str, datetime]:
    """Circuits that went through ice unproven this winter, and since when; repaired ones not.

    That somebody looked at one in winter ends the suspicion of the watch, and does not stand for
    the test under pressure before a start.
    """
    found = {name: one.suspect_since for name, one in held.items() if one.suspect_since is not None}
    for ice in record.iced:
        if ice.circuit in found or ice.circuit not in held:
            continue
        if ice.at > at or season(ice.at) != season(at):
            continue
        suspect = protections_on_record(record, shelters, ice.at)[ice.circuit].suspect_since
        if suspect is not None and not _repaired_since(record, ice.circuit, ice.at, at):
            found[ice.circuit] = suspect
    return found


def _repaired_since(record: CraftRecord, circuit: str, since: datetime, at: datetime) -> bool:
    return any(
        one.act is Act.REPAIRED and one.at > since and circuit in one.circuits
        for one in record.standing(at)
    )


def _findings(record: CraftRecord, winter: datetime, at: datetime) -> Iterator[JobStep]:
    for one in findings(record.entries, at, record.profile):
        if one.settled_at is None or one.settled_at > winter:
            yield JobStep(kind=StepKind.SETTLE_FINDING, finding=one, act=Act.REPAIRED)


def _filled(
    record: CraftRecord, held: Mapping[str, Protection], since: tuple[LayupEntry, ...]
) -> tuple[str, ...]:
    """Circuits with antifreeze in them, proven or not; of coolant none is let out."""
    poured = {name for one in since if one.act in ANTIFREEZE for name in one.circuits}
    return tuple(
        one.circuit.id
        for one in record.profile.circuits
        if one.kind is not CircuitKind.COOLANT
        and (_holds_antifreeze(held[one.circuit.id]) or one.circuit.id in poured)
    )


def _antifreeze(held: Mapping[str, Protection], filled: tuple[str, ...]) -> Iterator[JobStep]:
    """Catch what went in, whether it was proven to hold or not: it is in there all the same.

    An engine's own passages are not flushed while it stands: water that a hose feeds them runs on
    into the exhaust, and can lock it. What is left in them comes out at the first start.
    """
    if filled:
        yield JobStep(
            kind=StepKind.CATCH_ANTIFREEZE,
            circuits=filled,
            cautions=(Care.GLYCOL,),
            notes=(Note.POISON,) if any(held[name].poison for name in filled) else (),
            act=Act.CIRCUIT_OPENED,
        )


def _flush(record: CraftRecord, filled: tuple[str, ...]) -> Iterator[JobStep]:
    plumbing = tuple(
        name for name in filled if record.profile.find(name).kind is CircuitKind.PLUMBING
    )
    if plumbing:
        yield JobStep(
            kind=StepKind.FLUSH_PLUMBING,
            circuits=plumbing,
            asks=(Ask.CLEAR_WATER,),
            cautions=(Care.GLYCOL,),
            act=Act.FLUSHED,
        )


def _holds_antifreeze(held: Protection) -> bool:
    poisoned = held.poison is not None
    return bool(held.went_in) or held.glycol_mass_fraction is not None or poisoned


def _close(
    record: CraftRecord,
    held: Mapping[str, Protection],
    filled: tuple[str, ...],
    since: tuple[LayupEntry, ...],
) -> JobStep:
    """Close what was opened to drain, in autumn or now for the antifreeze; and the bilge plugs."""
    since_opened = {name for one in since if one.act in _OPENS for name in one.circuits}
    opened = tuple(
        one.circuit.id
        for one in record.profile.circuits
        if one.kind not in {CircuitKind.OIL, CircuitKind.COOLANT}
        and (
            held[one.circuit.id].basis is Basis.DRAINED
            or one.circuit.id in filled
            or one.circuit.id in since_opened
        )
    )
    return JobStep(kind=StepKind.CLOSE_DRAINS, circuits=opened, act=Act.READIED)


def _oil(record: CraftRecord) -> Iterator[JobStep]:
    housings = tuple(
        one.circuit.id for one in record.profile.circuits if one.kind is CircuitKind.OIL
    )
    if housings or record.profile.engine_paths:
        yield JobStep(
            kind=StepKind.LOOK_AT_OILS,
            circuits=housings,
            asks=(Ask.CLEAR_OIL,),
            act=Act.READIED,
        )


def _cylinders(record: CraftRecord, entries: tuple[LayupEntry, ...]) -> Iterator[JobStep]:
    if record.profile.fuel is FuelSystem.NONE:
        return
    fogged = (Note.FOGGED,) if any(one.act in FOGGING for one in entries) else ()
    yield JobStep(
        kind=StepKind.CLEAR_CYLINDERS,
        notes=(*fogged, *diesel_note(record.profile)),
        cautions=(Care.FUEL_VAPOUR,),
        act=Act.READIED,
    )


def _battery(
    record: CraftRecord, entries: tuple[LayupEntry, ...], at: datetime
) -> Iterator[JobStep]:
    stay = stay_at(record.stays, at)
    cell = battery(record.profile, entries, stay.space if stay else "")
    if cell is not None:
        yield JobStep(
            kind=StepKind.FIT_BATTERY,
            notes=(_PLACES[cell.place],),
            at=cell.rested_at,
            volts=cell.rested_v,
            asks=(Ask.RESTED_VOLTAGE,),
            cautions=(Care.HYDROGEN, Care.FROZEN_BATTERY),
            act=Act.BATTERY_CONNECTED,
        )


def _air(record: CraftRecord) -> Iterator[JobStep]:
    if record.profile.fuel is not FuelSystem.NONE:
        yield JobStep(kind=StepKind.AIR_OUT, cautions=(Care.FUEL_VAPOUR,), act=Act.READIED)


def _fuel(record: CraftRecord, entries: tuple[LayupEntry, ...]) -> Iterator[JobStep]:
    if record.profile.fuel is FuelSystem.NONE:
        return
    paths = paths_by_engine(record.profile)
    # Of one engine of two, only what stands behind the tank was emptied.
    emptied = [
        one
        for one in entries
        if one.act is Act.FUEL_DRAINED and all(is_of_engine(one, path) for path in paths)
    ]
    treated = [one for one in entries if one.act is Act.FUEL_STABILISED]
    tank = [one for one in entries if one.act is Act.FUEL_TANK_EMPTIED]
    if tank and (not treated or treated[-1].at < tank[-1].at):
        note, at = Note.TANK_EMPTIED, tank[-1].at
    elif emptied:
        note, at = Note.FUEL_DRAINED, emptied[-1].at
    elif treated:
        note, at = Note.FUEL_TREATED, treated[-1].at
    else:
        note, at = Note.FUEL_UNTREATED, None
    yield JobStep(
        kind=StepKind.LOOK_AT_FUEL,
        notes=(note,),
        at=at,
        cautions=(Care.FUEL_VAPOUR,),
        act=Act.READIED,
    )


def _start(
    record: CraftRecord, entries: tuple[LayupEntry, ...], filled: tuple[str, ...]
) -> Iterator[JobStep]:
    fogged = (Note.FOGGED,) if any(one.act in FOGGING for one in entries) else ()
    engines = {name for path in record.profile.engine_paths for name in path}
    left = (Note.ANTIFREEZE_LEFT,) if engines & set(filled) else ()
    yield JobStep(
        kind=StepKind.FIRST_START,
        notes=(*hose_order(record.profile), *fogged, *left, *diesel_note(record.profile)),
        cautions=(
            Care.CARBON_MONOXIDE,
            Care.FUEL_VAPOUR,
            *((Care.GLYCOL,) if left else ()),
        ),
        act=Act.RUN_ON_WATER,
    )
    yield JobStep(kind=StepKind.COMMISSION, act=Act.COMMISSIONED)
