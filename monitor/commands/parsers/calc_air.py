"""Flags of the sums of ``laidup calc`` about air, damp and nights."""

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import get_args
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from monitor.commands.parsers.calc_flags import Flags, Verbs, parse_day
from monitor.physics.kinds import STANDARD_PRESSURE_PA, Salt, Sensitivity
from monitor.units import DURATION, HUMIDITY, LENGTH, PRESSURE, TEMPERATURE, TEMPERATURE_DIFFERENCE

PAST_NIGHT_COLUMNS = ("air_c", "dew_point_c", "low_c")
_CLASSES = get_args(Sensitivity)
_SALTS = get_args(Salt)


def add_air(verbs: Verbs) -> None:
    """Add dew-point, frost-point, humidity and ventilate."""
    for name, about in (
        ("dew-point", "when does this air let go of its water as dew?"),
        ("frost-point", "when does this air leave frost on cold metal?"),
    ):
        flags = verbs.add_verb(name, f"air.{name.replace(chr(45), chr(95))}_answer", about)
        flags.add_quantity("--temperature", TEMPERATURE, "of the air")
        flags.add_quantity("--humidity", HUMIDITY, "relative humidity of the air")
        _add_pressure(flags)
    flags = verbs.add_verb(
        "humidity", "air.answer_humidity", "relative humidity from temperature and dew point"
    )
    flags.add_quantity("--temperature", TEMPERATURE, "of the air")
    flags.add_quantity("--dew-point", TEMPERATURE, "of the air")
    flags = verbs.add_verb(
        "ventilate", "air.answer_ventilation", "does opening up dry or wet this space?"
    )
    flags.add_quantity("--inside", TEMPERATURE, "air in the space")
    flags.add_quantity("--inside-humidity", HUMIDITY, "relative humidity in the space")
    flags.add_quantity("--outside", TEMPERATURE, "air outside")
    flags.add_quantity("--outside-humidity", HUMIDITY, "relative humidity outside")
    flags.add_quantity("--metal", TEMPERATURE, "coldest metal in the space", required=False)
    _add_pressure(flags)


def _add_pressure(flags: Flags) -> None:
    flags.add_quantity(
        "--pressure",
        PRESSURE,
        "at the place, not reduced to sea level (default: 1013.25hPa)",
        default=STANDARD_PRESSURE_PA,
    )


def add_damp(verbs: Verbs) -> None:
    """Add condensation, wet-hours, mould and salt."""
    flags = verbs.add_verb(
        "condensation", "damp.answer_condensation", "does a surface sweat, and how much?"
    )
    flags.add_quantity("--temperature", TEMPERATURE, "of the air")
    flags.add_quantity("--humidity", HUMIDITY, "relative humidity of the air")
    flags.add_quantity("--surface", TEMPERATURE, "of the metal")
    flags.add_quantity(
        "--height", LENGTH, "of the metal (default: 0.3m)", default=0.3, above_zero=True
    )
    flags = verbs.add_verb(
        "wet-hours", "damp.wet_hours", "class of wetness from hours that were wet"
    )
    flags.add_quantity("--wet", DURATION, "hours above 80 %% RH and 0 °C")
    flags.add_quantity("--seen", DURATION, "hours with readings", above_zero=True)
    for flag, about in (("--sulphur", "P"), ("--chloride", "S")):
        flags.parser.add_argument(
            flag, type=int, choices=range(4), help=f"pollution class {about}0 to {about}3, if known"
        )
    flags = verbs.add_verb(
        "mould", "damp.answer_mould", "do these conditions let mould grow, and how soon?"
    )
    flags.add_quantity("--temperature", TEMPERATURE, "at the surface")
    flags.add_quantity("--humidity", HUMIDITY, "relative humidity at the surface")
    flags.add_choice("--material", _CLASSES, "default: very sensitive", default="very sensitive")
    flags = verbs.add_verb(
        "salt", "damp.answer_salt", "what should a humidity sensor read over a salt?"
    )
    flags.add_choice("--salt", _SALTS, "slush of which salt (default: NaCl)", default="NaCl")
    flags.add_quantity("--temperature", TEMPERATURE, "of the closed box")
    flags.add_quantity("--read", HUMIDITY, "what the sensor reads", required=False)
    flags.parser.add_argument(
        "--second-salt", choices=_SALTS, help="a second box, as far from the first as it goes"
    )
    flags.add_quantity("--second-read", HUMIDITY, "what it reads over that", required=False)


def add_night(verbs: Verbs) -> None:
    """Add night and cooling."""
    flags = verbs.add_verb("night", "night.answer_night", "sunset, sunrise and length of one night")
    for flag, lowest, about in (("--latitude", 90.0, "north"), ("--longitude", 180.0, "east")):
        flags.parser.add_argument(
            flag, type=_degrees_parser(lowest), required=True, help=f"degrees, {about} positive"
        )
    flags.parser.add_argument("--date", type=parse_day, required=True, help="of the evening")
    flags.parser.add_argument(
        "--zone", type=_parse_zone, required=True, help="like America/Chicago"
    )
    flags = verbs.add_verb(
        "cooling", "night.answer_cooling", "when does a space without heat reach a temperature?"
    )
    flags.add_quantity("--inside", TEMPERATURE, "in the space now")
    flags.add_quantity("--outside", TEMPERATURE, "steady")
    flags.add_quantity("--lag", DURATION, "time constant of the space", above_zero=True)
    flags.add_quantity("--target", TEMPERATURE, "reached when? (default: 0C)", default=0.0)
    flags.add_quantity(
        "--lift", TEMPERATURE_DIFFERENCE, "what heat still running holds in the end", default=0.0
    )
    flags.add_quantity("--hours", DURATION, "also: how cold after so long?", required=False)


def _parse_zone(text: str) -> ZoneInfo:
    try:
        return ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise argparse.ArgumentTypeError(
            f"{text!r} is no time zone; write it like America/Chicago"
        ) from error


def _degrees_parser(limit: float) -> Callable[[str], float]:
    def parse_degrees(text: str) -> float:
        try:
            value = float(text)
        except ValueError as error:
            raise argparse.ArgumentTypeError(f"{text!r} is no number of degrees") from error
        if not -limit <= value <= limit:
            raise argparse.ArgumentTypeError(f"{text!r} is outside -{limit:g} to {limit:g} degrees")
        return value

    return parse_degrees


def add_tonight(verbs: Verbs) -> None:
    """Add tonight."""
    flags = verbs.add_verb(
        "tonight", "tonight.answer_tonight", "low of a clear calm night, and when it passes 0 °C"
    )
    flags.add_quantity("--air", TEMPERATURE, "now; with --nights, two hours after sunset")
    flags.add_quantity("--night", DURATION, "sunset to sunrise (see: calc night)", above_zero=True)
    flags.add_quantity("--threshold", TEMPERATURE, "passed when? (default: 0C)", default=0.0)
    flags.add_quantity("--at", DURATION, "also: how cold so long after sunset?", required=False)
    flags.add_quantity("--low", TEMPERATURE, "a forecast's low, taken as it is", required=False)
    flags.add_quantity(
        "--public-low",
        TEMPERATURE,
        "an agency's low, weighed against the yard's own nights as the watch does",
        required=False,
    )
    flags.parser.add_argument(
        "--nights",
        type=Path,
        metavar="FILE",
        help="past clear calm nights, a CSV file with the columns"
        f" {', '.join(PAST_NIGHT_COLUMNS)}; with --public-low also public_low_c, what the agency"
        " then said",
    )
    flags.add_quantity("--dew-point", TEMPERATURE, "needed with --nights", required=False)
    flags.add_quantity("--at-sunset", TEMPERATURE, "air at sunset", required=False)
    flags.add_quantity("--since-sunset", DURATION, "needed with --at-sunset", required=False)
