"""What sweats: every bare metal surface of a space against what its air would leave on it."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from math import inf, isfinite, log

import numpy as np

from monitor.craft.stored import StoredCraft, Surface
from monitor.judgement.air import SpaceAir
from monitor.judgement.bay import WET_RH_PCT
from monitor.judgement.sky import sky_loss
from monitor.judgement.speech import Speech, sentence
from monitor.physics.lag import lag_response
from monitor.yard.assessment import (
    Assessment,
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


def judge_damp(
    air: SpaceAir,
    craft: Sequence[StoredCraft],
    probes_c: dict[tuple[str, str], float],
    speech: Speech,
) -> list[Assessment]:
    """Judge every surface of the craft that stand in this space.

    Parameters
    ----------
    air : SpaceAir
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
    if not (air.known and isfinite(air.condensation_c[-1])):
        return [_not_known(air, each, surface) for each, surface in wanted]
    around = air.air_c - sky_loss(air.space.kind, air.hours, air.now, speech.yard)
    lags, row = np.unique([surface.lag_high_h for _, surface in wanted], return_inverse=True)
    response = lag_response(air.hours, around, lags)
    metal = response.body_c[row, -1]
    share = response.unknown_share[row, -1]
    judged = []
    for index, (each, surface) in enumerate(wanted):
        probe_c = probes_c.get((each.id, surface.id))
        metal_c = float(metal[index]) if probe_c is None else probe_c
        guess = float(share[index]) if probe_c is None else 0.0
        judged.append(_judge(air, each, surface, metal_c, guess, probe_c is not None, speech))
    return judged


def _judge(
    air: SpaceAir,
    each: StoredCraft,
    surface: Surface,
    metal_c: float,
    share: float,
    is_probed: bool,
    speech: Speech,
) -> Assessment:
    point_c = float(air.condensation_c[-1])
    standing = _standing(air, metal_c, point_c)
    wet = standing in {Standing.SWEATING, Standing.FROSTING}
    clear_h = (
        _clear_h(metal_c, float(air.warmest_c[-1]), point_c, surface.lag_high_h) if wet else inf
    )
    name = "frost point" if point_c < 0.0 else "dew point"
    how = "by its probe" if is_probed else f"by a lag of {surface.lag_high_h:g} h"
    basis = sentence(
        f"{surface.name} at {speech.temperature(metal_c)} {how};",
        f"{name} of the air in {air.space.name} {speech.temperature(point_c)}",
        f"(air {speech.temperature(float(air.warmest_c[-1]))}, {air.rh_pct[-1]:.0f} % RH).",
    )
    ends = air.now + timedelta(hours=clear_h) if isfinite(clear_h) else None
    return Assessment(
        subject=Subject(each.space, each.id, surface.id),
        hazard=Hazard.DAMP,
        standing=standing,
        at=air.now,
        basis=basis,
        act=_act(standing, air, ends, speech),
        now_c=metal_c,
        limit_c=point_c,
        margin_k=metal_c - point_c,
        deadline=air.now if wet else None,
        ends=ends,
        urgency=Urgency.IMMEDIATE if wet else Urgency.FUTURE,
        severity=Severity.MODERATE if wet else Severity.MINOR,
        certainty=(
            Certainty.OBSERVED
            if is_probed
            else Certainty.POSSIBLE
            if share > _GUESS_SHARE
            else Certainty.LIKELY
        ),
        figures={"air_rh_pct": float(air.rh_pct[-1]), "lag_h": surface.lag_high_h},
    )


def _standing(air: SpaceAir, metal_c: float, point_c: float) -> Standing:
    if metal_c < point_c:
        return Standing.FROSTING if metal_c < 0.0 else Standing.SWEATING
    if air.rh_pct[-1] > WET_RH_PCT and air.warmest_c[-1] > 0.0:
        return Standing.WETTING
    return Standing.DRY


def _clear_h(metal_c: float, air_c: float, point_c: float, lag_h: float) -> float:
    """Hours until the metal passes the point where nothing more condenses, if the air stays."""
    if air_c <= point_c or metal_c >= point_c:
        return inf
    return lag_h * log((air_c - metal_c) / (air_c - point_c))


def _act(standing: Standing, air: SpaceAir, ends: datetime | None, speech: Speech) -> str:
    if standing not in {Standing.SWEATING, Standing.FROSTING}:
        return ""
    if air.space.kind in _OUTDOORS:
        return (
            "Keep covers vented and closed against the wind; dry and spray bare metal afterwards."
        )
    until = f", about {speech.clock(ends)} if the air stays as it is" if ends else ""
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
