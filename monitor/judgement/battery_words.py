"""What is said of a battery: how its charge is known, where it freezes, and what to do."""

from datetime import timedelta
from math import isfinite

from monitor.craft.stored import Battery, BatteryPlace
from monitor.judgement.air import SpaceAir
from monitor.judgement.battery_cold import Cold, Freezing
from monitor.judgement.rested import Charge
from monitor.judgement.speech import Speech, sentence
from monitor.physics.battery import LONG_EMPTY_FREEZES_C
from monitor.wording import FREEZING
from monitor.yard.assessment import Standing


def basis(
    air: SpaceAir,
    battery: Battery,
    charge: Charge,
    freezing: Freezing,
    cold: Cold,
    speech: Speech,
) -> str:
    """Say where it stands, its charge and how that is known, and the cold against it."""
    name = air.space.name
    where = (
        f"on the bench in {name}" if battery.place is BatteryPlace.BENCH else f"aboard in {name}"
    )
    return sentence(
        f"Battery {where}:",
        charge.how,
        _freezes(battery, charge, freezing, cold, speech),
        _days(air, charge, speech),
    )


def _freezes(
    battery: Battery, charge: Charge, freezing: Freezing, cold: Cold, speech: Speech
) -> str:
    if not isfinite(freezing.worst_c):
        return "Its electrolyte does not freeze." if not battery.has_lead_cells else ""
    worst = speech.temperature(freezing.worst_c)
    if not isfinite(charge.fraction):
        text = f"Empty, it would freeze from {worst} down"
    elif freezing.only_feared:
        text = (
            f"At the one charge it freezes at about {speech.temperature(freezing.likely_c)},"
            f" at the other from {worst} down"
        )
    elif freezing.worst_c == LONG_EMPTY_FREEZES_C:
        text = (
            f"It has stood empty for {charge.empty_h / 24.0:.0f} days, which weakens the acid:"
            f" it can freeze from {worst} down"
        )
    else:
        text = f"At that charge it freezes at about {worst}"
    if isfinite(cold.low_c):
        now, low = speech.temperature(cold.now_c), speech.temperature(cold.low_c)
        text += f"; it is at {now} and gets down to {low}"
    at = freezing.may_be_frozen_at
    if at is not None and at < speech.now - timedelta(hours=1):
        text += f". It was so cold at {speech.clock(at)} that it may have frozen"
    return f"{text}."


def _days(air: SpaceAir, charge: Charge, speech: Speech) -> str:
    """By when somebody has to charge it, or to test it."""
    if isfinite(charge.test_in_h):
        if charge.test_in_h <= 0.0:
            return "It wants testing now."
        return f"It wants testing by {_day(air, charge.test_in_h, speech)}."
    if isfinite(charge.flat_in_h) and charge.flat_in_h > 0.0:
        return f"Left alone it wants charging by {_day(air, charge.flat_in_h, speech)}."
    return ""


def _day(air: SpaceAir, in_h: float, speech: Speech) -> str:
    return speech.date(air.now + timedelta(hours=in_h))


def act(standing: Standing, battery: Battery, charge: Charge, freezing: Freezing) -> str:
    """Say what to do about it; empty: nothing."""
    if freezing.may_be_frozen_at is not None:
        off = "Switch the maintainer off, carry" if battery.maintained else "Carry"
        return (
            f"It may be frozen: do not charge it. {off} the battery into a warm room, let it thaw,"
            " look for bulges and cracks, test it at rest and enter its voltage, and only then"
            " charge it."
        )
    if standing is Standing.FREEZING and freezing.only_feared:
        return (
            "Test it at rest before the night and enter its voltage. Below 12.4 V, or if nobody"
            " can test it, carry it to a warm bench; else take its negative lead off, so that"
            " nothing draws from it."
        )
    if standing is Standing.FREEZING:
        return (
            "Carry the battery into a warm space before the night, look for bulges and cracks, and"
            " charge it there."
        )
    if not battery.has_lead_cells and charge.fault:
        return f"Switch the maintainer off: this chemistry is never charged below {FREEZING}."
    if standing is Standing.LOST:
        return "See to the maintainer: mains, plug, fuse, clamps; then charge the battery."
    if standing is Standing.LOW:
        return _low(charge)
    if standing is Standing.NOT_KNOWN:
        return "Measure its voltage after a night's rest and enter it."
    return ""


def _low(charge: Charge) -> str:
    if charge.fault.act:
        return charge.fault.act
    if charge.load_a and charge.flat_in_h > 0.0:
        return (
            "Test it at rest and enter its voltage; then take its negative lead off, or put it on"
            " a maintainer."
        )
    if charge.load_a:
        return "Charge the battery, and take its negative lead off or keep it on a maintainer."
    return "Charge the battery."
