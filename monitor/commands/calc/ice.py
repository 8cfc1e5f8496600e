"""Sums of ``laidup calc`` about trapped liquid and bodies in the cold: ice, thaw, lag."""

import argparse
import math
from pathlib import Path

from monitor.commands.calc.answer import Answer, Flags, Verbs, c_and_f, hours_text, read_columns
from monitor.errors import QuantityError
from monitor.physics import ice
from monitor.physics.building import FLOOR_H, fit_space, lag_of_two_readings
from monitor.physics.lag import lag_step
from monitor.units import DURATION, HEAT_CAPACITY, LENGTH, STRENGTH, TEMPERATURE, VOLUME

_LUMPED = "first-order lag, then latent heat 333.5 kJ/kg at the ice point (IAPWS)"
_FIRST_ORDER = "exact solution of d(body)/dt = (air - body) / lag"
_LEAST_KJ_K_L = 3.0  # of any mix of glycol and water; water has 4.19 (CoolProp)
_ROUGH = 2.0  # time constants and conductances are known to a factor of two
_COLUMNS = ("hours", "air_c", "inside_c")


def add_verbs(verbs: Verbs) -> None:
    """Add ice, thaw, lag and time-constant."""
    flags = verbs.add_verb(
        "ice", _answer_ice, "when does trapped liquid ice, and when is it solid?"
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
    flags = verbs.add_verb("thaw", _answer_thaw, "how long until frozen liquid has thawed?")
    _add_body(flags)
    flags.add_quantity("--ice-share", STRENGTH, "how much of it is ice", default=1.0)
    flags.add_quantity("--air", TEMPERATURE, "around it, steady")
    flags.add_quantity("--ice-point", TEMPERATURE, "of the liquid (default: water)", default=0.0)
    flags = verbs.add_verb(
        "lag", _answer_lag, "temperature of a body some hours after the air changed"
    )
    flags.add_quantity("--body", TEMPERATURE, "body now")
    flags.add_quantity("--air", TEMPERATURE, "around it now")
    flags.add_quantity("--air-then", TEMPERATURE, "at the end (default: steady)", required=False)
    flags.add_quantity("--hours", DURATION, "from now")
    flags.add_quantity("--lag", DURATION, "time constant of the body", above_zero=True)
    flags = verbs.add_verb(
        "time-constant", _time_constant, "time constant from two readings or a file"
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
        f" {', '.join(_COLUMNS)}; air is that around it",
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


def _degree_hours(arguments: argparse.Namespace, bore_m: float = 0.0) -> float:
    least = arguments.volume * _LEAST_KJ_K_L
    if arguments.heat_capacity < least:
        raise QuantityError(
            f"--heat-capacity is {arguments.heat_capacity:g} kJ/K",
            f"the liquid alone has {least:.1f} or more, and the metal comes on top",
        )
    loss = ice.conductance(arguments.heat_capacity, arguments.lag)
    wall_m2 = 4.0 * arguments.volume / 1000.0 / bore_m if bore_m else math.inf  # of a cylinder
    slower = ice.plank_factor(bore_m, loss / wall_m2)
    return float(ice.degree_hours_to_solid(arguments.volume, loss, slower))  # 1 L taken as 1 kg


def _answer_ice(arguments: argparse.Namespace) -> Answer:
    needed = _degree_hours(arguments, arguments.bore)
    air, point = arguments.air, arguments.ice_point
    first = float(ice.first_ice_hours(arguments.start, air, arguments.lag, point))
    solid = float(ice.frozen_through_hours(arguments.start, air, arguments.lag, needed, point))
    if math.isinf(solid):
        sentence = (
            f"Air of {c_and_f(air)} is not below the ice point, {c_and_f(point)}: no ice forms."
        )
        if arguments.start < point:
            sentence += " But the body is below it already: take it that there is ice in it."
    elif first == 0.0:
        sentence = (
            f"The body is at its ice point or below: ice forms now, and in air of {c_and_f(air)}"
            " the"
            f" liquid is solid after {hours_text(solid)}; expect {hours_text(solid / _ROUGH)} to"
            f" {hours_text(solid * _ROUGH)}. Judge by the short end."
        )
    else:
        sentence = (
            f"In air of {c_and_f(air)} first ice forms after {hours_text(first)} and the liquid is"
            f" solid after {hours_text(solid)}; expect {hours_text(first / _ROUGH)} to"
            f" {hours_text(first * _ROUGH)} and {hours_text(solid / _ROUGH)} to"
            f" {hours_text(solid * _ROUGH)}. Judge by the short end."
        )
    if math.isfinite(solid):
        sentence += (
            f" Water grows by {ice.EXPANSION:.0%} as it freezes: shut in more than"
            f" {ice.FILL_LIMIT:.0%} full, it can crack what holds it."
        )
    return Answer(
        sentence=sentence,
        values={
            "first_ice_h": first,
            "frozen_through_h": solid,
            "first_ice_earliest_h": first / _ROUGH,
            "frozen_through_earliest_h": solid / _ROUGH,
            "degree_hours_to_solid_k_h": needed,
        },
        basis=(
            "lumped body in steady air, no credit for supercooling; time constants are known to"
            " a factor of two; a glycol mix turns to slush later than this says"
        ),
        source=(
            f"{_LUMPED}; within 11 % on the early side of a finite-volume solution"
            + ("; Plank's equation for a cylinder" if arguments.bore else "")
        ),
    )


def _answer_thaw(arguments: argparse.Namespace) -> Answer:
    needed = _degree_hours(arguments)
    share = arguments.ice_share
    hours = float(ice.thaw_hours(share, arguments.air, needed, arguments.ice_point))
    if math.isinf(hours):
        sentence = f"Air of {c_and_f(arguments.air)} is not above the ice point: it stays frozen."
    else:
        sentence = (
            f"In air of {c_and_f(arguments.air)} the ice is gone after {hours_text(hours)}, up to"
            f" {hours_text(hours * _ROUGH)}. Start nothing before it was inspected."
        )
    return Answer(
        sentence=sentence,
        values={"thawed_h": hours, "thawed_latest_h": hours * _ROUGH},
        basis="lumped body at its ice point in steady air; known to a factor of two",
        source=_LUMPED,
    )


def _answer_lag(arguments: argparse.Namespace) -> Answer:
    then = arguments.air if arguments.air_then is None else arguments.air_then
    body = float(lag_step(arguments.body, arguments.air, then, arguments.hours, arguments.lag))
    return Answer(
        sentence=f"After {hours_text(arguments.hours)} the body is at {c_and_f(body)}.",
        values={"body_c": body},
        basis=f"first-order lag of {arguments.lag:g} h, air straight from first to last",
        source=_FIRST_ORDER,
    )


def _time_constant(arguments: argparse.Namespace) -> Answer:
    two = [getattr(arguments, each) for each in ("first", "second", "air", "hours")]
    if arguments.readings is not None:
        if any(each is not None for each in two):
            raise QuantityError("--readings has it all: leave out --first and its like")
        return _fit_lag(arguments.readings, arguments.skip)
    if any(each is None for each in two):
        raise QuantityError("give --first, --second, --air and --hours, or else --readings")
    lag = float(lag_of_two_readings(*two))
    if math.isnan(lag):
        raise QuantityError(
            "--second must lie between --first and --air",
            "else it was not following the air",
        )
    return Answer(
        sentence=f"It follows the air with a time constant of {hours_text(lag)}.",
        values={"lag_h": lag},
        basis="two readings in steady air; a night of --readings tells it with its error",
        source=_FIRST_ORDER,
    )


def _fit_lag(path: Path, skip_h: float) -> Answer:
    hours, air, inside = read_columns("--readings", path, _COLUMNS)
    if not bool((hours[1:] > hours[:-1]).all()):
        raise QuantityError(f"--readings {path}: hours must rise from line to line")
    fit = fit_space(hours, air, inside, skip_h)
    if math.isnan(fit.lag_h):
        raise QuantityError(
            (
                f"--readings {path}: {fit.pairs} pairs after the first"
                f" {skip_h:g} h do not tell a time constant"
            ),
            "it takes a night or more in which the air changes",
        )
    return Answer(
        sentence=(
            f"It follows the air with a time constant of {hours_text(fit.lag_h)}, give or take"
            f" {hours_text(fit.standard_error_h)}; the readings lie {fit.residual_c:.2f} K about"
            " that course."
        ),
        values={
            "lag_h": fit.lag_h,
            "lag_error_h": fit.standard_error_h,
            "residual_k": fit.residual_c,
            "pairs": fit.pairs,
        },
        basis=(
            f"least squares on {fit.pairs} readings after the first {skip_h:g} h, one standard"
            " error; true of heat off and doors shut"
        ),
        source=_FIRST_ORDER,
    )
