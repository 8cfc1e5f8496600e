"""The spring plan: what is undone, drained, inspected and tested before the first start."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime, timedelta

from monitor.craft.account import season
from monitor.craft.battery_record import battery
from monitor.craft.craft_stays import Shelter, stay_at
from monitor.craft.findings import open_findings
from monitor.craft.layup import FOGGING, Act, LayupEntry
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
    StepKind.CLOSE_DRAINS: 15.0,
    StepKind.LOOK_AT_OILS: 10.0,
    StepKind.FIT_BATTERY: 20.0,
    StepKind.LOOK_AT_FUEL: 15.0,
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


def spring_plan(record: CraftRecord, shelters: Mapping[str, Shelter], at: datetime) -> JobPlan:
    """What to do, in order, before this craft is started again.

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
        Of a craft that is commissioned already only what the winter left to be looked at: its
        circuits are told as they stood before.
    """
    entries = record.standing(at)
    commissioned = [
        one.at for one in entries if one.act is Act.COMMISSIONED and season(one.at) == season(at)
    ]
    winter = commissioned[-1] - _BEFORE if commissioned else at
    held = protections_on_record(record, shelters, winter)
    of_winter = tuple(one for one in entries if season(one.at) == season(at))
    found = (*_damage(record, held), *_findings(record, at))
    if commissioned:
        return _plan(record, found)
    return _plan(
        record,
        (
            _cover(of_winter),
            *found,
            *_antifreeze(record, held),
            _close(record, held),
            *_oil(record),
            # No clamp makes a spark before somebody has looked for leaking fuel.
            *_fuel(record, of_winter),
            *_battery(record, entries, at),
            *_start(record, of_winter),
        ),
    )


def _plan(record: CraftRecord, steps: tuple[JobStep, ...]) -> JobPlan:
    timed = tuple(replace(step, minutes=_MINUTES[step.kind]) for step in steps)
    return JobPlan(craft=record.craft.id, low_c=0.0, steps=timed)


def _cover(entries: tuple[LayupEntry, ...]) -> JobStep:
    screens = any(one.act is Act.RODENT_CARE for one in entries)
    return JobStep(
        kind=StepKind.UNCOVER, act=Act.COVER_OFF, notes=(Note.SCREENED,) if screens else ()
    )


def _damage(record: CraftRecord, held: Mapping[str, Protection]) -> Iterator[JobStep]:
    names = record.profile.circuit_ids
    for name in names:
        if held[name].suspect_since is not None:
            yield JobStep(
                kind=StepKind.LOOK_AFTER_ICE,
                circuits=(name,),
                at=held[name].suspect_since,
                act=Act.INSPECTED,
            )
    loose = tuple(
        name
        for name in names
        if held[name].state is not LayupState.PROVEN and held[name].suspect_since is None
    )
    if loose:
        yield JobStep(kind=StepKind.LOOK_AT_UNPROVEN, circuits=loose)


def _findings(record: CraftRecord, at: datetime) -> Iterator[JobStep]:
    for one in open_findings(record.entries, at, record.profile):
        yield JobStep(kind=StepKind.SETTLE_FINDING, finding=one, act=Act.REPAIRED)


def _antifreeze(record: CraftRecord, held: Mapping[str, Protection]) -> Iterator[JobStep]:
    """Catch what went in, whether it was proven to hold or not: it is in there all the same."""
    filled = tuple(
        one.circuit.id
        for one in record.profile.circuits
        if one.kind is not CircuitKind.COOLANT and _holds_antifreeze(held[one.circuit.id])
    )
    if filled:
        yield JobStep(
            kind=StepKind.CATCH_ANTIFREEZE,
            circuits=filled,
            cautions=(Care.GLYCOL,),
            notes=(Note.POISON,) if any(held[name].poison for name in filled) else (),
        )


def _holds_antifreeze(held: Protection) -> bool:
    poisoned = held.poison is not None
    return bool(held.went_in) or held.glycol_mass_fraction is not None or poisoned


def _close(record: CraftRecord, held: Mapping[str, Protection]) -> JobStep:
    """Close what was opened to drain, in autumn or now for the antifreeze; and the bilge plugs."""
    opened = tuple(
        one.circuit.id
        for one in record.profile.circuits
        if one.kind not in {CircuitKind.OIL, CircuitKind.COOLANT}
        and (held[one.circuit.id].basis is Basis.DRAINED or _holds_antifreeze(held[one.circuit.id]))
    )
    return JobStep(kind=StepKind.CLOSE_DRAINS, circuits=opened)


def _oil(record: CraftRecord) -> Iterator[JobStep]:
    housings = tuple(
        one.circuit.id for one in record.profile.circuits if one.kind is CircuitKind.OIL
    )
    if housings or record.profile.engine_paths:
        yield JobStep(kind=StepKind.LOOK_AT_OILS, circuits=housings)


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


def _fuel(record: CraftRecord, entries: tuple[LayupEntry, ...]) -> Iterator[JobStep]:
    if record.profile.fuel is FuelSystem.NONE:
        return
    # Of one engine of two, only what stands behind the tank was emptied.
    emptied = [
        one
        for one in entries
        if one.act is Act.FUEL_DRAINED
        and all(is_of_engine(one, path) for path in paths_by_engine(record.profile))
    ]
    treated = [one for one in entries if one.act is Act.FUEL_STABILISED]
    tank = [one for one in entries if one.act is Act.FUEL_TANK_EMPTIED]
    note, known = (
        (Note.TANK_EMPTIED, tank)
        if tank and (not treated or treated[-1].at < tank[-1].at)
        else (Note.FUEL_DRAINED, emptied)
        if emptied
        else (Note.FUEL_TREATED, treated)
        if treated
        else (Note.FUEL_UNTREATED, [])
    )
    yield JobStep(
        kind=StepKind.LOOK_AT_FUEL,
        notes=(note,),
        at=known[-1].at if known else None,
        cautions=(Care.FUEL_VAPOUR,),
    )


def _start(record: CraftRecord, entries: tuple[LayupEntry, ...]) -> Iterator[JobStep]:
    fogged = (Note.FOGGED,) if any(one.act in FOGGING for one in entries) else ()
    yield JobStep(
        kind=StepKind.FIRST_START,
        notes=(*hose_order(record.profile), *fogged, *diesel_note(record.profile)),
        cautions=(Care.CARBON_MONOXIDE, Care.FUEL_VAPOUR),
    )
    yield JobStep(kind=StepKind.COMMISSION, act=Act.COMMISSIONED)
