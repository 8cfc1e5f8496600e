"""Sums of ``laidup calc`` about batteries: charge and freezing, self-discharge, float, hydrogen."""

import argparse
import math
from datetime import timedelta
from typing import cast

from monitor.commands.calc.answer import Answer, c_and_f, hours_text
from monitor.errors import QuantityError
from monitor.physics import battery
from monitor.physics.kinds import Chemistry

_PRACTICE = "(common practice, no source)"
_TRADE = f"trade tables {_PRACTICE}"
_FREEZING = "storage table of a powersports owner's manual; US Army OD1002 agrees within 1.5 K"
_LONGEST_H = 24 * 3650.0  # a date further off than ten years says nothing
_NEVER_CHARGE = "Never charge a battery that is or may be frozen: thaw it and look at it first."
_ACID = "The acid burns: wear goggles and gloves."
_TOO_LOW = (
    "So low a voltage says that a cell is dead, that it stood empty for long, or that it is no"
    " 12 V battery: have it tested."
)
_WARM_C = 25.0  # taken for a battery whose temperature nobody gave, and for the bench's room
_ROOM_SWELLS = (273.15 + _WARM_C) / 273.15  # gas at the bench takes more room than at 0 °C
_SAFE_SHARE, _EXPLOSIVE_SHARE = 0.01, 0.04  # of hydrogen in air: NFPA 1's limit; it can explode
_NO_COLD_CHARGE = "Never charge it below 0 °C (32 °F)."


def answer_battery(arguments: argparse.Namespace) -> Answer:
    """Charge of a rested battery, and where it freezes."""
    if (arguments.voltage is None) == (arguments.gravity is None):
        raise QuantityError("give one of --voltage (rested) and --gravity (of a hydrometer)")
    if arguments.gravity is not None:
        return _by_gravity(arguments)
    return _by_voltage(arguments)


def _by_gravity(arguments: argparse.Namespace) -> Answer:
    if arguments.chemistry != "flooded":
        raise QuantityError(f"--gravity: no hydrometer gets into a {arguments.chemistry} battery")
    if arguments.temperature is None:
        raise QuantityError(
            "--temperature of the acid is needed with --gravity: cold acid reads too full"
        )
    gravity = float(battery.specific_gravity_at_27c(arguments.gravity, arguments.temperature))
    fraction, low, high = (float(each) for each in battery.charge_from_gravity(gravity))
    if math.isnan(fraction):
        raise QuantityError(
            (
                f"--gravity: {arguments.gravity:.3f} is {gravity:.3f} at 27 °C"
                " (80 °F), and the table of freezing points reaches from 1.050"
                " to 1.280"
            ),
            "stir in added water by charging, and read it again",
        )
    freezes = float(battery.electrolyte_freezing_point(gravity))
    # Below its lowest row the table is silent; there the row itself is the worst that is known.
    worst = float(
        battery.electrolyte_freezing_point(
            max(gravity - battery.GRAVITY_BAND, battery.LOWEST_GRAVITY)
        )
    )
    return Answer(
        sentence=(
            f"Acid that reads {arguments.gravity:.3f} at {c_and_f(arguments.temperature)} has"
            f" {gravity:.3f} at 27 °C (80 °F): {fraction:.0%} charged ({low:.0%} to {high:.0%}),"
            f" and freezes below {c_and_f(freezes)}, at worst {c_and_f(worst)}. {_NEVER_CHARGE}"
            f" {_ACID}"
        ),
        values={
            "specific_gravity_27c": gravity,
            "charge_fraction": fraction,
            "charge_fraction_low": low,
            "charge_fraction_high": high,
            "freezes_below_c": freezes,
            "freezes_below_worst_c": worst,
        },
        basis=(
            "0.004 of gravity for each 10 °F from 80 °F; a hydrometer is read to 0.005; judge by"
            " the lowest cell, and not soon after water was added"
        ),
        source=f"{_FREEZING}; empty at 1.120 and full at 1.265 {_PRACTICE}",
    )


def _by_voltage(arguments: argparse.Namespace) -> Answer:
    chemistry = cast(Chemistry, arguments.chemistry)
    temperature = _WARM_C if arguments.temperature is None else arguments.temperature
    charge = battery.charge_from_rested_voltage(arguments.voltage, chemistry, temperature)
    fraction, low, high = (float(each) for each in charge)
    if math.isnan(fraction):
        raise QuantityError(
            f"--voltage: {arguments.voltage:g} V is more than a rested {chemistry} battery shows",
            "take the maintainer off and let it rest 8 to 24 hours",
        )
    freezes = float(battery.freezing_point_of_charge(fraction, chemistry))
    worst = float(battery.freezing_point_of_charge(low, chemistry))
    lead = chemistry != "lifepo4"
    if lead and low == 0.0:
        worst = battery.LONG_EMPTY_FREEZES_C
    if lead:
        ending = f"freezes below {c_and_f(freezes)}, at worst {c_and_f(worst)}. {_NEVER_CHARGE}"
    else:
        ending = f"does not freeze in any yard. {_NO_COLD_CHARGE}"
    if lead and arguments.voltage < battery.LEAD_CELLS * battery.EMPTY_CELL_V:
        ending += f" {_TOO_LOW}"
    return Answer(
        sentence=(
            f"A rested {chemistry} battery at {arguments.voltage:.2f} V is {fraction:.0%} charged"
            f" ({low:.0%} to {high:.0%}) and {ending}"
        ),
        values={
            "charge_fraction": fraction,
            "charge_fraction_low": low,
            "charge_fraction_high": high,
            "freezes_below_c": freezes,
            "freezes_below_worst_c": worst,
        },
        basis=(
            "rested voltage; not corrected below 25 °C, where it reads low and errs safe"
            if lead
            else "rested voltage, which hardly moves from a tenth to nine tenths of charge"
        ),
        source=f"{_TRADE}; {_FREEZING}" if lead else _TRADE,
    )


def self_discharge(arguments: argparse.Namespace) -> Answer:
    """How long a battery lasts unattended."""
    chemistry = cast(Chemistry, arguments.chemistry)
    if arguments.load and arguments.capacity is None:
        raise QuantityError("--capacity is needed with --load, like --capacity 18Ah")
    rate = arguments.per_month
    if rate is None:
        rate = battery.SELF_DISCHARGE_PER_MONTH[chemistry]
    capacity = math.nan if arguments.capacity is None else arguments.capacity
    hours = float(
        battery.hours_until_charge(
            arguments.charge, arguments.limit, arguments.temperature, rate, arguments.load, capacity
        )
    )
    a_month = float(battery.self_discharge(rate, arguments.temperature))
    limit_on = None
    if arguments.since is not None and hours < _LONGEST_H:
        limit_on = arguments.since + timedelta(hours=hours)
    if arguments.charge <= arguments.limit:
        falls = f"is down to {arguments.limit:.0%} already: recharge it now"
    elif math.isinf(hours):
        falls = f"never falls to {arguments.limit:.0%}"
    else:
        falls = f"falls from {arguments.charge:.0%} to {arguments.limit:.0%} in {hours_text(hours)}"
        falls += "" if limit_on is None else f", on {limit_on:%d %B %Y}"
    return Answer(
        sentence=(
            f"At {c_and_f(arguments.temperature)} it loses {a_month:.1%} a month by itself and"
            f" {falls}."
        ),
        values={
            "self_discharge_per_month": a_month,
            "limit_reached_h": hours,
            "limit_reached_on": None if limit_on is None else limit_on.isoformat(),
        },
        basis=f"{rate:.1%} a month at 25 °C, half of that for each 10 K colder, and the load",
        source=_TRADE,
    )


def answer_float(arguments: argparse.Namespace) -> Answer:
    """Right float voltage of a lead battery when cold."""
    temperature = arguments.temperature
    low, right, high = (
        float(battery.float_voltage(temperature, base)) for base in (2.25, 2.27, 2.30)
    )
    return Answer(
        sentence=(
            f"At {c_and_f(temperature)} a 12 V lead battery is right on float at {right:.2f} V"
            f" ({low:.2f} to {high:.2f} V). Charging gives off hydrogen: vent the bench."
        ),
        values={"float_v": right, "float_low_v": low, "float_high_v": high},
        basis="2.25 to 2.30 V a cell at 25 °C, 4 mV a cell more for each kelvin colder",
        source="common practice, no source; the unit's own manual comes first",
    )


def answer_hydrogen(arguments: argparse.Namespace) -> Answer:
    """How much air charging at the bench takes."""
    overcharge = arguments.current * arguments.hours * arguments.batteries
    litres = float(battery.hydrogen_l(overcharge))
    room_l = litres * _ROOM_SWELLS
    safe_m3, explosive_m3 = (room_l / share / 1000.0 for share in (_SAFE_SHARE, _EXPLOSIVE_SHARE))
    many = (
        "one full battery" if arguments.batteries == 1 else f"{arguments.batteries} full batteries"
    )
    return Answer(
        sentence=(
            f"{arguments.current:g} A for {hours_text(arguments.hours)} into {many} gives off"
            f" {litres:.1f} L of hydrogen: enough to make {explosive_m3:.2f} m³ of air explosive,"
            f" and it takes {safe_m3:.1f} m³ of fresh air to stay below {_SAFE_SHARE:.0%}. It rises"
            " and gathers under lids and ceilings: vent high, and keep sparks and flames away."
            " Local codes come first."
        ),
        values={
            "hydrogen_l": litres,
            "air_below_1_pct_m3": safe_m3,
            "air_explosive_m3": explosive_m3,
        },
        basis=(
            "all of the current splits water, as it does once a battery is full; six cells; litres"
            " at 0 °C, air at 25 °C"
        ),
        source="Faraday's law; NFPA 1 wants a battery room below 1 %, 4 % explodes (from memory)",
    )
