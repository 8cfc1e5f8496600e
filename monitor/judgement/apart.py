"""Sensors of one space that contradict each other by more than its air can differ."""

from datetime import timedelta

from monitor.judgement.air import SpaceAir
from monitor.judgement.bay import DOUBT_K, apart
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
from monitor.yard.space import SpaceKind

_SUNLIT = frozenset({SpaceKind.OPEN, SpaceKind.WRAPPED})  # by day the sun warms one, not the other
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
    if apart_k <= DOUBT_K or (space.kind in _SUNLIT and _sun_was_up(speech)):
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


def _sun_was_up(speech: Speech) -> bool:
    """Whether the sun shone in the last hour, or in the one before, which the air still shows."""
    then, now = speech.now - 2 * _HOUR, speech.now
    evening = (now - timedelta(hours=12)).astimezone(speech.yard.zone).date()
    night = dark_of(evening, speech.yard)
    return not (night.sunset <= then and now <= night.sunrise)
