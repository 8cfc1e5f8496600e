"""Sums of ``laidup calc`` about the coming hours: tonight's low, and a space without heat."""

import argparse
import csv
import math
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from monitor.commands.calc_answer import (
    Answer,
    Verbs,
    both,
    both_differences,
    day,
    hours_text,
)
from monitor.errors import QuantityError
from monitor.units import DURATION, TEMPERATURE, TEMPERATURE_DIFFERENCE

if TYPE_CHECKING:
    from monitor.physics.night_low import FaoFit

_FAO = "Snyder & de Melo-Abreu 2005, FAO Environment and Natural Resources Series 10, chapter 5"
_PARTON_LOGAN = "Parton & Logan 1981, night curve inverted; skill after Savage 2015"
_REST = "first-order heat loss"
_COLUMNS = ("air_c", "dew_point_c", "low_c")


def add_verbs(verbs: Verbs) -> None:
    """Add tonight, night and cooling."""
    flags = verbs.add("tonight", _tonight, "low of a clear calm night, and when it passes 0 °C")
    flags.quantity("--air", TEMPERATURE, "now; with --nights, two hours after sunset")
    flags.quantity("--night", DURATION, "sunset to sunrise (see: calc night)", above_zero=True)
    flags.quantity("--threshold", TEMPERATURE, "passed when? (default: 0C)", default=0.0)
    flags.quantity("--low", TEMPERATURE, "a forecast's low, if there is one", required=False)
    flags.parser.add_argument(
        "--nights",
        type=Path,
        metavar="FILE",
        help=f"past clear calm nights, a CSV file with the columns {', '.join(_COLUMNS)}",
    )
    flags.quantity("--dew-point", TEMPERATURE, "needed with --nights", required=False)
    flags.quantity("--at-sunset", TEMPERATURE, "air at sunset", required=False)
    flags.quantity("--since-sunset", DURATION, "needed with --at-sunset", required=False)
    flags = verbs.add("night", _night, "sunset, sunrise and length of one night")
    for flag, lowest, about in (("--latitude", 90.0, "north"), ("--longitude", 180.0, "east")):
        flags.parser.add_argument(
            flag, type=_degrees(lowest), required=True, help=f"degrees, {about} positive"
        )
    flags.parser.add_argument("--date", type=day, required=True, help="of the evening")
    flags.parser.add_argument("--zone", type=_zone, required=True, help="like America/Chicago")
    flags = verbs.add("cooling", _cooling, "when does a space without heat reach a temperature?")
    flags.quantity("--inside", TEMPERATURE, "in the space now")
    flags.quantity("--outside", TEMPERATURE, "steady")
    flags.quantity("--lag", DURATION, "time constant of the space", above_zero=True)
    flags.quantity("--target", TEMPERATURE, "reached when? (default: 0C)", default=0.0)
    flags.quantity(
        "--lift", TEMPERATURE_DIFFERENCE, "what heat still running holds in the end", default=0.0
    )


def _tonight(arguments: argparse.Namespace) -> Answer:
    from monitor.physics import night_low

    given = [
        flag for flag in ("low", "nights", "at_sunset") if getattr(arguments, flag) is not None
    ]
    if len(given) != 1:
        raise QuantityError("give one of --low, --nights (with --dew-point), --at-sunset")
    if arguments.night <= night_low.REFERENCE_H:
        raise QuantityError("--night must be longer than 2h: the trend starts 2 h after sunset")
    error, hour = math.nan, math.nan
    start, night = arguments.air, arguments.night
    if arguments.low is not None:
        low, basis, source = arguments.low, "low as forecast, night trend of the FAO", _FAO
    elif arguments.nights is not None:
        fit = _fit(arguments)
        low, error = float(fit.low(start, arguments.dew_point)), fit.error_k
        basis = (
            f"two regressions on {fit.nights} past nights, error {fit.error_k:.2f} K, one night in"
            f" ten more than {-fit.low_edge_k:.1f} K lower; clear, calm nights only"
        )
        source = _FAO
    else:
        if arguments.since_sunset is None:
            raise QuantityError("--since-sunset is needed with --at-sunset")
        low = float(
            night_low.low_from_course(arguments.at_sunset, start, arguments.since_sunset, night)
        )
        if math.isnan(low):
            raise QuantityError(
                "--since-sunset must be a quarter of the night or more: before that its own course"
                " says nothing"
            )
        error, basis, source = (
            2.1,
            "the night's own fall so far; 2.1 K four hours ahead",
            _PARTON_LOGAN,
        )
    values = {"low_c": low, "low_error_k": error}
    sentence = f"Expect a low of {both(low)}"
    sentence += "." if math.isnan(error) else f", give or take {both_differences(error)}."
    if arguments.at_sunset is None:
        hour = float(night_low.hour_of_passing(arguments.threshold, start, low, night))
        values["threshold_passed_after_sunset_h"] = hour
        sentence += f" {_passing(arguments.threshold, hour)}"
    return Answer(sentence=sentence, values=values, basis=basis, source=source)


def _passing(threshold: float, hour: float) -> str:
    if math.isinf(hour):
        return f"It stays above {both(threshold)}."
    return f"It passes {both(threshold)} {hours_text(hour)} after sunset."


def _fit(arguments: argparse.Namespace) -> "FaoFit":
    from monitor.physics.night_low import FEWEST_NIGHTS, fit_lows

    if arguments.dew_point is None:
        raise QuantityError("--dew-point is needed with --nights")
    columns: list[list[float]] = [[], [], []]
    try:
        with arguments.nights.open(newline="", encoding="utf-8") as file:
            for row in csv.DictReader(file):
                for column, name in zip(columns, _COLUMNS, strict=True):
                    column.append(float(row[name]))
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise QuantityError(
            f"--nights {arguments.nights}: {error}; it must be a CSV file with the columns"
            f" {', '.join(_COLUMNS)}, numbers in °C"
        ) from error
    fit = fit_lows(*columns)
    if math.isnan(fit.error_k):
        raise QuantityError(f"--nights has {fit.nights} nights; {FEWEST_NIGHTS} are the fewest")
    return fit


def _night(arguments: argparse.Namespace) -> Answer:
    from monitor.yard.sun import night_of

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


def _cooling(arguments: argparse.Namespace) -> Answer:
    from monitor.physics.building import hours_to_reach

    hours = float(
        hours_to_reach(
            arguments.target, arguments.inside, arguments.outside, arguments.lag, arguments.lift
        )
    )
    if math.isinf(hours):
        sentence = f"In this weather the space does not cool to {both(arguments.target)}."
    else:
        sentence = (
            f"The space reaches {both(arguments.target)} in {hours_text(hours)}; with half the time"
            f" constant in {hours_text(hours / 2)}. Do not bring in an unvented heater."
        )
    return Answer(
        sentence=sentence,
        values={"target_reached_h": hours, "target_reached_earliest_h": hours / 2.0},
        basis=(
            f"time constant {arguments.lag:g} h, steady weather, doors shut; a concrete floor makes"
            " the first hours faster and the later slower"
        ),
        source=_REST,
    )


def _zone(text: str) -> ZoneInfo:
    try:
        return ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise argparse.ArgumentTypeError(
            f"{text!r} is no time zone; write it like America/Chicago"
        ) from error


def _degrees(limit: float) -> Callable[[str], float]:
    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError as error:
            raise argparse.ArgumentTypeError(f"{text!r} is no number of degrees") from error
        if not -limit <= value <= limit:
            raise argparse.ArgumentTypeError(f"{text!r} is outside -{limit:g} to {limit:g} degrees")
        return value

    return read
