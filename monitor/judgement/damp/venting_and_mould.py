"""Whether opening a space dries or wets it, and the mould index of its past weeks."""

from collections.abc import Iterable, Mapping
from datetime import timedelta
from math import inf, isfinite, nan

import numpy as np

from monitor.judgement.air.grid import MS_PER_H, SpaceAir
from monitor.judgement.air.past_weeks import SpacePast
from monitor.judgement.air.public_forecast import ComingAir
from monitor.judgement.damp.hull import OPEN_HULL, Hull, humidity_within
from monitor.judgement.damp.shut_doors import WetMetal
from monitor.physics.moist_air import condensation_point, relative_humidity
from monitor.physics.mould import mould_index_series
from monitor.physics.ventilation import vent_drying, vent_water
from monitor.yard.air_facts import VentAdvice, Venting
from monitor.yard.space import OUTDOORS

_OPENED_H = 6.0  # what was opened up in the morning stands open until noon (common practice)
_DAMP_PCT = 65.0  # below it nobody needs to open up against damp (common practice)


def weigh_venting(
    air: SpaceAir,
    outside: SpaceAir | None,
    metal_c: float,
    coming: ComingAir | None,
    wet_metal: WetMetal | None = None,
) -> Venting | None:
    """Weigh the outdoor air against a space's own.

    Parameters
    ----------
    air : SpaceAir
    outside : SpaceAir or None
    metal_c : float
        Coldest metal in the space [°C]; inf: none known.
    coming : ComingAir or None
        Outdoors, as a public forecast has it: what dries now may wet before the doors are shut.
    wet_metal : WetMetal, optional
        Metal in it whose judgement asks for shut doors: then nobody is told to open them.

    Returns
    -------
    Venting or None
        None where one of the two humidities is not known, and for spaces under the sky.
    """
    if outside is None or air.space.kind in OUTDOORS or outside is air:
        return None
    inside, beyond = _mean_air(air), _mean_air(outside)
    if not all(isfinite(value) for value in (*inside, *beyond)):
        return None
    water = float(vent_water(*inside, *beyond))
    drying = float(vent_drying(water))
    if float(condensation_point(*beyond)) > metal_c:
        return Venting(advice=VentAdvice.CONDENSES, water_g_kg=water, drying=-1.0)
    if (
        drying >= 0.0
        and coming is not None
        and isfinite(wets_h := _hours_until_wet(coming, metal_c))
    ):
        return Venting(
            advice=VentAdvice.WILL_CONDENSE,
            water_g_kg=water,
            drying=-1.0,
            condenses_at=air.now + timedelta(hours=wets_h),
            source=coming.source,
        )
    advice = VentAdvice.NONE
    if drying < 0.0:
        advice = VentAdvice.WETTER
    elif wet_metal is not None:
        return Venting(
            advice=VentAdvice.WET_METAL,
            water_g_kg=water,
            drying=drying,
            shut_until=wet_metal.until,
        )
    elif drying > 0.0 and inside[1] > _DAMP_PCT:
        advice = VentAdvice.DRIES
    return Venting(advice=advice, water_g_kg=water, drying=drying)


def _hours_until_wet(coming: ComingAir, metal_c: float) -> float:
    """Hours until the air outside would wet metal as cold as this; inf: not within a few."""
    soon = coming.hours <= _OPENED_H
    air_c, dew_c = coming.air_c[soon], coming.dew_point_c[soon]
    rh = np.clip(relative_humidity(air_c, dew_c), 0.0, 100.0)
    wets = condensation_point(air_c, rh) > metal_c
    return float(coming.hours[soon][int(np.argmax(wets))]) if wets.any() else inf


def _mean_air(air: SpaceAir) -> tuple[float, float]:
    """Temperature [°C] and RH [%] that belong together: of several sensors the mean."""
    mean_c, dew_c = float(air.mean_c[-1]), float(air.dew_point_c[-1])
    return mean_c, float(np.clip(relative_humidity(mean_c, min(dew_c, mean_c)), 0.0, 100.0))


def mould_indices(
    spaces: Mapping[str, SpacePast], hulls: Iterable[tuple[str, Hull]] = ()
) -> dict[tuple[str, Hull], float]:
    """Mould index of soiled upholstery over the weeks remembered, 0 to 6.

    Parameters
    ----------
    spaces : mapping of SpacePast by space
    hulls : iterable of (str, Hull)
        Spaces and ways to keep a craft in them, beside each space's own air.

    Returns
    -------
    dict of float by (space, Hull)
        NaN without humidity. Of a craft it tells as if it had stood there so for those weeks.

    Notes
    -----
    Hukka & Viitanen 1999, with the very sensitive class of Viitanen & Ojanen 2007. It tells of
    conditions for mould, never of mould.
    """
    kept = list(dict.fromkeys([*((space, OPEN_HULL) for space in spaces), *hulls]))
    hours = np.unique(np.concatenate([np.empty(0, np.int64), *(p.at_ms for p in spaces.values())]))
    if hours.size < 2:
        return dict.fromkeys(kept, nan)
    names = list(spaces)
    air_c = np.full((len(spaces), hours.size), nan)
    dew_c = air_c.copy()
    for row, past in enumerate(spaces.values()):
        column = np.searchsorted(hours, past.at_ms)
        air_c[row, column], dew_c[row, column] = past.air_c, past.dew_point_c
    rh = np.clip(relative_humidity(air_c, np.minimum(dew_c, air_c)), 0.0, 100.0)
    of = np.array([names.index(space) for space, _ in kept])
    within = humidity_within(air_c[of], rh[of], [hull for _, hull in kept])
    index = mould_index_series((hours - hours[0]) / MS_PER_H, air_c[of], within)[:, -1]
    known = np.isfinite(dew_c).any(axis=1)[of]
    return {each: float(index[at]) if known[at] else nan for at, each in enumerate(kept)}
