"""Flags of the sums of ``laidup calc`` about what is in a craft: ice, mixes and batteries."""

import argparse
import re
from pathlib import Path
from typing import get_args

from monitor.commands.parsers.calc_flags import Flags, Verbs, parse_day
from monitor.physics.kinds import FLOOR_H, Chemistry, Glycol
from monitor.units import (
    BRIX,
    CHARGE,
    CURRENT,
    DURATION,
    HEAT_CAPACITY,
    LENGTH,
    STRENGTH,
    TEMPERATURE,
    VOLTAGE,
    VOLUME,
)

COOLING_COLUMNS = ("hours", "air_c", "inside_c")
_CHEMISTRIES = get_args(Chemistry)
_GLYCOLS = get_args(Glycol)


def add_ice(verbs: Verbs) -> None:
    """Add ice, thaw, lag and time-constant."""
    flags = verbs.add_verb(
        "ice", "ice.answer_ice", "when does trapped liquid ice, and when is it solid?"
    )
    _add_body(flags)
    flags.add_quantity("--start", TEMPERATURE, "body now")
    flags.add_quantity("--air", TEMPERATURE, "around it, steady")
    flags.add_quantity("--ice-point", TEMPERATURE, "of the liquid (default: water)", default=0.0)
    flags.add_quantity(
        "--bore",
        LENGTH,
        "inner diameter of a wide round passage, whose ice slows the rest (default: thin)",
        default=0.0,
    )
    flags = verbs.add_verb("thaw", "ice.answer_thaw", "how long until frozen liquid has thawed?")
    _add_body(flags)
    flags.add_quantity("--ice-share", STRENGTH, "how much of it is ice", default=1.0)
    flags.add_quantity("--air", TEMPERATURE, "around it, steady")
    flags.add_quantity("--ice-point", TEMPERATURE, "of the liquid (default: water)", default=0.0)
    flags = verbs.add_verb(
        "lag", "ice.answer_lag", "temperature of a body some hours after the air changed"
    )
    flags.add_quantity("--body", TEMPERATURE, "body now")
    flags.add_quantity("--air", TEMPERATURE, "around it now")
    flags.add_quantity("--air-then", TEMPERATURE, "at the end (default: steady)", required=False)
    flags.add_quantity("--hours", DURATION, "from now")
    flags.add_quantity("--lag", DURATION, "time constant of the body", above_zero=True)
    flags = verbs.add_verb(
        "time-constant", "ice.time_constant", "time constant from two readings or a file"
    )
    flags.add_quantity("--first", TEMPERATURE, "body or space at first", required=False)
    flags.add_quantity("--second", TEMPERATURE, "the same, later", required=False)
    flags.add_quantity("--air", TEMPERATURE, "around it, steady", required=False)
    flags.add_quantity("--hours", DURATION, "between the two", required=False, above_zero=True)
    flags.parser.add_argument(
        "--readings",
        type=Path,
        metavar="FILE",
        help="or many, heat off and doors shut: a CSV file with the columns"
        f" {', '.join(COOLING_COLUMNS)}; air is that around it",
    )
    flags.add_quantity(
        "--skip",
        DURATION,
        "first hours of --readings that a warm floor bends (default: 3h; 0h for a small body)",
        default=FLOOR_H,
    )


def _add_body(flags: Flags) -> None:
    flags.add_quantity("--volume", VOLUME, "liquid that is trapped", above_zero=True)
    flags.add_quantity("--lag", DURATION, "time constant of the body", above_zero=True)
    flags.add_quantity(
        "--heat-capacity", HEAT_CAPACITY, "of metal and liquid together", above_zero=True
    )


def add_mix(verbs: Verbs) -> None:
    """Add mix, burst, label and refractometer."""
    flags = verbs.add_verb(
        "mix", "mix.answer_mix", "what is left of a product after it met water in a passage?"
    )
    _add_glycol(flags)
    flags.add_quantity("--strength", STRENGTH, "glycol in the product as poured")
    flags.add_quantity("--poured", VOLUME, "product poured in", above_zero=True)
    flags.add_quantity("--residual", VOLUME, "what the passage still held", default=0.0)
    flags.add_quantity(
        "--residual-strength", STRENGTH, "glycol in that; water has 0%%", default=0.0
    )
    flags.add_quantity(
        "--lowest-strength", STRENGTH, "below this the product's maker allows none", required=False
    )
    flags = verbs.add_verb(
        "burst", "mix.answer_burst", "ice point and burst point of a strength of glycol"
    )
    _add_glycol(flags)
    flags.add_quantity("--strength", STRENGTH, "glycol in the liquid")
    flags.add_quantity(
        "--label", TEMPERATURE, "burst rating on the product's label", required=False
    )
    flags.parser.add_argument(
        "--measured", action="store_true", help="the strength was read with a refractometer"
    )
    flags = verbs.add_verb(
        "label", "mix.answer_label", "what does a burst rating on a jug say about its ice point?"
    )
    flags.add_quantity("--rating", TEMPERATURE, "burst rating on the label")
    flags = verbs.add_verb(
        "refractometer", "mix.answer_refractometer", "strength of glycol from a refractometer"
    )
    _add_glycol(flags)
    flags.add_quantity(
        "--reading", TEMPERATURE, "ice point on the glycol's own scale", required=False
    )
    flags.add_quantity("--brix", BRIX, "reading on a sugar scale", required=False)


def _add_glycol(flags: Flags) -> None:
    flags.add_choice("--glycol", _GLYCOLS, "which glycol (default: propylene)", default="propylene")
    flags.add_choice("--by", ("mass", "volume"), "strengths are by mass (default)", default="mass")


def add_battery(verbs: Verbs) -> None:
    """Add battery, self-discharge, float and hydrogen."""
    flags = verbs.add_verb(
        "battery", "battery.answer_battery", "charge of a rested battery, and where it freezes"
    )
    flags.add_choice("--chemistry", _CHEMISTRIES, "what kind (default: flooded)", default="flooded")
    flags.add_quantity(
        "--voltage", VOLTAGE, "rested 8 hours, nothing connected", required=False, above_zero=True
    )
    flags.parser.add_argument(
        "--gravity",
        type=_parse_gravity,
        help="or the hydrometer's reading, lowest cell, like 1.225",
    )
    flags.add_quantity(
        "--temperature",
        TEMPERATURE,
        "of the battery (default: 25C); needed with --gravity",
        required=False,
    )
    flags = verbs.add_verb(
        "self-discharge", "battery.self_discharge", "how long does a battery last unattended?"
    )
    flags.add_choice("--chemistry", _CHEMISTRIES, "what kind (default: flooded)", default="flooded")
    flags.add_quantity("--charge", STRENGTH, "now, of full", default=1.0)
    flags.add_quantity("--limit", STRENGTH, "recharge at", default=0.75)
    flags.add_quantity("--temperature", TEMPERATURE, "mean over the time")
    flags.add_quantity("--per-month", STRENGTH, "lost in a month at 25C", required=False)
    flags.add_quantity("--load", CURRENT, "what clocks and alarms draw", default=0.0)
    flags.add_quantity("--capacity", CHARGE, "needed with --load", required=False, above_zero=True)
    flags.parser.add_argument("--from", dest="since", type=parse_day, help="date of that charge")
    flags = verbs.add_verb(
        "hydrogen", "battery.answer_hydrogen", "how much air does charging at the bench take?"
    )
    flags.add_quantity("--current", CURRENT, "charging current of one battery", above_zero=True)
    flags.add_quantity("--hours", DURATION, "that it runs on after the battery is full")
    flags.parser.add_argument(
        "--batteries",
        type=_parse_count,
        default=1,
        help="12 V lead batteries so charged (default: 1)",
    )
    flags = verbs.add_verb(
        "float", "battery.answer_float", "right float voltage of a 12 V lead battery when cold"
    )
    flags.add_quantity("--temperature", TEMPERATURE, "of the battery")


def _parse_gravity(text: str) -> float:
    if not re.fullmatch(r"1\.\d{2,4}", text.strip()):
        raise argparse.ArgumentTypeError(
            f"{text!r} is no specific gravity; write 1.225, also where the scale says 1225"
        )
    return float(text)


def _parse_count(text: str) -> int:
    if not (text.isdecimal() and 1 <= int(text) <= 1000):
        raise argparse.ArgumentTypeError(f"{text!r} is no number of batteries from 1 to 1000")
    return int(text)
