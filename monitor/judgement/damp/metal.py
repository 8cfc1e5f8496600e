"""Temperature of bare metal and the water on it, past and ahead, for all spaces at once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.arrival import LaggedBody, follow_air
from monitor.judgement.air.driving_air import DrivingAir
from monitor.judgement.air.grid import Floats, SpaceAir
from monitor.judgement.air.own_nights import Tonight
from monitor.judgement.air.public_forecast import ComingAir
from monitor.judgement.damp.forecast import ForecastFilm, air_ahead, hours_until_turns
from monitor.judgement.damp.hull import OPEN_HULL, Hull, humidity_within
from monitor.physics.lag import lag_response
from monitor.physics.moist_air import (
    condensation_point,
    relative_humidity,
)
from monitor.physics.wetness import (
    condensation_rate,
    ends_wet,
    film_coefficient,
    film_series,
    share_let_in,
)
from monitor.yard.space import OUTDOORS

DRY_G_M2 = 1.0  # of water: less than a breath on glass
STRIDE = 3  # films are followed each half hour


@dataclass(frozen=True, slots=True)
class SurfaceKind:
    """What distinguishes one surface from another as far as damp is concerned."""

    space: str
    stood: LaggedBody
    length_m: float
    hull: Hull = OPEN_HULL
    brought_m_h: float = np.inf  # air that its compartment lets in, for each area of metal
    probe_c: float | None = None  # what a probe on it reads now


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceSeries:
    """One kind's past and coming hours; NaN before it came."""

    metal_c: Floats  # (n,)
    film_g_m2: Floats  # (n,)
    point_c: Floats  # (n,) dew or frost point; ahead: if the air keeps its water
    hours: Floats  # (n,) relative to now
    present: int
    share: float  # weight of the unknown start, now
    rh_pct: float  # of the air around it, now
    air_is_wetting: bool  # that air is, by ISO 9223, or that of its space (see `ends_wet`)
    front: ForecastFilm | None = None  # None without a public forecast

    def hours_until_turns(self, film_gone_g_m2: float) -> tuple[float, float, float]:
        """Hours until nothing condenses, until the film is gone, until dew; inf: not yet."""
        rest = slice(self.present, None)
        return hours_until_turns(
            self.hours[rest],
            self.metal_c[rest],
            self.point_c[rest],
            self.film_g_m2[rest],
            film_gone_g_m2,
        )


@dataclass(frozen=True, slots=True)
class _Around:
    """One space's air as its metal feels it, along the common hours."""

    air_c: Floats
    beside_c: Floats  # what metal follows: less what the sky takes
    rh_pct: Floats
    past_point_c: Floats


def follow_surfaces(
    airs: Mapping[str, SpaceAir],
    nights: Mapping[str, Tonight],
    drives: Mapping[str, DrivingAir],
    kinds: Sequence[SurfaceKind],
    coming: ComingAir | None = None,
) -> dict[SurfaceKind, SurfaceSeries]:
    """Temperature and water of metal surfaces along past and coming air.

    Parameters
    ----------
    airs : mapping of SpaceAir by space
    nights : mapping of Tonight by space
        Of those that the kinds stand in; all along the same hours.
    drives : mapping of DrivingAir by space
        What the sky takes in each of them.
    kinds : sequence of SurfaceKind
        Distinct.
    coming : ComingAir, optional
        Outdoor air as a public forecast has it.

    Notes
    -----
    Ahead the air keeps the water that it holds now, as far as it can at its temperature, and
    indoors its temperature too. The film comes from the Lewis relation; wind and fans would
    speed both wetting and drying up. In a hull that holds water the air is damper, by a balance
    of evaporation and air change. What a public forecast would bring is followed beside that,
    from the metal and the film of now on.
    """
    if not kinds:
        return {}
    any_air = airs[kinds[0].space]
    pick = np.arange(any_air.hours.size - 1, -1, -STRIDE)[::-1]
    present = pick.size - 1
    ahead_h = nights[kinds[0].space].hours[STRIDE - 1 :: STRIDE]
    hours = np.concatenate([any_air.hours[pick], ahead_h])
    spaces = {
        space: _air_around(airs[space], nights[space], drives[space], pick)
        for space in {kind.space for kind in kinds}
    }
    pairs, row = _distinct_hulls(kinds)
    air_c = np.array([spaces[space].air_c for space, _ in pairs])
    outside_pct = np.array([spaces[space].rh_pct for space, _ in pairs])
    rh = humidity_within(air_c, outside_pct, [hull for _, hull in pairs])
    point = condensation_point(air_c, rh)
    for at, (space, hull) in enumerate(pairs):
        if hull is OPEN_HULL:
            point[at, : present + 1] = spaces[space].past_point_c
    beside = np.array([spaces[kind.space].beside_c for kind in kinds])
    metal, share = follow_air(hours, beside, [kind.stood for kind in kinds], airs)
    film = _water_on_metal(kinds, hours, air_c[row], rh[row], metal)
    wetting = _are_wetting(airs, pairs, pick, rh)
    fronts: Sequence[ForecastFilm | None] = [None] * len(kinds)
    if coming is not None:
        began = (metal[:, present], film[:, present])
        fronts = _forecast_films(coming, airs, nights, drives, kinds, began)
    return {
        kind: SurfaceSeries(
            metal_c=metal[at],
            film_g_m2=film[at],
            point_c=point[row[at]],
            hours=hours,
            present=present,
            share=float(share[at, present]),
            rh_pct=float(rh[row[at], present]),
            air_is_wetting=bool(wetting[row[at]]),
            front=fronts[at],
        )
        for at, kind in enumerate(kinds)
    }


def _are_wetting(
    airs: Mapping[str, SpaceAir],
    pairs: Sequence[tuple[str, Hull]],
    pick: NDArray[np.intp],
    inside_pct: Floats,
) -> NDArray[np.bool_]:
    """Whether the air of each space, or inside each hull in it, is wetting metal now."""
    past = slice(pick.size)
    return np.array(
        [
            bool(ends_wet(airs[space].warmest_c, airs[space].rh_pct))
            or bool(ends_wet(airs[space].warmest_c[pick], inside_pct[at, past]))
            for at, (space, _) in enumerate(pairs)
        ]
    )


def _forecast_films(
    coming: ComingAir,
    airs: Mapping[str, SpaceAir],
    nights: Mapping[str, Tonight],
    drives: Mapping[str, DrivingAir],
    kinds: Sequence[SurfaceKind],
    began: tuple[Floats, Floats],
) -> list[ForecastFilm]:
    """Follow metal and its film, as they are now, through the air that is forecast."""
    hours = coming.hours
    spaces = {
        space: air_ahead(airs[space], nights[space], coming)
        for space in {kind.space for kind in kinds}
    }
    pairs, row = _distinct_hulls(kinds)
    air_c = np.array([spaces[space][0] for space, _ in pairs])
    around_pct = np.array([spaces[space][1] for space, _ in pairs])
    rh = humidity_within(air_c, around_pct, [hull for _, hull in pairs])
    point = condensation_point(air_c, rh)
    outdoor_pct = relative_humidity(coming.air_c, coming.dew_point_c)
    outdoor_point = condensation_point(coming.air_c, np.clip(outdoor_pct, 0.0, 100.0))
    losses = {space: _sky_takes(drives[space], hours) for space in spaces}
    beside = air_c[row] - np.array([losses[kind.space] for kind in kinds])
    metal_c, film_g_m2 = began
    start_c = np.array([kind.probe_c for kind in kinds], dtype=np.float64)
    start_c = np.where(np.isnan(start_c), metal_c, start_c)
    lags_h = np.array([kind.stood.lag_h for kind in kinds])
    metal = lag_response(hours, beside, lags_h, start_c=start_c).body_c
    film = _water_on_metal(kinds, hours, air_c[row], rh[row], metal, film_g_m2)
    return [
        ForecastFilm(
            hours=hours,
            metal_c=metal[at],
            film_g_m2=film[at],
            point_c=point[row[at]],
            outdoor_point_c=outdoor_point,
        )
        for at in range(len(kinds))
    ]


def _distinct_hulls(
    kinds: Sequence[SurfaceKind],
) -> tuple[list[tuple[str, Hull]], NDArray[np.intp]]:
    """Spaces and the sorts of hull in them, each once as moist air is costly; and each kind's."""
    pairs = list(dict.fromkeys((kind.space, kind.hull) for kind in kinds))
    return pairs, np.array([pairs.index((kind.space, kind.hull)) for kind in kinds])


def _water_on_metal(
    kinds: Sequence[SurfaceKind],
    hours: Floats,
    air_c: Floats,
    rh_pct: Floats,
    metal_c: Floats,
    began_g_m2: Floats | float = 0.0,
) -> Floats:
    """Water on each kind of metal along the hours [g/m²], one row a kind."""
    heights = np.array([kind.length_m for kind in kinds])[:, None]
    coefficient = film_coefficient(np.maximum(np.abs(air_c - metal_c), 0.5), heights)
    brought = np.array([kind.brought_m_h for kind in kinds])[:, None]
    rate = condensation_rate(air_c, rh_pct, metal_c, coefficient)
    return film_series(hours, rate * share_let_in(coefficient, brought), began_g_m2)


def _air_around(
    air: SpaceAir, night: Tonight, drive: DrivingAir, pick: NDArray[np.intp]
) -> _Around:
    ahead = slice(STRIDE - 1, None, STRIDE)
    course_c = night.cold_c[ahead]
    # Under the sky the night's own cold brings dew; indoors a front's air stays for hours.
    mean_c = float(air.mean_c[-1])
    outdoors = air.space.kind in OUTDOORS
    ahead_c = course_c + mean_c - air.now_c if outdoors else np.full_like(course_c, mean_c)
    around = np.concatenate([air.mean_c[pick], ahead_c])
    dew_c = np.concatenate([air.dew_point_c[pick], np.full(ahead_c.size, air.dew_point_c[-1])])
    rh = np.clip(relative_humidity(around, np.minimum(dew_c, around)), 0.0, 100.0)
    return _Around(
        air_c=around,
        beside_c=around
        - np.concatenate([drive.sky.past_k[pick], _sky_takes(drive, night.hours[ahead])]),
        rh_pct=rh,
        past_point_c=air.condensation_c[pick],
    )


def _sky_takes(drive: DrivingAir, hours: Floats) -> Floats:
    """What a night of middling clearness takes at hours after now; nothing after its noon."""
    ahead_h = drive.hours[drive.present + 1 :]
    dark = np.interp(hours, ahead_h, drive.sky.dark.astype(np.float64), right=0.0)
    taken: Floats = drive.sky.middle_k * dark
    return taken
