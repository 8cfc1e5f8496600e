"""Sums of ``laidup calc`` about antifreeze: mix, burst point against ice point, refractometer."""

import argparse
import math
from typing import cast

from monitor.commands.calc.answer import Answer, c_and_f
from monitor.errors import QuantityError
from monitor.physics import antifreeze
from monitor.physics.kinds import HIGHEST_MASS_FRACTION, Glycol
from monitor.units import volume_text

_TABLE = {
    "propylene": "ice points of propylene glycol after Melinder 2010 (CoolProp MPG), warm side",
    "ethylene": "ice points of ethylene glycol, ASHRAE Fundamentals (from memory), warm side",
}
_GUIDES = "burst guidance of heat-transfer engineering guides (from memory)"


def _mass_fraction(arguments: argparse.Namespace, flag: str, value: float) -> float:
    glycol = cast(Glycol, arguments.glycol)
    if arguments.by == "volume":
        value = float(antifreeze.mass_fraction_of_volume(value, glycol))
    if value > HIGHEST_MASS_FRACTION:
        raise QuantityError(
            f"{flag} is {value:.0%} glycol by mass",
            "above 60 % the ice point rises again and the tables end. Thin a concentrate first",
        )
    return value


def answer_mix(arguments: argparse.Namespace) -> Answer:
    """What is left of a product after it met water in a passage."""
    glycol = cast(Glycol, arguments.glycol)
    product = _mass_fraction(arguments, "--strength", arguments.strength)
    held = _mass_fraction(arguments, "--residual-strength", arguments.residual_strength)
    strength = float(antifreeze.mix(product, arguments.poured, arguments.residual, glycol, held))
    if arguments.lowest_strength is not None:
        lowest = _mass_fraction(arguments, "--lowest-strength", arguments.lowest_strength)
        if strength < lowest:
            raise QuantityError(
                (
                    f"--lowest-strength: the mix is {strength:.1%} glycol by mass,"
                    f" below the {lowest:.1%} that the product allows"
                ),
                "drain, and pour again",
            )
    ice = float(antifreeze.ice_point(strength, glycol))
    burst = float(antifreeze.burst_point(strength, glycol))
    sentence = (
        f"{volume_text(arguments.poured)} ({volume_text(arguments.poured, 'fl oz')}) of"
        f" {product:.0%} {glycol} glycol into {volume_text(arguments.residual)}"
        f" ({volume_text(arguments.residual, 'fl oz')}) makes {strength:.1%}, both by mass: first"
        f" ice at {c_and_f(ice)}, {_burst_words(ice, burst)}."
    )
    return Answer(
        sentence=sentence,
        values={
            "glycol_mass_fraction": strength,
            "glycol_volume_fraction": float(antifreeze.volume_fraction(strength, glycol)),
            "ice_point_c": ice,
            "burst_point_c": burst,
        },
        basis="computed from the mix, all of it mixed; a pocket the flow never reached is water",
        source=f"mass balance at 20 °C; {_TABLE[glycol]}; {_GUIDES}",
    )


def _burst_words(ice: float, burst: float) -> str:
    if burst >= ice:
        return "and its slush gets no credit below that"
    return f"and is trusted not to burst metal down to {c_and_f(burst)}"


def answer_burst(arguments: argparse.Namespace) -> Answer:
    """Ice point and burst point of a strength of glycol."""
    glycol = cast(Glycol, arguments.glycol)
    strength = _mass_fraction(arguments, "--strength", arguments.strength)
    label = math.nan if arguments.label is None else arguments.label
    ice = float(antifreeze.ice_point(strength, glycol))
    burst = float(
        antifreeze.burst_point(strength, glycol, measured=arguments.measured, label_c=label)
    )
    limit = "strength measured" if arguments.measured else "not measured, so -18 °C at best"
    return Answer(
        sentence=(
            f"{strength:.1%} of {glycol} glycol by mass forms first ice at {c_and_f(ice)},"
            f" {_burst_words(ice, burst)}."
        ),
        values={
            "glycol_mass_fraction": strength,
            "ice_point_c": ice,
            "burst_point_c": burst,
            "ice_share_at_burst_point": float(antifreeze.ice_share(strength, burst, glycol)),
        },
        basis=f"no credit for slush under 20 % by volume, none below the label; {limit}",
        source=f"{_TABLE[glycol]}; {_GUIDES}",
    )


def answer_label(arguments: argparse.Namespace) -> Answer:
    """What a burst rating says of the ice point."""
    strength = float(antifreeze.mass_fraction_of_burst_rating(arguments.rating))
    if math.isnan(strength):
        raise QuantityError(
            "--rating is warmer than -7C (19.4F), the warmest burst rating the guides know"
        )
    ice = float(antifreeze.ice_point(strength))
    burst = float(antifreeze.burst_point(strength, label_c=arguments.rating))
    return Answer(
        sentence=(
            f"A propylene glycol product rated to {c_and_f(arguments.rating)} is to be taken as"
            f" {strength:.0%} glycol by mass undiluted: first ice at {c_and_f(ice)},"
            f" {_burst_words(ice, burst)}. The label's number is a burst rating in pipe, not an"
            " ice point, and water left in the passage takes most of it away."
        ),
        values={"glycol_mass_fraction": strength, "ice_point_c": ice, "burst_point_c": burst},
        basis="stated on the label, so no more than a quarter of glycol is believed",
        source=f"{_GUIDES}; published storage note of a watermaker maker; {_TABLE['propylene']}",
    )


def answer_refractometer(arguments: argparse.Namespace) -> Answer:
    """Strength of glycol from a refractometer."""
    glycol = cast(Glycol, arguments.glycol)
    if (arguments.reading is None) == (arguments.brix is None):
        raise QuantityError("give one of --reading (an ice point) and --brix")
    if arguments.brix is not None:
        flag, scale = "--brix", "sugar scale, Lorentz-Lorenz mixing rule for the glycol"
        strength = float(antifreeze.mass_fraction_of_brix(arguments.brix, glycol))
    else:
        flag, scale = "--reading", f"{glycol} glycol's own scale"
        strength = float(antifreeze.mass_fraction_for(arguments.reading, glycol))
    if math.isnan(strength):
        raise QuantityError(f"{flag} is outside 0 to 60 % of {glycol} glycol", "clean and zero it")
    ice = float(antifreeze.ice_point(strength, glycol))
    burst = float(antifreeze.burst_point(strength, glycol, measured=True))
    return Answer(
        sentence=(
            f"That reads {strength:.1%} of {glycol} glycol by mass: first ice at {c_and_f(ice)},"
            f" {_burst_words(ice, burst)}. Allow 2 K; ethanol blends cannot be read this way."
        ),
        values={
            "glycol_mass_fraction": strength,
            "ice_point_c": ice,
            "ice_point_error_k": 2.0,
            "burst_point_c": burst,
        },
        basis=f"measured with a refractometer at 20 °C, {scale}",
        source=f"{_TABLE[glycol]}; ICUMSA 1974 (from memory); ASTM D3321 for the error",
    )
