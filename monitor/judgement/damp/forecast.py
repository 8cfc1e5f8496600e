"""What a public forecast would bring into each space, and when its metal would be wet by it."""

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.building import building_alone, unheated_air_series
from monitor.judgement.air.grid import Floats, SpaceAir
from monitor.judgement.air.own_nights import Tonight
from monitor.judgement.air.public_forecast import ComingAir
from monitor.physics.moist_air import relative_humidity, saturation_pressure_water
from monitor.yard.space import OUTDOORS, SpaceKind

# Air changes an hour of a building with its doors shut (common practice, no source).
_SHUT_CHANGES_H = {SpaceKind.COLD: 0.5, SpaceKind.HEATED: 0.4, SpaceKind.BENCH: 0.4}
# What a bare floor takes of air whose dew point is above it: 9 m/h by the Lewis relation in still
# air (3 W/(m2 K)), of the 5 m of air over it, and half of that for what stands on it (estimates).
_FLOOR_TAKES_H = 0.9
_BEGINS_WITHIN_H = 12.0  # later is left to later forecasts
_WORTH_AN_ACT_H = 3.0  # dew that is over sooner dries by itself (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class DewAhead:
    """A stretch of coming hours in which metal lies below the dew or frost point of its air."""

    begins_h: float
    ends_h: float  # inf: not within what the forecast covers
    dry_h: float  # until the film is gone; inf likewise
    outdoors_h: float  # from when on the outdoor air would wet it, with the doors open
    film_g_m2: float  # the most that comes to lie on it
    metal_c: float  # where it lies furthest below
    point_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastFilm:
    """One surface's coming hours if a public forecast comes true; the first is now. Shape (n,)."""

    hours: Floats
    metal_c: Floats
    film_g_m2: Floats
    point_c: Floats  # dew or frost point of the air around it
    outdoor_point_c: Floats

    def hours_until_turns(self, film_gone_g_m2: float) -> tuple[float, float, float]:
        """Hours until nothing condenses, until the film is gone, until dew; inf: not yet."""
        return hours_until_turns(
            self.hours, self.metal_c, self.point_c, self.film_g_m2, film_gone_g_m2
        )

    def first_dew(self, film_g_m2: float, film_gone_g_m2: float) -> DewAhead | None:
        """First dew that is heavy enough to act on.

        Parameters
        ----------
        film_g_m2 : float
            What must come to lie on it [g/m²].
        film_gone_g_m2 : float
            What counts as dry again [g/m²].

        Returns
        -------
        DewAhead or None
            Of more than three hours, begun within twelve.
        """
        below = np.concatenate([[False], self.metal_c < self.point_c, [False]])
        edges = np.flatnonzero(np.diff(below.astype(np.int8)))
        for begin, end in zip(edges[::2], edges[1::2], strict=True):
            lasts_h = float(self.hours[end - 1] - self.hours[begin])
            if self.hours[begin] > _BEGINS_WITHIN_H:
                break
            wets = float(self.film_g_m2[begin:end].max()) > film_g_m2
            if lasts_h > _WORTH_AN_ACT_H and wets:
                return self._dew_within(int(begin), int(end), film_gone_g_m2)
        return None

    def _dew_within(self, begin: int, end: int, film_gone_g_m2: float) -> DewAhead:
        worst = begin + int(np.argmin((self.metal_c - self.point_c)[begin:end]))
        below_k = self.point_c - self.metal_c
        outdoors_k = (self.outdoor_point_c - self.metal_c)[:end]
        begins_h = _crosses_h(self.hours, below_k, begin)
        wets = outdoors_k > 0.0
        wets_h = _crosses_h(self.hours, outdoors_k, int(np.argmax(wets))) if wets.any() else inf
        gone = self.film_g_m2[end:] <= film_gone_g_m2
        return DewAhead(
            begins_h=begins_h,
            ends_h=_crosses_h(self.hours, below_k, end) if end < self.hours.size else inf,
            dry_h=float(self.hours[end + int(np.argmax(gone))]) if gone.any() else inf,
            outdoors_h=min(wets_h, begins_h),
            film_g_m2=float(self.film_g_m2[begin:end].max()),
            metal_c=float(self.metal_c[worst]),
            point_c=float(self.point_c[worst]),
        )


def _crosses_h(hours: Floats, values: Floats, at: int) -> float:
    """When a course that runs straight between its values passes 0 on the way to one of them."""
    if at == 0:
        return float(hours[0])
    before, after = float(values[at - 1]), float(values[at])
    part = before / (before - after) if before != after else 1.0
    return float(hours[at - 1] + part * (hours[at] - hours[at - 1]))


def hours_until_turns(
    hours: Floats, metal_c: Floats, point_c: Floats, film_g_m2: Floats, film_gone_g_m2: float
) -> tuple[float, float, float]:
    """Hours until nothing condenses, until a film is gone, until dew; inf: not within these."""
    below = metal_c < point_c

    def first_hour(where: NDArray[np.bool_]) -> float:
        return float(hours[int(np.argmax(where))]) if where.any() else inf

    return first_hour(~below), first_hour(film_g_m2 <= film_gone_g_m2), first_hour(below)


def air_ahead(
    air: SpaceAir, night: Tonight, coming: ComingAir, *, floor_takes: bool = False
) -> tuple[Floats, Floats]:
    """Air of one space along the coming hours, with its doors shut.

    Parameters
    ----------
    air : SpaceAir
        Its humidity is known.
    night : Tonight
    coming : ComingAir
    floor_takes : bool
        Whether a building's floor takes of the water that comes in, as it does if it is bare.

    Returns
    -------
    (ndarray, ndarray), each of shape (n,)
        Temperature [°C] and relative humidity [%]. Outdoors the forecast, set to what this
        space's own sensors say now. A building without heat follows by its lag, and any building
        takes the outdoor air's water in by its air change.
    """
    mean_c, dew_c = float(air.mean_c[-1]), float(air.dew_point_c[-1])
    if air.space.kind in OUTDOORS:
        ahead_c = coming.air_c + (mean_c - coming.air_c[0])
        dews_c = coming.dew_point_c + (dew_c - coming.dew_point_c[0])
        return ahead_c, np.clip(relative_humidity(ahead_c, np.minimum(dews_c, ahead_c)), 0.0, 100.0)
    ahead_c = np.full(coming.hours.size, mean_c)
    if air.space.kind is SpaceKind.COLD or night.heat_is_lost:
        building = night.building or building_alone(air)
        ahead_c[1:] = unheated_air_series(building, mean_c, coming.air_c, coming.hours[1:])
    inside_pa = vapour_let_in(
        coming.hours,
        saturation_pressure_water(coming.dew_point_c),
        _SHUT_CHANGES_H[air.space.kind],
        float(saturation_pressure_water(dew_c)),
        float(saturation_pressure_water(_floor_c(air, night))) if floor_takes else inf,
    )
    return ahead_c, np.clip(100.0 * inside_pa / saturation_pressure_water(ahead_c), 0.0, 100.0)


def _floor_c(air: SpaceAir, night: Tonight) -> float:
    """A building's floor now: as its air has it, else the mean of all hours known [°C]."""
    if night.building is not None and night.building.floor is not None:
        return night.building.floor.now_c
    return float(np.nanmean(air.mean_c))


def vapour_let_in(
    hours: Floats, outside_pa: Floats, changes_h: float, now_pa: float, floor_pa: float
) -> Floats:
    """Vapour pressure of a building's air: what its air change brings, less what its floor takes.

    Parameters
    ----------
    hours, outside_pa : ndarray, shape (n,)
        After now, and the vapour pressure outdoors then [Pa].
    changes_h : float
        Air changes [1/h].
    now_pa, floor_pa : float
        In its air now; saturated at its floor [Pa], ``inf`` for a floor that takes nothing.

    Returns
    -------
    ndarray, shape (n,)
        [Pa]. A floor only takes: what a damp one gives back is not known.
    """
    found = np.empty(hours.size)
    found[0] = now_pa
    steps_h = np.diff(hours)
    for at, (step_h, comes_pa) in enumerate(zip(steps_h, outside_pa[1:], strict=True), start=1):
        before_pa = found[at - 1]
        found[at] = comes_pa + (before_pa - comes_pa) * np.exp(-changes_h * step_h)
        if before_pa > floor_pa:
            rate_h = changes_h + _FLOOR_TAKES_H
            aim_pa = (changes_h * comes_pa + _FLOOR_TAKES_H * floor_pa) / rate_h
            taken_pa = aim_pa + (before_pa - aim_pa) * np.exp(-rate_h * step_h)
            # Air that gets drier than the floor within the step is left alone from then on.
            found[at] = min(found[at], taken_pa)
    return found
