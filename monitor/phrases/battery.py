"""What is said of batteries and of the maintainers that charge them."""

from datetime import timedelta
from math import isfinite

from monitor.craft.stored import BatteryPlace
from monitor.phrases.names import Names, plain
from monitor.phrases.numbers import nights_like_this
from monitor.physics.maintainer import Phase
from monitor.wording import Wording
from monitor.yard.assessment import Assessment, Standing
from monitor.yard.battery_facts import (
    BatteryFacts,
    BatteryFault,
    ChargeSource,
    FaultKind,
    LossKind,
    MaintainerLoss,
)
from monitor.yard.facts import ChargingFacts

_WORTH_SAYING = 0.05


def charging_basis(facts: ChargingFacts, seen: Assessment, names: Names, words: Wording) -> str:
    """What a maintainer holds its battery at, against the most that is right."""
    craft = names.craft_name(seen.subject.craft)
    parts = []
    if facts.over:
        holds = "holds" if facts.fresh else "last held"
        parts.append(
            f"The maintainer of {craft} {holds} {facts.voltage_v:.2f} V, where"
            f" {facts.highest_v:.1f} V is the most that a charge of this battery needs."
        )
    if facts.hot:
        stands = "is" if facts.fresh else "was"
        parts.append(
            f"The battery of {craft} {stands} at {words.temperature(facts.battery_c)}; above"
            f" {words.temperature(facts.highest_c)} charging has to stop."
        )
    if not facts.fresh:
        parts.append("Nothing fresh was heard since: nobody knows whether it still does.")
    return " ".join(parts)


def charging_act() -> str:
    """What to do where a maintainer drives its battery too hard."""
    return (
        "Switch the maintainer off at the mains, air the place, keep sparks and flames away, let"
        " the battery cool before anyone touches it, and enter that it is off. If its equalise"
        " stage was set off on purpose, stay with it and enter that (flooded batteries only)."
    )


def battery_basis(facts: BatteryFacts, seen: Assessment, names: Names, words: Wording) -> str:
    """Where a battery stands, its charge and how that is known, and the cold against it."""
    space = names.space(seen.subject.space)
    bench = facts.place is BatteryPlace.BENCH
    where = f"on the bench in {space}" if bench else f"aboard in {space}"
    parts = [
        f"Battery {where}: {_charge(facts, words)}",
        _freezes(facts, seen, words),
        _days(facts, seen, words),
    ]
    return " ".join(part for part in parts if part)


def _charge(facts: BatteryFacts, words: Wording) -> str:
    """How the charge is known, and how much it is."""
    loss = "" if facts.loss is None else _loss(facts.loss, words)
    fed = facts.maintained and facts.loss is None
    if facts.source is ChargeSource.NOTHING:
        return _unknown_charge(loss, fed=fed)
    silent = facts.loss is not None and facts.loss.kind is LossKind.SILENT
    it = "By its last readings it" if silent else "It"
    fault = "" if facts.fault is None else f" {it} {_fault(facts.fault)}."
    charged = f"about {facts.charge_fraction * 100:.0f} % charged"
    if facts.source is ChargeSource.MAINTAINER:
        what = loss or f"maintainer in {Phase(facts.phase).name.lower()}"
        said = f", {charged}" if facts.charge_is_known else ""
        return f"{what}, {facts.voltage_v:.2f} V{said}.{fault}"
    day = "" if facts.source_at is None else words.date(facts.source_at)
    known = (
        f"{facts.source_v:.2f} V at rest on {day}"
        if facts.source is ChargeSource.RESTED
        else f"last told to be {facts.source_fraction * 100:.0f} % charged on {day}"
    )
    lead = f"{loss}; " if loss else ""
    feeder = " and on a maintainer that nobody hears" if fed else ""
    return f"{lead}{known}{feeder}, by now {charged}{_drawn(facts)}.{fault}"


def _unknown_charge(loss: str, *, fed: bool) -> str:
    what = loss or ("on a maintainer that nobody hears" if fed else "no maintainer heard")
    may = "" if fed else "; it may be empty"
    return f"{what} and no rested voltage on record, so its charge is not known{may}."


def _drawn(facts: BatteryFacts) -> str:
    if not facts.load_a:
        return ""
    low = facts.charge_low_fraction
    left = f"{low * 100:.0f} % are left" if low > 0.0 else "it is empty"
    return (
        " if nothing draws from it; left connected, clocks, alarms and pumps may draw"
        f" {facts.load_a * 1000:.0f} mA, and then {left}"
    )


def _loss(loss: MaintainerLoss, words: Wording) -> str:
    return {
        LossKind.NEVER_HEARD: (
            f"nothing heard of its maintainer {plain(loss.sensor)} for four days"
        ),
        LossKind.SILENT: f"its maintainer was last heard at {words.clock(loss.heard_at)}",
        LossKind.NO_MAINS: "its maintainer has no mains",
        LossKind.NOT_CHARGING: "its maintainer no longer charges it",
    }[loss.kind]


def _fault(fault: BatteryFault) -> str:
    """What is wrong, as the end of a sentence."""
    dries = "it never gets full" if fault.held_v < fault.low_v else "it dries out"
    return {
        FaultKind.DEAD_CELL: "reads as if one cell were dead",
        FaultKind.CHARGED_BELOW_ZERO: "is being charged below freezing",
        FaultKind.GASSING: f"stands at more than {fault.high_v:.1f} V, and so gasses",
        FaultKind.FALLS_FAST: "falls faster than a sound battery that nothing draws from",
        FaultKind.NEVER_FULL: (
            f"took {fault.taken_ah:.0f} Ah without getting full, more than it can hold"
        ),
        FaultKind.LONG_ABSORPTION: "has been charged for more than a day without reaching float",
        FaultKind.TAKES_MORE: "takes more and more current at float, as a bad cell does",
        FaultKind.FLOAT_OFF: (
            f"floats at {fault.held_v:.1f} V where {fault.low_v:.1f} to {fault.high_v:.1f} V are"
            f" right for its temperature: so {dries}"
        ),
    }[fault.kind]


def _freezes(facts: BatteryFacts, seen: Assessment, words: Wording) -> str:
    """At what cold its acid freezes, how cold it gets, and whether it may have frozen."""
    if not isfinite(seen.limit_c):
        return "" if facts.has_lead_cells else "Its electrolyte does not freeze."
    worst = words.temperature(seen.limit_c)
    if not facts.charge_is_known:
        text = f"Empty, it would freeze from {worst} down"
    elif facts.only_feared:
        text = (
            f"At the one charge it freezes at about {words.temperature(facts.likely_freezes_c)},"
            f" at the other from {worst} down"
        )
    elif facts.long_empty_h > 0.0:
        text = (
            f"It has stood empty for {facts.long_empty_h / 24.0:.0f} days, which weakens the acid:"
            f" it can freeze from {worst} down"
        )
    else:
        text = f"At that charge it freezes at about {worst}"
    if isfinite(seen.low_c):
        now, low = words.temperature(seen.now_c), words.temperature(seen.low_c)
        text += f"; it is at {now} and gets down to {low}"
    if facts.chance_freezing >= _WORTH_SAYING:
        it = "It" if facts.charge_is_known else "If it is empty it"
        text += f". {it} freezes {nights_like_this(facts.chance_freezing)}"
    at = facts.memory.may_be_frozen_at
    if at is not None and at < seen.at - timedelta(hours=1):
        text += f". It was so cold at {words.clock(at)} that it may have frozen"
    return f"{text}."


def _days(facts: BatteryFacts, seen: Assessment, words: Wording) -> str:
    """By when somebody has to charge it, or to test it."""
    if facts.test_at is not None:
        if facts.test_at <= seen.at:
            return "It wants testing now."
        return f"It wants testing by {words.date(facts.test_at)}."
    if facts.flat_at is not None and facts.flat_at > seen.at:
        return f"Left alone it wants charging by {words.date(facts.flat_at)}."
    return ""


_LOAD_TEST = "Take the maintainer off at the mains, let the battery rest, and test it under load."
_FAULT_ACTS = {
    FaultKind.GASSING: (
        "Take the maintainer off at the mains, air the place, and test unit and battery."
    ),
    FaultKind.FALLS_FAST: "Take its negative lead off, let it rest, and test it under load.",
    FaultKind.FLOAT_OFF: (
        "Set the maintainer's float to the battery's kind, or use one that follows temperature."
    ),
}


def battery_act(facts: BatteryFacts, seen: Assessment, words: Wording) -> str:
    """What to do about a battery."""
    fault = facts.fault
    if facts.memory.may_be_frozen_at is not None:
        off = "Switch the maintainer off, carry" if facts.maintained else "Carry"
        suspect = seen.standing is Standing.SUSPECT
        may = "It may have frozen, and be frozen inside" if suspect else "It may be frozen"
        return (
            f"{may}: do not charge it. {off} the battery into a warm room, let it thaw,"
            " look for bulges and cracks, test it at rest and enter its voltage, and only then"
            " charge it."
        )
    if seen.standing is Standing.FREEZING:
        return _before_it_freezes(facts, seen, words)
    if fault is not None and fault.kind is FaultKind.CHARGED_BELOW_ZERO:
        freezing = words.temperature(0.0, 0)
        return f"Switch the maintainer off: this chemistry is never charged below {freezing}."
    if seen.standing is Standing.LOST:
        return "See to the maintainer: mains, plug, fuse, clamps; then charge the battery."
    if seen.standing is Standing.NOT_KNOWN:
        return "Measure its voltage after a night's rest and enter it."
    if fault is not None:
        return _FAULT_ACTS.get(fault.kind, _LOAD_TEST)
    return _charge_it(facts, seen)


def _before_it_freezes(facts: BatteryFacts, seen: Assessment, words: Wording) -> str:
    when = "before it gets colder"
    if seen.deadline is not None:
        when = f"by {words.clock(seen.deadline)}" if words.is_ahead(seen.deadline) else "now"
    if facts.only_feared:
        return (
            f"Test it at rest {when} and enter its voltage. Below 12.4 V, or if nobody"
            " can test it, carry it to a warm bench; else take its negative lead off, so that"
            " nothing draws from it."
        )
    return (
        f"Carry the battery into a warm space {when}, look for bulges and cracks, and"
        " charge it there."
    )


def _charge_it(facts: BatteryFacts, seen: Assessment) -> str:
    if facts.load_a and facts.flat_at is not None and facts.flat_at > seen.at:
        return (
            "Test it at rest and enter its voltage; then take its negative lead off, or put it on"
            " a maintainer."
        )
    if facts.load_a:
        return "Charge the battery, and take its negative lead off or keep it on a maintainer."
    return "Charge the battery."
