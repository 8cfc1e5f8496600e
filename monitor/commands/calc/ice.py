"""Sums of ``laidup calc`` about trapped liquid and bodies in the cold: ice, thaw, lag."""

import argparse
import math
from pathlib import Path

from monitor.commands.calc.answer import Answer, c_and_f, hours_text, read_columns
from monitor.commands.parsers.calc_craft import COOLING_COLUMNS
from monitor.errors import QuantityError
from monitor.physics import ice
from monitor.physics.building import fit_space, lag_of_two_readings
from monitor.physics.lag import lag_step

_LUMPED = "first-order lag, then latent heat 333.5 kJ/kg at the ice point (IAPWS)"
_FIRST_ORDER = "exact solution of d(body)/dt = (air - body) / lag"
_LEAST_KJ_K_L = 3.0  # of any mix of glycol and water; water has 4.19 (CoolProp)
_ROUGH = 2.0  # time constants and conductances are known to a factor of two


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


def answer_ice(arguments: argparse.Namespace) -> Answer:
    """When trapped liquid ices, and when it is solid."""
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


def answer_thaw(arguments: argparse.Namespace) -> Answer:
    """How long until frozen liquid has thawed."""
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


def answer_lag(arguments: argparse.Namespace) -> Answer:
    """Temperature of a body some hours after the air changed."""
    then = arguments.air if arguments.air_then is None else arguments.air_then
    body = float(lag_step(arguments.body, arguments.air, then, arguments.hours, arguments.lag))
    return Answer(
        sentence=f"After {hours_text(arguments.hours)} the body is at {c_and_f(body)}.",
        values={"body_c": body},
        basis=f"first-order lag of {arguments.lag:g} h, air straight from first to last",
        source=_FIRST_ORDER,
    )


def time_constant(arguments: argparse.Namespace) -> Answer:
    """Time constant from two readings or a file of them."""
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
    hours, air, inside = read_columns("--readings", path, COOLING_COLUMNS)
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
