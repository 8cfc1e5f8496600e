"""Sensors of one space that contradict each other by more than its air can differ."""

from datetime import datetime, timedelta

import numpy as np

from monitor.judgement.air.grid import STEP_H, SpaceAir
from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.facts import SensingFacts
from monitor.yard.space import OUTDOORS, Yard
from monitor.yard.sun import night_hours_of

DOUBT_K = 4.0  # sensors of one space that differ by more are looked at (common practice, no source)
_HOUR = timedelta(hours=1)


def judge_disagreement(air: SpaceAir, yard: Yard) -> list[Assessment]:
    """Judge whether the sensors of one space agree.

    Parameters
    ----------
    air : SpaceAir
    yard : Yard

    Returns
    -------
    list of Assessment
        One where they differed by more than 4 K all through the last hour, else none; none by
        day in spaces that the sun reaches.
    """
    space = air.space
    apart_k = disagreement_k(air)
    # By day the sun warms one sensor and not the other.
    if apart_k <= DOUBT_K or (space.kind in OUTDOORS and _sun_was_up(air.now, yard)):
        return []
    return [
        Assessment(
            subject=Subject(space.id),
            hazard=Hazard.SENSING,
            standing=Standing.APART,
            at=air.now,
            facts=SensingFacts(apart_k=apart_k),
            calls_for_act=True,
            urgency=Urgency.UNKNOWN,
            severity=Severity.MINOR,
            certainty=Certainty.POSSIBLE,
        )
    ]


def disagreement_k(air: SpaceAir) -> float:
    """Least difference between a space's sensors during the last hour [K]."""
    hour = slice(-round(1.0 / STEP_H), None)
    difference = air.warmest_c[hour] - air.air_c[hour]
    known = difference[np.isfinite(difference)]
    return float(known.min()) if known.size else 0.0


def _sun_was_up(now: datetime, yard: Yard) -> bool:
    """Whether the sun shone in the last hour, or in the one before, which the air still shows."""
    evening = (now - timedelta(hours=12)).astimezone(yard.zone).date()
    night = night_hours_of(evening, yard)
    return not (night.sunset <= now - 2 * _HOUR and now <= night.sunrise)
