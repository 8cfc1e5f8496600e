"""Sums of ``laidup calc`` about the coming hours: the night, and a space without heat."""

import argparse
import math
from collections.abc import Callable
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from monitor.commands.calc.answer import Answer, Value, Verbs, c_and_f, hours_text, parse_day
from monitor.errors import QuantityError
from monitor.physics.building import cooled_to, hours_to_reach
from monitor.units import DURATION, TEMPERATURE, TEMPERATURE_DIFFERENCE
from monitor.yard.sun import night_of


def add_verbs(verbs: Verbs) -> None:
    """Add night and cooling."""
    flags = verbs.add_verb("night", _answer_night, "sunset, sunrise and length of one night")
    for flag, lowest, about in (("--latitude", 90.0, "north"), ("--longitude", 180.0, "east")):
        flags.parser.add_argument(
            flag, type=_degrees_parser(lowest), required=True, help=f"degrees, {about} positive"
        )
    flags.parser.add_argument("--date", type=parse_day, required=True, help="of the evening")
    flags.parser.add_argument(
        "--zone", type=_parse_zone, required=True, help="like America/Chicago"
    )
    flags = verbs.add_verb(
        "cooling", _answer_cooling, "when does a space without heat reach a temperature?"
    )
    flags.add_quantity("--inside", TEMPERATURE, "in the space now")
    flags.add_quantity("--outside", TEMPERATURE, "steady")
    flags.add_quantity("--lag", DURATION, "time constant of the space", above_zero=True)
    flags.add_quantity("--target", TEMPERATURE, "reached when? (default: 0C)", default=0.0)
    flags.add_quantity(
        "--lift", TEMPERATURE_DIFFERENCE, "what heat still running holds in the end", default=0.0
    )
    flags.add_quantity("--hours", DURATION, "also: how cold after so long?", required=False)


def _answer_night(arguments: argparse.Namespace) -> Answer:
    night = night_of(arguments.date, arguments.latitude, arguments.longitude, arguments.zone)
    if night is None:
        raise QuantityError(f"--date {arguments.date}: the sun does not set or does not rise there")
    down, up = (each.astimezone(arguments.zone) for each in night)
    return Answer(
        sentence=(
            f"The sun sets on {down:%d %B %Y at %H:%M} and rises at {up:%H:%M}: a night of"
            f" {night.hours:.1f} h."
        ),
        values={
            "sunset": night.sunset.isoformat(timespec="seconds"),
            "sunrise": night.sunrise.isoformat(timespec="seconds"),
            "night_h": night.hours,
        },
        basis="sun's centre 0.833° below a flat horizon",
        source="astral; within 40 s of the NREL solar position algorithm",
    )


def _answer_cooling(arguments: argparse.Namespace) -> Answer:
    hours = float(
        hours_to_reach(
            arguments.target, arguments.inside, arguments.outside, arguments.lag, arguments.lift
        )
    )
    if hours == 0.0:
        sentence = f"The space is at {c_and_f(arguments.target)} or below already."
    elif math.isinf(hours):
        sentence = f"In this weather the space does not cool to {c_and_f(arguments.target)}."
    else:
        sentence = (
            f"The space reaches {c_and_f(arguments.target)} in {hours_text(hours)}; with half"
            " the time"
            f" constant in {hours_text(hours / 2)}. Do not bring in an unvented heater."
        )
    values: dict[str, Value] = {
        "target_reached_h": hours,
        "target_reached_earliest_h": hours / 2.0,
    }
    if arguments.hours is not None:
        inside, coldest = (
            float(
                cooled_to(arguments.inside, arguments.outside, arguments.hours, lag, arguments.lift)
            )
            for lag in (arguments.lag, arguments.lag / 2.0)
        )
        sentence += (
            f" After {hours_text(arguments.hours)} it is at {c_and_f(inside)}; with half the time"
            f" constant at {c_and_f(coldest)}."
        )
        values |= {"inside_c": inside, "inside_half_lag_c": coldest}
    return Answer(
        sentence=sentence,
        values=values,
        basis=(
            f"time constant {arguments.lag:g} h, steady weather, doors shut; a concrete floor makes"
            " the first hours faster and the later slower"
        ),
        source="first-order heat loss",
    )


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
