"""A glycol mix below its ice point: how much of it is ice, and from when on that counts."""

from functools import lru_cache
from math import isfinite, nan

from monitor.craft.layup import Liquid
from monitor.craft.mixture import GLYCOLS, glycol_of
from monitor.physics.antifreeze import (
    LOCKED_ICE_SHARE,
    ice_point,
    ice_share,
    mass_fraction_for,
)
from monitor.physics.kinds import HIGHEST_MASS_FRACTION, Glycol

# A computed mix knows neither what stayed in the passage nor how well it mixed; so much less
# glycol than the sum says may be in it (common practice, no source).
COMPUTED_SHORT = 0.1


@lru_cache(maxsize=4096)
def short_of_glycol(
    point_c: float, liquid: Liquid | None, fraction: float | None
) -> tuple[float, float | None]:
    """Ice point [°C] and mass fraction of a mix with a tenth less glycol than was computed."""
    strength = _glycol_share(point_c, liquid, fraction)
    if liquid is None or not isfinite(strength):
        return point_c, fraction
    left = (1.0 - COMPUTED_SHORT) * strength
    warmest = max(float(ice_point(left, kind)) for kind in _possible_glycols(liquid))
    return max(warmest, point_c), left


@lru_cache(maxsize=4096)
def locked_point(point_c: float, liquid: Liquid | None, fraction: float | None) -> float:
    """Temperature at which ice counts [°C]: at once in water, at a third of it in glycol."""
    strength = _glycol_share(point_c, liquid, fraction)
    if liquid is None or not (isfinite(point_c) and point_c < 0.0 and isfinite(strength)):
        return point_c
    left = min(strength / (1.0 - LOCKED_ICE_SHARE), HIGHEST_MASS_FRACTION)
    warmest = max(float(ice_point(left, kind)) for kind in _possible_glycols(liquid))
    return min(warmest, point_c)


def slush_share(
    point_c: float, liquid: Liquid | None, fraction: float | None, at_c: float
) -> float:
    """Share of a mix that is ice at a temperature, by the lever rule; NaN if it is no glycol."""
    strength = _glycol_share(point_c, liquid, fraction)
    if liquid is None:
        return nan
    return max(float(ice_share(strength, at_c, kind)) for kind in _possible_glycols(liquid))


def _possible_glycols(liquid: Liquid) -> tuple[Glycol, ...]:
    """The glycols that it may be: either, where nobody named it."""
    return (glycol_of(liquid),) if liquid in GLYCOLS else ("ethylene", "propylene")


def _glycol_share(point_c: float, liquid: Liquid | None, fraction: float | None) -> float:
    """Mass fraction of glycol; NaN where the liquid is none (water, or an ethanol blend)."""
    if fraction is not None:
        return fraction
    if liquid is None:
        return nan
    return min(float(mass_fraction_for(point_c, kind)) for kind in _possible_glycols(liquid))
