"""Rules about symptoms: what was seen and still waits for an answer."""

from collections.abc import Iterator

from monitor.craft.battery_record import battery
from monitor.craft.layup import ANTIFREEZE, Act, OilAppearance, Outflow, is_of_engine_oil
from monitor.craft.reach import reached
from monitor.craft.rules.case import Breach, Case, Rule
from monitor.craft.stored import BatteryPlace


def passage_blocked(case: Case) -> Iterator[Breach]:
    """Nothing came out: a blocked passage still holds its water, whatever was poured."""
    held = case.protections(case.at)
    for entry in case.entries:
        if entry.act not in ANTIFREEZE | {Act.FLUSHED} or (
            entry.evidence.outflow is not Outflow.NONE
        ):
            continue
        for name in reached(entry, case.profile):
            if held[name].ice_point_c < 0.0:
                continue  # answered since
            yield Breach(
                rule="passage-blocked",
                part=name,
                why=(
                    f"nothing came out of {case.name(name)} on {case.words.day(entry.at)}: the"
                    " passage is blocked and still holds water, whatever was poured"
                ),
                remedy="Drain it from below and probe; clear the passage, then pour again.",
                at=entry.at,
                entry=entry.id,
            )


def water_in_oil(case: Case) -> Iterator[Breach]:
    """Milky oil is water, and water in a housing freezes; a seal lets it by."""
    held = case.protections(case.at)
    for entry in case.entries:
        if entry.evidence.oil not in {OilAppearance.MILKY, OilAppearance.WATER}:
            continue
        for name in reached(entry, case.profile):
            if held[name].ice_point_c < 0.0:
                continue
            yield Breach(
                rule="water-in-oil",
                part=name,
                why=(
                    f"the oil of {case.name(name)} was {entry.evidence.oil} on"
                    f" {case.words.day(entry.at)}: that is water, it freezes, and a seal lets it by"
                ),
                remedy="Drain and refill now, look again, and book the seals before spring.",
                at=entry.at,
                entry=entry.id,
            )


def water_in_engine_oil(case: Case) -> Iterator[Breach]:
    """Milky oil in the engine itself: no circuit of it freezes, and bearings rust."""
    told = [
        entry
        for entry in case.entries
        if not entry.circuits and (is_of_engine_oil(entry) or entry.act is Act.INSPECTED)
        if entry.evidence.oil is not None
    ]
    last = told[-1] if told else None
    if last is not None and last.evidence.oil in {OilAppearance.MILKY, OilAppearance.WATER}:
        yield Breach(
            rule="water-in-engine-oil",
            why=(
                f"the engine's oil was {last.evidence.oil} on {case.words.day(last.at)}: water is"
                " in it, past a gasket, a cooler or a cracked casting"
            ),
            remedy="Find out where it came in, change the oil until it is clear, and enter that.",
            at=last.at,
            entry=last.id,
        )


def battery_unfed(case: Case) -> Iterator[Breach]:
    """A battery that nothing feeds runs flat, and a flat one freezes."""
    found = battery(case.profile, case.record.standing(case.at), "here")
    fed = found is None or found.maintained or found.place is BatteryPlace.AWAY
    placed = [one for one in case.entries if one.act is Act.BATTERY_LEFT_ABOARD]
    if fed or found is None or found.place is not BatteryPlace.ABOARD:
        return
    drawn = "" if found.disconnected else " and its lead is not noted as off"
    rested = "" if found.rested_v is None else f", last read {found.rested_v:g} V at rest"
    yield Breach(
        rule="battery-unfed",
        part="battery",
        why=f"the battery is aboard, no maintainer feeds it{drawn}{rested}: a flat one freezes",
        remedy=(
            "Take it to the bench, or take its negative lead off; if it may be frozen, thaw and"
            " look before any charge."
        ),
        at=placed[-1].at if placed else None,
        entry=placed[-1].id if placed else "",
    )


RULES: tuple[Rule, ...] = (passage_blocked, water_in_oil, water_in_engine_oil, battery_unfed)
