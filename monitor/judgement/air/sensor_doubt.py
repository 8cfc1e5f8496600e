"""Sensors that are named because what they say cannot be the air's, or not of their place."""

from collections.abc import Mapping
from datetime import datetime

import numpy as np

from monitor.judgement.air.grid import Floats, SpaceAir
from monitor.judgement.air.humidity_doubt import Doubt
from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.facts import DoubtFacts, SensorFault
from monitor.yard.space import OUTDOORS, WARM

# A night and a day and again: by day a cold building may lag behind the weather, by night none is
# colder than it for long, and none swings more. No source: what a building cannot do.
_EXCHANGED_H = 48.0
_EXCHANGED_K = 2.0
_SWINGS_MORE = 1.5
# An agency's dew point errs by 2 to 3 K for half a day where it misses a front, not for two days.
_OFF_H = 48
_OFF_K = 5.0
_NEARLY_ALL_PCT = 20.0  # four hours of five are off by more
_WHOLE = 0.8  # share of a stretch that must be known


def judge_doubts(airs: Mapping[str, SpaceAir], space_id: str, at: datetime) -> list[Assessment]:
    """One judgement for each sensor of a space whose humidity or temperature is in doubt.

    Parameters
    ----------
    airs : mapping of SpaceAir by space
        The whole yard's: a warm space is held against those outdoors.
    space_id : str
    at : datetime
        Aware.
    """
    air = airs[space_id]
    judged = [
        judge_doubtful(space_id, name, at, _facts(doubt), Certainty.LIKELY)
        for name, doubt in sorted(air.doubts.items())
    ]
    for other in airs.values():
        apart_k = _colder_than_outdoors(air, other)
        if apart_k is not None:
            facts = DoubtFacts(
                fault=SensorFault.EXCHANGED,
                hours=_EXCHANGED_H,
                apart_k=apart_k,
                other=other.coldest,
                other_space=other.space.id,
            )
            judged.append(judge_doubtful(space_id, air.coldest, at, facts))
            break
    return judged


def judge_off_forecast(
    outside: SpaceAir | None, apart_k: Floats, source: str, at: datetime
) -> list[Assessment]:
    """Judge whether the dew point outdoors lies far from a public forecast's for two days.

    Parameters
    ----------
    outside : SpaceAir or None
    apart_k : ndarray, shape (hours,)
        Its dew point less what was expected of it, hour by hour up to now; NaN where not known.
    source : str
        Of the forecast.
    at : datetime
        Aware.
    """
    recent = apart_k[-_OFF_H:]
    known = recent[np.isfinite(recent)]
    if outside is None or outside.doubts or known.size < _WHOLE * _OFF_H:
        return []
    least_k = max(float(known.min()), -float(known.max()))  # all on one side
    if least_k < 0.0 or float(np.percentile(np.abs(known), _NEARLY_ALL_PCT)) < _OFF_K:
        return []
    facts = DoubtFacts(
        fault=SensorFault.OFF_FORECAST,
        hours=float(_OFF_H),
        apart_k=float(np.median(known)),
        source=source,
    )
    return [judge_doubtful(outside.space.id, outside.coldest, at, facts)]


def _colder_than_outdoors(air: SpaceAir, other: SpaceAir) -> float | None:
    """By how much at least a warm space is colder than the weather, if no building can be."""
    if air.space.kind not in WARM or other.space.kind not in OUTDOORS:
        return None
    recent = air.hours >= -_EXCHANGED_H
    inside, outside = air.mean_c[recent], other.mean_c[recent]
    known = np.isfinite(inside) & np.isfinite(outside)
    if known.sum() < _WHOLE * recent.sum():
        return None
    inside, outside = inside[known], outside[known]
    colder_k = float((outside - inside).min())
    if colder_k < _EXCHANGED_K or np.ptp(inside) < _SWINGS_MORE * np.ptp(outside):
        return None
    return colder_k


def _facts(doubt: Doubt) -> DoubtFacts:
    return DoubtFacts(
        fault=doubt.fault,
        hours=doubt.hours,
        air_range_k=doubt.air_range_k,
        low_pct=doubt.low_pct,
        high_pct=doubt.high_pct,
    )


def judge_doubtful(
    space_id: str,
    sensor: str,
    at: datetime,
    facts: DoubtFacts,
    certainty: Certainty = Certainty.POSSIBLE,
) -> Assessment:
    """The judgement of one sensor that is in doubt."""
    return Assessment(
        subject=Subject(space_id, part=sensor),
        hazard=Hazard.SENSING,
        standing=Standing.DOUBTED,
        at=at,
        facts=facts,
        calls_for_act=True,
        urgency=Urgency.UNKNOWN,
        severity=Severity.MINOR,
        certainty=certainty,
    )
