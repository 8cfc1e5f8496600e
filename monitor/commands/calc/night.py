"""Sums of ``laidup calc`` about the coming hours: the night, and a space without heat."""

import argparse
import math

from monitor.commands.calc.answer import Answer, Value, c_and_f, hours_text
from monitor.errors import QuantityError
from monitor.physics.building import cooled_to, hours_to_reach
from monitor.yard.sun import night_of


def answer_night(arguments: argparse.Namespace) -> Answer:
    """Sunset, sunrise and length of one night."""
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


def answer_cooling(arguments: argparse.Namespace) -> Answer:
    """When a space without heat reaches a temperature."""
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
