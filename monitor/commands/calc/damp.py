"""Sums of ``laidup calc`` about damp: condensation, wet hours, mould, a humidity sensor's check."""

import argparse
import math
from datetime import UTC, datetime
from typing import cast

from monitor.commands.calc.answer import (
    Answer,
    Value,
    both_differences,
    c_and_f,
    need_dew_point,
    need_moist_air,
)
from monitor.errors import QuantityError
from monitor.physics import moist_air, mould, wetness
from monitor.physics.corrosivity import (
    CATEGORIES,
    STEEL_LOSS_G_M2,
    category_of_wetness,
    loss_depth_um,
)
from monitor.physics.humidity_check import LARGEST_CORRECTION_PCT, salt_humidity
from monitor.physics.kinds import Salt, Sensitivity
from monitor.yard.assessment import Standing
from monitor.yard.calibration import Calibration, Point
from monitor.yard.reading import Channel

_CLOSE_K = 3.0  # painters keep a surface 3 K above dew point (common practice)


def answer_condensation(arguments: argparse.Namespace) -> Answer:
    """Whether a surface sweats, and how much."""
    need_moist_air(arguments, "--temperature", "--surface")
    air, rh, surface = arguments.temperature, arguments.humidity, arguments.surface
    point = float(moist_air.condensation_point(air, rh))
    need_dew_point(point, rh)
    margin = surface - point
    film = float(wetness.film_coefficient(air - surface, arguments.height))
    rate = float(wetness.condensation_rate(air, rh, surface, film))
    surface_rh = float(moist_air.surface_humidity(air, rh, surface))
    kind = "dew" if surface > 0.0 else "frost"
    limit = f"the air's {'dew' if point >= 0.0 else 'frost'} point, {c_and_f(point)}"
    standing = Standing.DRY
    if rate > 0.0:
        standing = Standing.SWEATING if surface > 0.0 else Standing.FROSTING
    elif wetness.is_wet(surface, surface_rh):
        standing = Standing.WETTING
    if rate > 0.0:
        sentence = (
            f"{kind.capitalize()} forms: the surface at {c_and_f(surface)} is"
            f" {both_differences(-margin)} below {limit}, and takes"
            f" {rate:.0f} g/m² an hour in still air."
        )
    else:
        advice = "" if margin >= _CLOSE_K else " That is close: warm it or dry the air."
        sentence = (
            f"No {kind}: the surface at {c_and_f(surface)} is {both_differences(margin)} above"
            f" {limit}.{advice}"
        )
    return Answer(
        sentence=sentence,
        values={
            "condensation_point_c": point,
            "margin_k": margin,
            "surface_humidity_pct": surface_rh,
            "rate_g_m2_h": rate,
            "standing": standing.value,
        },
        basis="dew point above 0 °C, frost point below; still air, upright surface",
        source="Sonntag 1990; Lewis relation with Le = 0.86; the 3 K margin is common practice",
    )


def wet_hours(arguments: argparse.Namespace) -> Answer:
    """Class of wetness from hours that were wet."""
    if arguments.wet > arguments.seen:
        raise QuantityError("--wet is more than --seen: no more hours can be wet than were seen")
    number = int(wetness.wetness_class(arguments.wet, arguments.seen))
    low, high = category_of_wetness(number, arguments.sulphur, arguments.chloride)
    span = (
        CATEGORIES[low - 1] if low == high else f"{CATEGORIES[low - 1]} to {CATEGORIES[high - 1]}"
    )
    share = arguments.wet / arguments.seen
    eaten_um = float(loss_depth_um(STEEL_LOSS_G_M2[high - 1]))
    return Answer(
        sentence=(
            f"{arguments.wet:.0f} wet hours of {arguments.seen:.0f} are {share:.0%}, at that rate"
            f" {share * wetness.HOURS_A_YEAR:.0f} a year: wetness class T{number}. For bare"
            f" steel outdoors that allows corrosivity {span}: at most {eaten_um:.0f} µm eaten in"
            " the first year."
        ),
        values={
            "wetness_class": number,
            "wet_share": share,
            "category_lowest": CATEGORIES[low - 1],
            "category_highest": CATEGORIES[high - 1],
            "steel_loss_largest_um": eaten_um,
        },
        basis=(
            "scaled from the hours seen to a year, which a winter is not; wetness alone allows no"
            " single category, deposition of salt and sulphur decides"
        ),
        source="ISO 9223 (classes T4, T5 and the table of 1992 from memory)",
    )


def answer_mould(arguments: argparse.Namespace) -> Answer:
    """Whether mould grows, and how soon."""
    kind = cast(Sensitivity, arguments.material)
    t, rh = arguments.temperature, arguments.humidity
    limit = float(mould.critical_humidity(t, kind))
    ceiling = float(mould.index_ceiling(t, rh, kind))
    rate = float(mould.growth_per_day(t, rh, 0.0, kind))
    days = 1.0 / rate if rate > 0.0 and ceiling > 1.0 else math.inf
    if math.isinf(limit):
        sentence = f"At {c_and_f(t)} nothing grows, at any humidity."
    elif ceiling == 0.0 or rate == 0.0:
        sentence = f"Too dry for mould: at {c_and_f(t)} it needs {limit:.0f} % RH at the surface."
    elif math.isinf(days):
        sentence = (
            f"Barely conditions for mould: above the {limit:.0f} % RH that {c_and_f(t)} asks"
            " for, but"
            f" never past index {ceiling:.1f}; 1 is what a microscope shows."
        )
    else:
        sentence = (
            f"Conditions for mould: above the {limit:.0f} % RH that {c_and_f(t)} asks for; index 1,"
            f" seen under a microscope, after {days:.0f} days at the soonest, at most index"
            f" {ceiling:.1f}."
        )
    return Answer(
        sentence=sentence,
        values={
            "critical_humidity_pct": limit,
            "days_to_index_1": days,
            "index_ceiling": ceiling,
        },
        basis="steady conditions at the surface; conditions for mould, never mould itself",
        source="Hukka & Viitanen 1999; Viitanen & Ojanen 2007",
    )


def answer_salt(arguments: argparse.Namespace) -> Answer:
    """What a humidity sensor should read over a salt."""
    salt, read = cast(Salt, arguments.salt), arguments.read
    true = _over_salt(salt, arguments.temperature)
    sentence = f"Over {salt} at {c_and_f(arguments.temperature)} it should read {true:.1f} %."
    points: list[Point] = []
    if read is not None:
        points.append(Point(read=read, true=true))
    second = arguments.second_salt
    if (second is None) != (arguments.second_read is None) or (second and not points):
        raise QuantityError("--second-salt, --second-read and --read are needed together")
    if second == salt:
        raise QuantityError(f"--second-salt is {salt} too: take another, two points make a line")
    if second is not None:
        other = _over_salt(cast(Salt, second), arguments.temperature)
        points.append(Point(read=arguments.second_read, true=other))
        sentence += f" Over {second} it should read {other:.1f} %."
    values: dict[str, Value] = {"relative_humidity_pct": true, "error_pct": math.nan}
    if points:
        found = _fit_calibration(points)
        errors = [point.read - point.true for point in points]
        worst = max(errors, key=abs)
        replace = abs(worst) > LARGEST_CORRECTION_PCT
        line = f"true = {found.gain:.3f} x read {found.offset:+.1f} %"
        sentence += f" It reads {' and '.join(f'{each:+.1f}' for each in errors)} % RH off: " + (
            "replace the sensor." if replace else f"correct it, {line}."
        )
        values |= {
            "error_pct": errors[0],
            "gain": found.gain,
            "offset_pct": found.offset,
            "replace": replace,
        }
    return Answer(
        sentence=sentence,
        values=values,
        basis=(
            "slush with solid salt in a small closed box, steady for 1 to 8 hours; a correction"
            f" above {LARGEST_CORRECTION_PCT:g} % RH is a worn sensor (common practice)"
        ),
        source="Greenspan 1977, J. Res. NBS 81A, 89-96 (0 and 30 °C from memory)",
    )


def _over_salt(salt: Salt, temperature_c: float) -> float:
    true = float(salt_humidity(salt, temperature_c))
    if math.isnan(true):
        raise QuantityError(
            f"--temperature: {salt} is not tabulated at {c_and_f(temperature_c)}",
            "every salt is from 5C to 25C",
        )
    return true


def _fit_calibration(points: list[Point]) -> Calibration:
    """The same line that the yard's file makes of these points."""
    try:
        return Calibration(
            channel=Channel.HUMIDITY,
            made_on=datetime.now(tz=UTC).date(),
            standard="saturated salt",
            points=tuple(points),
        )
    except QuantityError as error:
        raise QuantityError(f"--read and --second-read: {error}") from error
