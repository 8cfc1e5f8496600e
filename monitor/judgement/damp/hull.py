"""The air inside a closed craft: how far its own damp and its cover make it damper than outside."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from monitor.craft.craft_condition import Keeping
from monitor.craft.layup import Cover
from monitor.judgement.air.grid import Floats
from monitor.physics.moist_air import saturation_pressure_water
from monitor.physics.wetness import enclosed_vapour_pressure

# Wet surface in a hull for each cubic metre of its air [1/m] (common practice, no source).
_STANDING_WATER = 0.15
_OWN_DAMP = 0.05  # carpet, ropes, what drains never reach: it counts once nothing lets it out
# Air changes an hour (common practice, no source).
_CHANGES_H = {None: 5.0, Cover.BREATHABLE: 3.0, Cover.SHRINK_WRAP: 0.7}
_CLOSED_H = 0.5  # hatches, lockers and vents shut


@dataclass(frozen=True, slots=True)
class Hull:
    """The air around the metal of a craft, as far as it differs from its space's."""

    water_m2_m3: float = 0.0  # 0: it is the space's own
    changes_h: float = 1.0

    @classmethod
    def of_keeping(cls, keeping: Keeping) -> "Hull":
        """By what is on record; nothing on record: the space's own air."""
        tight = keeping.cover is Cover.SHRINK_WRAP and not keeping.torn
        shut_in = tight or keeping.closed
        water = _STANDING_WATER if keeping.bilge_wet else _OWN_DAMP if shut_in else 0.0
        if not water:
            return OPEN_HULL
        changes = _CHANGES_H[None if keeping.torn else keeping.cover]
        return cls(water, min(changes, _CLOSED_H) if keeping.closed else changes)


OPEN_HULL = Hull()


def humidity_within(air_c: Floats, rh_pct: Floats, hulls: Sequence[Hull]) -> Floats:
    """Relative humidity [%] in each of these hulls.

    Parameters
    ----------
    air_c, rh_pct : ndarray, shape (hulls, n)
        Of the space's air, one row a hull [°C], [%].
    hulls : sequence of Hull
    """
    saturated_pa = saturation_pressure_water(air_c)
    inside_pa = enclosed_vapour_pressure(
        saturated_pa * rh_pct / 100.0,
        saturated_pa,
        np.array([[hull.water_m2_m3] for hull in hulls]),
        np.array([[hull.changes_h] for hull in hulls]),
    )
    return np.clip(100.0 * inside_pa / saturated_pa, 0.0, 100.0)
