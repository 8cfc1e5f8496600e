"""What sweats: every bare metal surface of a space against what its air would leave on it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import inf, isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.craft.stored import StoredCraft, Surface
from monitor.judgement.air import Floats, SpaceAir
from monitor.judgement.sky import sky_loss
from monitor.judgement.speech import Speech, sentence
from monitor.judgement.tonight import Tonight
from monitor.physics.lag import lag_response
from monitor.physics.moist_air import condensation_point, relative_humidity, surface_humidity
from monitor.physics.wetness import (
    WET_HUMIDITY_PCT,
    condensation_rate,
    film_coefficient,
    film_course,
)
from monitor.yard.assessment import (
    Assessment,
    Caution,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.space import SpaceKind

_GUESS_SHARE = 0.1
_OUTDOORS = frozenset({SpaceKind.OPEN, SpaceKind.WRAPPED})
_STRIDE = 3  # films are followed each half hour
_DRY_G_M2 = 1.0  # less than a breath on glass
_SOON_STEPS = 4  # two hours, in which a film that is worth an act has begun
_FILM_G_M2 = 5.0  # a film that wets; less is a grey bloom that dries by itself (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Damp:
    """What the metal of one space goes through: one row a distinct surface."""

    metal_c: Floats  # (m, n) past and coming
    share: Floats  # (m,) weight of the unknown start, now
    film_g_m2: Floats  # (m, n)
    point_c: Floats  # (n,) dew or frost point; ahead: if the air keeps its water
    hours: Floats  # (n,) relative to now
    present: int


def judge_damp(
    air: SpaceAir,
    night: Tonight | None,
    craft: Sequence[StoredCraft],
    probes_c: dict[tuple[str, str], float],
    speech: Speech,
) -> list[Assessment]:
    """Judge every surface of the craft that stand in this space.

    Parameters
    ----------
    air : SpaceAir
    night : Tonight or None
    craft : sequence of StoredCraft
        Those of this space.
    probes_c : dict
        What a probe on the metal reads now, by craft and surface.
    speech : Speech

    Returns
    -------
    list of Assessment
        One a surface. The metal follows the air with the long end of its time constant,
        because that keeps it cold, and so wet, for longest.
    """
    wanted = [(each, surface) for each in craft for surface in each.surfaces]
    if not wanted:
        return []
    if night is None or not isfinite(air.condensation_c[-1]):
        return [_not_known(air, each, surface) for each, surface in wanted]
    kinds = sorted({(surface.lag_high_h, surface.length_m) for _, surface in wanted})
    damp = follow(air, night, kinds, speech)
    verdicts: dict[tuple[object, ...], dict[str, Any]] = {}
    judged = []
    for each, surface in wanted:
        probe_c = probes_c.get((each.id, surface.id))
        row = kinds.index((surface.lag_high_h, surface.length_m))
        key = (row, surface.name, probe_c)
        if key not in verdicts:
            verdicts[key] = _verdict(air, damp, row, surface, probe_c, speech)
        judged.append(
            Assessment(
                subject=Subject(each.space, each.id, surface.id),
                hazard=Hazard.DAMP,
                at=air.now,
                **verdicts[key],
            )
        )
    return judged


def follow(
    air: SpaceAir, night: Tonight, kinds: Sequence[tuple[float, float]], speech: Speech
) -> Damp:
    """Follow metal and the water on it through the space's past and coming air.

    Parameters
    ----------
    kinds : sequence of (float, float)
        Time constant [h] and height [m] of each distinct surface.

    Notes
    -----
    Ahead the air keeps the water that it holds now, as far as it can at its temperature, and
    indoors its temperature too. The film comes from the Lewis relation; wind and fans would
    speed both wetting and drying up.
    """
    pick = np.arange(air.hours.size - 1, -1, -_STRIDE)[::-1]
    hours = np.concatenate([air.hours[pick], night.hours[_STRIDE - 1 :: _STRIDE]])
    present = pick.size - 1
    course_c = night.cold_c[_STRIDE - 1 :: _STRIDE]
    # Under the sky the night's own cold brings dew; indoors a front's air stays for hours.
    mean_c = float(air.mean_c[-1])
    outdoors = air.space.kind in _OUTDOORS
    ahead_c = course_c + mean_c - air.now_c if outdoors else np.full_like(course_c, mean_c)
    around = np.concatenate([air.mean_c[pick], ahead_c])
    dew_c = np.concatenate([air.dew_point_c[pick], np.full(ahead_c.size, air.dew_point_c[-1])])
    rh = np.clip(relative_humidity(around, np.minimum(dew_c, around)), 0.0, 100.0)
    point = condensation_point(around, rh)
    point[: present + 1] = air.condensation_c[pick]
    beside = around - sky_loss(air, hours, speech.yard)
    response = lag_response(hours, beside, [lag for lag, _ in kinds])
    heights = np.array([height for _, height in kinds])[:, None]
    metal = response.body_c
    coefficient = film_coefficient(np.maximum(np.abs(around - metal), 0.5), heights)
    film = film_course(hours, condensation_rate(around, rh, metal, coefficient))
    return Damp(
        metal_c=metal,
        share=response.unknown_share[:, present],
        film_g_m2=film,
        point_c=point,
        hours=hours,
        present=present,
    )


def _verdict(
    air: SpaceAir, damp: Damp, row: int, surface: Surface, probe_c: float | None, speech: Speech
) -> dict[str, Any]:
    present = damp.present
    metal_c = float(damp.metal_c[row, present]) if probe_c is None else probe_c
    point_c, air_c = float(damp.point_c[present]), float(air.mean_c[-1])
    film = float(damp.film_g_m2[row, present])
    coming = float(damp.film_g_m2[row, present : present + _SOON_STEPS + 1].max())
    standing = _standing(air, metal_c, point_c, coming)
    wet = standing in {Standing.SWEATING, Standing.FROSTING}
    clear_h, dry_h, first_h = _ahead(damp, row)
    surface_rh = min(float(surface_humidity(air_c, float(air.rh_pct[-1]), metal_c)), 200.0)
    name = "frost point" if point_c < 0.0 else "dew point"
    how = "by its probe" if probe_c is not None else f"by a lag of {surface.lag_high_h:g} h"
    basis = sentence(
        f"{surface.name} at {speech.temperature(metal_c)} {how};",
        f"{name} of the air in {air.space.name} {speech.temperature(point_c)}",
        f"(air {speech.temperature(air_c)}, {air.rh_pct[-1]:.0f} % RH).",
        f"About {film:.0f} g of water on each square metre." if film > _DRY_G_M2 else "",
    )
    deadline = air.now if wet else _after(air.now, first_h)
    guess = float(damp.share[row]) if probe_c is None else 0.0
    likely = Certainty.POSSIBLE if guess > _GUESS_SHARE else Certainty.LIKELY
    figures = {
        "air_rh_pct": float(air.rh_pct[-1]),
        "surface_rh_pct": surface_rh,
        "lag_h": surface.lag_high_h,
        "film_g_m2": film,
        "clear_in_h": clear_h if wet else inf,
        "dry_in_h": dry_h if film > _DRY_G_M2 else inf,
    }
    return {
        "standing": standing,
        "basis": basis,
        "act": _act(standing, air, _after(air.now, clear_h), speech),
        "now_c": metal_c,
        "limit_c": point_c,
        "margin_k": metal_c - point_c,
        "deadline": deadline,
        "ends": _after(air.now, dry_h) if wet or film > _DRY_G_M2 else None,
        "urgency": Urgency.IMMEDIATE if wet else Urgency.FUTURE,
        "severity": Severity.MODERATE if wet and film > _FILM_G_M2 else Severity.MINOR,
        "certainty": Certainty.OBSERVED if probe_c is not None else likely,
        "cautions": (Caution.HEATERS,) if wet else (),
        "figures": {key: value for key, value in figures.items() if isfinite(value)},
    }


def _ahead(damp: Damp, row: int) -> tuple[float, float, float]:
    """Hours until nothing more condenses, until the film is gone, until first dew; inf: not yet."""
    ahead = slice(damp.present, None)
    hours = damp.hours[ahead]
    below = damp.metal_c[row, ahead] < damp.point_c[ahead]
    film = damp.film_g_m2[row, ahead]
    clear = np.flatnonzero(~below)
    dry = np.flatnonzero(film <= _DRY_G_M2)
    first = np.flatnonzero(below)

    def hour(found: NDArray[np.intp]) -> float:
        return float(hours[int(found[0])]) if found.size else inf

    return hour(clear), hour(dry), hour(first)


def _standing(air: SpaceAir, metal_c: float, point_c: float, coming_g_m2: float) -> Standing:
    # Two sensors of ±3 % RH are half a kelvin of dew point: what leaves no film is within that.
    if metal_c < point_c and coming_g_m2 > _DRY_G_M2:
        return Standing.FROSTING if metal_c < 0.0 else Standing.SWEATING
    if air.rh_pct[-1] > WET_HUMIDITY_PCT and air.warmest_c[-1] > 0.0:
        return Standing.WETTING
    return Standing.DRY


def _after(now: datetime, hours: float) -> datetime | None:
    return now + timedelta(hours=hours) if isfinite(hours) else None


def _act(standing: Standing, air: SpaceAir, clear_at: datetime | None, speech: Speech) -> str:
    if standing not in {Standing.SWEATING, Standing.FROSTING}:
        return ""
    if air.space.kind is SpaceKind.OPEN:
        return ""  # dew and rime under the sky are the weather's: nothing to do about them
    if air.space.kind in _OUTDOORS:
        return (
            "Keep covers vented and their lee side open; dry and spray bare metal when it is over."
        )
    until = f", about {speech.clock(clear_at)} if the air stays as it is" if clear_at else ""
    return (
        f"Keep the doors of {air.space.name} shut until the metal has passed the dew point"
        f"{until}; move the air with fans or warm the metal, do not air the space."
    )


def _not_known(air: SpaceAir, each: StoredCraft, surface: Surface) -> Assessment:
    missing = "humidity" if air.known else "air"
    return Assessment(
        subject=Subject(each.space, each.id, surface.id),
        hazard=Hazard.DAMP,
        standing=Standing.NOT_KNOWN,
        at=air.now,
        basis=f"{surface.name}: no {missing} reading from {air.space.name} for two hours.",
        severity=Severity.MINOR,
    )
