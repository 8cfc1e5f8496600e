"""The steps of spring as sentences and titles: from the cover off to the first start."""

from collections.abc import Callable

from monitor.craft.plan.step import Note, StepKind
from monitor.phrases.step_in_words import StepInWords, capitalize_first


def _ice(told: StepInWords) -> str:
    day = f" on {told.words.day(told.step.at)}" if told.step.at else ""
    return (
        f"It was below its ice point{day} without proven protection: presume damage"
        f" ({told.material}). Thawed through, test it under pressure, look for weeping and at the"
        " oil. Do not start."
    )


def _uncover(told: StepInWords) -> str:
    look = "Take the cover off, look for water, nests and gnawed wires"
    if Note.SCREENED in told.step.notes:
        return f"{look}; take every screen and plug out of intakes, vents and exhaust."
    return f"{look}."


_BATTERY = {
    Note.ON_BENCH: "Bring it from the bench by its tag",
    Note.ABOARD: "It wintered aboard: look for bulges and cracks first",
    Note.WITH_OWNER: "Its owner has it",
    Note.NOWHERE: "Nobody noted where it is: find it, look for bulges and cracks",
}


def _battery(told: StepInWords) -> str:
    step = told.step
    where = next(_BATTERY[note] for note in step.notes if note in _BATTERY)
    last = (
        f"; last read {step.volts:g} V on {told.words.day(step.at)}"
        if step.volts is not None and step.at is not None
        else ""
    )
    return f"{where}. Rested voltage and a load test before it goes in, clamps clean{last}."


def _fuel(told: StepInWords) -> str:
    day = told.words.day(told.step.at) if told.step.at else ""
    if Note.FUEL_DRAINED in told.step.notes:
        state = (
            f"drained on {day} from bowls, filter and lines, and nobody noted whether the tank is"
            " empty: look into it, and start on fresh fuel"
        )
    elif Note.TANK_EMPTIED in told.step.notes:
        state = f"let out of the tank on {day}: fill fresh fuel in"
    elif Note.FUEL_TREATED in told.step.notes:
        state = f"stabilised on {day}: look at a sample before it is used"
    else:
        state = "untreated as far as the record says: draw a sample, expect to drain it"
    return f"Fuel {state}. Hoses, clamps and filter; look for leaks with the tank valve open."


def _catch(told: StepInWords) -> str:
    poison = (
        " Ethylene glycol, or what nobody named, went into what people drink from or wash with:"
        " nobody does before it is flushed, clear water came, and that is entered."
        if Note.POISON in told.step.notes
        else ""
    )
    return (
        f"From {told.names}, into a drum with a label, for the licensed hauler. Note which drum."
        f"{poison}"
    )


def _close(told: StepInWords) -> str:
    plugs = "bilge plugs in, their tag off the helm"
    if not told.step.circuits:
        return f"{capitalize_first(plugs)}."
    return (
        f"Drains, plugs and hoses of {told.names}; {plugs}; new clamps where old ones are weak."
        f"{told.spring_tips}"
    )


def _oils(told: StepInWords) -> str:
    engine = "each engine" if len(told.circuits.flows) > 1 else "the engine"
    housings = f"{told.names} and in " if told.step.circuits else ""
    return f"Level and colour in {housings}{engine}: milky means water, and no start."


def _cylinders(told: StepInWords) -> str:
    if Note.DIESEL in told.step.notes:
        return (
            f"Turn {told.engine} over by hand, decompressed where it can be and its stop pulled:"
            " where it will not turn, water may stand on a piston, so do not crank it."
        )
    fog = (
        " It was fogged: expect oil, wipe it up and fit new plugs."
        if Note.FOGGED in told.step.notes
        else ""
    )
    return (
        "Plugs out, their leads held to bare metal or the ignition off. Turn"
        f" {told.engine} over by hand and look for water: water means no start.{fog} Plugs back in,"
        " leads on."
    )


def _start(told: StepInWords) -> str:
    smoke = " It was fogged: it smokes at first." if Note.FOGGED in told.step.notes else ""
    rest = (
        " Catch the first water: antifreeze is left in it."
        if Note.ANTIFREEZE_LEFT in told.step.notes
        else ""
    )
    return (
        "Take the DO NOT START tag off now, and not before."
        f" On the hose: {told.order}. Watch temperature, flow and bilge for leaks.{rest}{smoke}"
        " From now on water stands in it: a frost counts again."
    )


SPRING_SENTENCES: dict[StepKind, Callable[[StepInWords], str]] = {
    StepKind.UNCOVER: _uncover,
    StepKind.LOOK_AFTER_ICE: _ice,
    StepKind.LOOK_AT_UNPROVEN: lambda told: (
        f"{capitalize_first(told.names)}: no proof of protection over the winter. Look for cracks"
        " and leaks before and after filling."
    ),
    StepKind.SETTLE_FINDING: lambda told: f"{told.found}.",
    StepKind.CATCH_ANTIFREEZE: _catch,
    StepKind.FLUSH_PLUMBING: lambda told: (
        f"Fresh water through {told.names}, by their own pumps and at every tap, until it runs"
        " clear. Catch the first of it."
    ),
    StepKind.CLOSE_DRAINS: _close,
    StepKind.LOOK_AT_OILS: _oils,
    StepKind.FIT_BATTERY: _battery,
    StepKind.LOOK_AT_FUEL: _fuel,
    StepKind.CLEAR_CYLINDERS: _cylinders,
    StepKind.AIR_OUT: lambda _: (
        "Hatches and engine space open, blower on for 4 minutes, then sniff low down in the bilge."
        " A smell of fuel means no start."
    ),
    StepKind.SIGN_OFF: lambda _: (
        "Every step above is done and on record. Whoever signs says that it may be started."
    ),
    StepKind.FIRST_START: _start,
    StepKind.COMMISSION: lambda _: (
        "From then on its winter protection is void, and the record says so."
    ),
}

SPRING_TITLES: dict[StepKind, Callable[[StepInWords], str]] = {
    StepKind.UNCOVER: lambda _: "Uncover and look",
    StepKind.LOOK_AFTER_ICE: lambda told: f"Inspect {told.bare_names}",
    StepKind.LOOK_AT_UNPROVEN: lambda _: "Look at what was never proven",
    StepKind.SETTLE_FINDING: lambda told: (
        f"Settle finding {told.step.finding.seen.id if told.step.finding else ''}"
    ),
    StepKind.CATCH_ANTIFREEZE: lambda _: "Drain and catch the antifreeze",
    StepKind.FLUSH_PLUMBING: lambda _: "Flush with fresh water",
    StepKind.CLOSE_DRAINS: lambda _: "Close what was opened to drain",
    StepKind.LOOK_AT_OILS: lambda _: "Look at the oils",
    StepKind.FIT_BATTERY: lambda _: "Battery",
    StepKind.LOOK_AT_FUEL: lambda _: "Fuel",
    StepKind.CLEAR_CYLINDERS: lambda _: "Turn it over by hand",
    StepKind.AIR_OUT: lambda _: "Air it out",
    StepKind.SIGN_OFF: lambda _: "Sign off: may be started",
    StepKind.FIRST_START: lambda _: "First start, outdoors",
    StepKind.COMMISSION: lambda _: "Enter it as commissioned",
}
