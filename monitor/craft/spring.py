"""The spring list: what must be undone, drained, inspected and tested before the first start."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from monitor.craft.account import protections
from monitor.craft.findings import open_findings
from monitor.craft.kept import Shelter, stay_at
from monitor.craft.layup import FOGGING, Act, FlowOrder, LayupEntry
from monitor.craft.needs import Care
from monitor.craft.profile import CircuitKind, CircuitProfile, FuelSystem
from monitor.craft.protection import Basis, LayupState, Protection
from monitor.craft.record import CraftRecord, battery
from monitor.craft.stored import BatteryPlace
from monitor.wording import Wording, listed


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringStep:
    """One thing to do before the first start, in its place in the order."""

    title: str
    words: str
    circuits: tuple[str, ...] = ()
    cautions: tuple[Care, ...] = ()


def spring_list(
    record: CraftRecord,
    shelters: Mapping[str, Shelter],
    at: datetime,
    wording: Wording | None = None,
) -> list[SpringStep]:
    """What to do, in order, before this craft is started again.

    Parameters
    ----------
    record : CraftRecord
        All that is on record.
    shelters : mapping of str to Shelter
        The yard's spaces by id.
    at : datetime
        The time that the list is written for.
    wording : Wording, optional
        Zone and units of the sentences.
    """
    words = wording or Wording()
    held = protections(
        record.profile, record.entries, record.stays, shelters, at, record.iced, words
    )
    entries = record.standing(at)
    steps = [
        *_cover(entries),
        *_damage(record, held, words),
        *_findings(record, at, words),
        *_antifreeze(record, held),
        *_close(record, held),
        *_oil(record),
        *_battery(record, entries, at, words),
        *_fuel(record, entries, words),
        *_start(record, entries),
    ]
    return steps


def _cover(entries: tuple[LayupEntry, ...]) -> Iterator[SpringStep]:
    screens = any(one.act is Act.RODENT_CARE for one in entries)
    yield SpringStep(
        title="Uncover and look",
        words=(
            "Take the cover off, look for water, nests and gnawed wires"
            + (
                "; take every screen and plug out of intakes, vents and exhaust."
                if screens
                else "."
            )
        ),
    )


def _damage(
    record: CraftRecord, held: Mapping[str, Protection], words: Wording
) -> Iterator[SpringStep]:
    for one in record.profile.circuits:
        protection = held[one.circuit.id]
        if protection.suspect_since is not None:
            yield SpringStep(
                title=f"Inspect {one.circuit.name}",
                words=(
                    f"It was below its ice point on {words.day(protection.suspect_since)} without"
                    f" proven protection: presume damage ({one.circuit.material}). Thawed through,"
                    " test it under pressure, look for weeping and at the oil. Do not start."
                ),
                circuits=(one.circuit.id,),
            )
    loose = [
        one
        for one in record.profile.circuits
        if held[one.circuit.id].state is not LayupState.PROVEN
        and held[one.circuit.id].suspect_since is None
    ]
    if loose:
        yield SpringStep(
            title="Look at what was never proven",
            words=(
                f"{listed([one.circuit.name for one in loose])}: no proof of protection over the"
                " winter. Look for cracks and leaks before and after filling."
            ),
            circuits=tuple(one.circuit.id for one in loose),
        )


def _findings(record: CraftRecord, at: datetime, words: Wording) -> Iterator[SpringStep]:
    for one in open_findings(record.entries, at):
        yield SpringStep(
            title=f"Settle finding {one.seen.id}",
            words=(
                f"{one.seen.part}: {one.seen.words} (found {words.day(one.found_at)} by {one.by})."
            ),
        )


def _antifreeze(record: CraftRecord, held: Mapping[str, Protection]) -> Iterator[SpringStep]:
    filled = [
        one
        for one in record.profile.circuits
        if one.kind is not CircuitKind.COOLANT
        and held[one.circuit.id].glycol_mass_fraction is not None
    ]
    if filled:
        yield SpringStep(
            title="Drain and catch the antifreeze",
            words=(
                f"From {listed([one.circuit.name for one in filled])}, into a drum with a label."
                " Then flush with fresh water, and catch the first of it too."
            ),
            circuits=tuple(one.circuit.id for one in filled),
            cautions=(Care.GLYCOL,),
        )


def _close(record: CraftRecord, held: Mapping[str, Protection]) -> Iterator[SpringStep]:
    open_ones: list[CircuitProfile] = [
        one
        for one in record.profile.circuits
        if one.kind is not CircuitKind.OIL and held[one.circuit.id].basis is Basis.DRAINED
    ]
    if open_ones:
        yield SpringStep(
            title="Close what was opened to drain",
            words=(
                f"Drains, plugs and hoses of {listed([one.circuit.name for one in open_ones])};"
                " bilge plugs in, their tag off the helm; new clamps where old ones are weak."
            ),
            circuits=tuple(one.circuit.id for one in open_ones),
        )


def _oil(record: CraftRecord) -> Iterator[SpringStep]:
    housings = [one for one in record.profile.circuits if one.kind is CircuitKind.OIL]
    if housings:
        yield SpringStep(
            title="Look at the oils",
            words=(
                f"Level and colour in {listed([one.circuit.name for one in housings])} and in the"
                " engine: milky means water, and no start."
            ),
            circuits=tuple(one.circuit.id for one in housings),
        )


def _battery(
    record: CraftRecord, entries: tuple[LayupEntry, ...], at: datetime, words: Wording
) -> Iterator[SpringStep]:
    stay = stay_at(record.stays, at)
    cell = battery(record.profile, entries, stay.space if stay else "")
    if cell is None:
        return
    last = (
        f"; last read {cell.rested_v:g} V on {words.day(cell.rested_at)}"
        if cell.rested_v is not None and cell.rested_at is not None
        else ""
    )
    where = {
        BatteryPlace.BENCH: "Bring it from the bench by its tag",
        BatteryPlace.ABOARD: "It wintered aboard: look for bulges and cracks first",
        BatteryPlace.AWAY: "Its owner has it",
        BatteryPlace.UNKNOWN: "Nobody noted where it is: find it, look for bulges and cracks",
    }[cell.place]
    yield SpringStep(
        title="Battery",
        words=f"{where}. Rested voltage and a load test before it goes in, clamps clean{last}.",
        cautions=(Care.HYDROGEN, Care.FROZEN_BATTERY),
    )


def _fuel(
    record: CraftRecord, entries: tuple[LayupEntry, ...], words: Wording
) -> Iterator[SpringStep]:
    if record.profile.fuel is FuelSystem.NONE:
        return
    emptied = [one for one in entries if one.act is Act.FUEL_DRAINED]
    treated = [one for one in entries if one.act is Act.FUEL_STABILISED]
    if emptied:
        told = f"drained on {words.day(emptied[-1].at)}: fill with fresh fuel"
    elif treated:
        told = f"stabilised on {words.day(treated[-1].at)}: look at a sample before it is used"
    else:
        told = "untreated as far as the record says: draw a sample, expect to drain it"
    yield SpringStep(
        title="Fuel",
        words=(f"Fuel {told}. Hoses, clamps and filter; look for leaks with the tank valve open."),
        cautions=(Care.FUEL_VAPOUR,),
    )


def _start(record: CraftRecord, entries: tuple[LayupEntry, ...]) -> Iterator[SpringStep]:
    order = {
        FlowOrder.ENGINE_FIRST: "engine on, water on; water off, engine off",
        FlowOrder.WATER_FIRST: "water on, engine on; engine off, water off",
        None: "as its manual says",
    }[record.profile.flow_order]
    smoke = (
        " It was fogged: it smokes at first, and wants new plugs after."
        if any(one.act in FOGGING for one in entries)
        else ""
    )
    yield SpringStep(
        title="First start, outdoors",
        words=(
            "Take the DO NOT START tag off last. Turn it over by hand with the plugs out and look"
            f" for water. On the hose: {order}. Watch temperature, flow and bilge for leaks.{smoke}"
        ),
        cautions=(Care.CARBON_MONOXIDE, Care.FUEL_VAPOUR),
    )
    yield SpringStep(
        title="Enter it as commissioned",
        words="From then on its winter protection is void, and the record says so.",
    )
