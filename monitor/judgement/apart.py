"""Sensors of one space that contradict each other by more than its air can differ."""

from datetime import timedelta

import numpy as np

from monitor.judgement.air import STEP_H, SpaceAir
from monitor.judgement.dark import dark_of
from monitor.judgement.speech import Speech
from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.space import OUTDOORS

DOUBT_K = 4.0  # sensors of one space that differ by more are looked at (common practice, no source)
_HOUR = timedelta(hours=1)


def judge_apart(air: SpaceAir, speech: Speech) -> list[Assessment]:
    """Judge whether the sensors of one space agree.

    Parameters
    ----------
    air : SpaceAir
    speech : Speech

    Returns
    -------
    list of Assessment
        One where they differed by more than 4 K all through the last hour, else none; none by
        day in spaces that the sun reaches.
    """
    space = air.space
    apart_k = apart(air)
    # By day the sun warms one sensor and not the other.
    if apart_k <= DOUBT_K or (space.kind in OUTDOORS and _sun_was_up(speech)):
        return []
    return [
        Assessment(
            subject=Subject(space.id),
            hazard=Hazard.SENSING,
            standing=Standing.APART,
            at=air.now,
            basis=(
                f"For an hour the sensors of {space.name} have differed by"
                f" {speech.difference(apart_k)} or more; the coldest of them decides what freezes."
            ),
            act=(
                f"Look where the sensors of {space.name} hang: sun, a jet of air, or one is wrong."
                " Compare them side by side."
            ),
            urgency=Urgency.UNKNOWN,
            severity=Severity.MINOR,
            certainty=Certainty.POSSIBLE,
            figures={"sensors_apart_k": apart_k},
        )
    ]


def apart(air: SpaceAir) -> float:
    """By how much a space's sensors have differed all through the last hour [K]."""
    hour = slice(-round(1.0 / STEP_H), None)
    difference = air.warmest_c[hour] - air.air_c[hour]
    known = difference[np.isfinite(difference)]
    return float(known.min()) if known.size else 0.0


def _sun_was_up(speech: Speech) -> bool:
    """Whether the sun shone in the last hour, or in the one before, which the air still shows."""
    then, now = speech.now - 2 * _HOUR, speech.now
    evening = (now - timedelta(hours=12)).astimezone(speech.yard.zone).date()
    night = dark_of(evening, speech.yard)
    return not (night.sunset <= then and now <= night.sunrise)
