"""Antifreeze of the record in single numbers, and mixes of it; their physics is a room away."""

from dataclasses import dataclass
from math import nan
from typing import TYPE_CHECKING

from monitor.craft.layup import Liquid, Product
from monitor.deferred import DeferredModule
from monitor.physics.kinds import HIGHEST_MASS_FRACTION, Glycol

if TYPE_CHECKING:
    from monitor.physics import antifreeze
else:  # its arrays are imported at the first mix
    antifreeze = DeferredModule("monitor.physics.antifreeze")

GLYCOLS = frozenset({Liquid.PROPYLENE, Liquid.ETHYLENE})


def glycol_of(liquid: Liquid) -> Glycol:
    """Name of the glycol in the physics' words; ValueError for anything else."""
    if liquid is Liquid.PROPYLENE:
        return "propylene"
    if liquid is Liquid.ETHYLENE:
        return "ethylene"
    raise ValueError(f"{liquid}: no ice point is on record for it")


def ice_point_c(fraction: float, liquid: Liquid) -> float:
    """First ice [°C] of a mix with that mass fraction, 0 to 0.6."""
    return float(antifreeze.ice_point(fraction, glycol_of(liquid)))


def warmest_ice_c(reading_c: float, scale: Liquid | None, liquid: Liquid) -> float:
    """Warmest ice point [°C] that a liquid can have of which a refractometer read that.

    An instrument sees how light bends, and its scale makes an ice point of it for one glycol. A
    liquid or a scale that nobody named may be either glycol: one index is warmer in propylene.
    """
    liquids = [liquid] if liquid in GLYCOLS else sorted(GLYCOLS)
    scales = [scale] if scale in GLYCOLS else sorted(GLYCOLS)
    return max(_ice_on_scale_c(reading_c, read, of) for read in scales for of in liquids)


def _ice_on_scale_c(reading_c: float, scale: Liquid, liquid: Liquid) -> float:
    if scale is liquid:
        return reading_c
    fraction = antifreeze.mass_fraction_on_scale(
        mass_fraction(reading_c, scale), glycol_of(scale), glycol_of(liquid)
    )
    return ice_point_c(float(fraction), liquid)


def mass_fraction(ice_c: float, liquid: Liquid) -> float:
    """Mass fraction behind a reading [°C]; one colder than the table counts as its end."""
    found = float(antifreeze.mass_fraction_for(ice_c, glycol_of(liquid)))
    return found if found == found else HIGHEST_MASS_FRACTION


def burst_point_c(
    fraction: float, liquid: Liquid, *, measured: bool, label_burst_c: float | None
) -> float:
    """Where slush of that mass fraction is no longer trusted [°C]."""
    label = nan if label_burst_c is None else label_burst_c
    return float(
        antifreeze.burst_point(fraction, glycol_of(liquid), measured=measured, label_c=label)
    )


def mass_fraction_of_volume(by_volume: float, liquid: Liquid) -> float:
    """Mass fraction of glycol that is so much of the volume, as a label says it."""
    return round(float(antifreeze.mass_fraction_of_volume(by_volume, glycol_of(liquid))), 4)


def mixed_mass_fraction(
    strength: float,
    poured_l: float,
    held_l: float,
    liquid: Liquid,
    held_fraction: float = 0.0,
) -> float:
    """Mass fraction after pouring into a passage that holds ``held_l`` already."""
    return float(antifreeze.mix(strength, poured_l, held_l, glycol_of(liquid), held_fraction))


def strength_of(product: Product | None) -> float | None:
    """Mass fraction that may be reckoned with; None if nothing is known of the product.

    A product that states no more than a pipe-burst rating is taken for what such products were
    found to hold: the rating itself is never an ice point.
    """
    if product is None or product.liquid not in GLYCOLS:
        return None
    if product.strength is not None:
        return product.strength
    if product.label_burst_c is None or product.liquid is not Liquid.PROPYLENE:
        return None
    found = float(antifreeze.mass_fraction_of_burst_rating(product.label_burst_c))
    return found if found == found else None


def strongest_of(product: Product | None) -> float:
    """Mass fraction that a product does not exceed, as far as anybody stated anything of it."""
    if product is None or product.liquid is Liquid.ETHANOL:
        return HIGHEST_MASS_FRACTION
    if product.strength is not None:
        return product.strength
    rated = float(antifreeze.mass_fraction_of_burst_rating(product.label_burst_c or nan))
    return rated if rated == rated else HIGHEST_MASS_FRACTION


def litres_needed(
    strength: float, target: float, held_l: float, liquid: Liquid, held_fraction: float = 0.0
) -> float | None:
    """Product of that strength [L] which brings the held liquid to the target mass fraction.

    None if no quantity can: the product is not stronger than the target. Mass balance with the
    densities of ``monitor.physics.antifreeze``, perfect mixing.
    """
    if held_fraction >= target:
        return 0.0
    if strength <= target:
        return None
    glycol = glycol_of(liquid)
    held_kg = held_l * float(antifreeze.density(held_fraction, glycol))
    product_kg = held_kg * (target - held_fraction) / (strength - target)
    return product_kg / float(antifreeze.density(strength, glycol))


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """Glycol and water in a circuit.

    ``liquid`` NOT_KNOWN is a glycol that nobody named, or two in one water: of both the one that
    ices and bursts sooner.
    """

    liquid: Liquid
    fraction: float  # mass fraction of glycol
    ice_c: float
    burst_c: float


def mix_read(liquid: Liquid, ice_c: float, *, sure: bool, label_burst_c: float | None) -> Mix:
    """Mix behind a reading; ``sure``: scale and zero were checked, so its strength is measured."""
    kinds = [liquid] if liquid in GLYCOLS else sorted(GLYCOLS)
    fractions = {one: mass_fraction(ice_c, one) for one in kinds}
    burst = max(
        burst_point_c(share, one, measured=sure, label_burst_c=label_burst_c)
        for one, share in fractions.items()
    )
    return Mix(
        liquid=liquid,
        fraction=min(fractions.values()),
        ice_c=ice_c,
        burst_c=min(burst, ice_c),
    )


def weaker_mix(one: Mix, other: Mix) -> Mix:
    """Take the worse of both in everything; the liquid is the first one's."""
    return Mix(
        liquid=one.liquid,
        fraction=min(one.fraction, other.fraction),
        ice_c=max(one.ice_c, other.ice_c),
        burst_c=max(one.burst_c, other.burst_c),
    )


def mix_of(
    liquid: Liquid, fraction: float, *, label_burst_c: float | None, more_kinds: bool = False
) -> Mix:
    """Mix of a reckoned strength.

    Parameters
    ----------
    liquid : Liquid
        Glycol that went in last.
    fraction : float
        Mass fraction of it alone in all that stands there, 0 to 0.6.
    label_burst_c : float or None
        Burst rating on its label [°C].
    more_kinds : bool
        Another glycol stands in it beside. No table is of two in one water, so that other one is
        left out of the strength, and of the two the one that ices and bursts sooner counts, each
        at this share of the volume.
    """
    shares = {liquid: fraction}
    if more_kinds:
        by_volume = float(antifreeze.volume_fraction(fraction, glycol_of(liquid)))
        shares |= {one: _fraction_of_volume(by_volume, one) for one in GLYCOLS - {liquid}}
    ice = max(ice_point_c(share, one) for one, share in shares.items())
    burst = max(
        burst_point_c(share, one, measured=False, label_burst_c=label_burst_c)
        for one, share in shares.items()
    )
    return Mix(
        liquid=Liquid.NOT_KNOWN if more_kinds else liquid,
        fraction=min(shares.values()),
        ice_c=ice,
        burst_c=min(burst, ice),
    )


def _fraction_of_volume(by_volume: float, liquid: Liquid) -> float:
    found = float(antifreeze.mass_fraction_of_volume(by_volume, glycol_of(liquid)))
    return min(found, HIGHEST_MASS_FRACTION)
