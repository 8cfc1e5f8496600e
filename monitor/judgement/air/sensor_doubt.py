"""Sensors that are named because what they say cannot be the air's, or not of their place."""

from collections.abc import Iterable, Sequence
from datetime import datetime

import numpy as np

from monitor.clock import to_ms
from monitor.judgement.air.exchanged_sensors import Exchanged, ExchangeEvidence
from monitor.judgement.air.grid import MS_PER_H, Floats, SpaceAir
from monitor.judgement.air.humidity_doubt import Doubt
from monitor.judgement.air.stuck_thermometers import StuckThermometer
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

# An agency's dew point errs by 2 to 3 K for half a day where it misses a front, not for two days.
_OFF_H = 48
_OFF_K = 5.0
_NEARLY_ALL_PCT = 20.0  # four hours of five are off by more
_WHOLE = 0.8  # share of a stretch that must be known


def judge_doubts(
    air: SpaceAir, exchanged: Sequence[ExchangeEvidence], at: datetime
) -> list[Assessment]:
    """One judgement for each sensor of a space whose humidity or temperature is in doubt.

    Parameters
    ----------
    air : SpaceAir
    exchanged : sequence of ExchangeEvidence
        Of the whole yard; told of the first of both spaces.
    at : datetime
        Aware.
    """
    judged = [
        judge_doubtful(air.space.id, name, at, _facts(doubt), Certainty.LIKELY)
        for name, doubt in sorted(air.doubts.items())
    ]
    for one in exchanged:
        if one.pair.space == air.space.id:
            facts = DoubtFacts(
                fault=SensorFault.EXCHANGED,
                hours=one.since_h,
                apart_k=one.apart_k,
                other=one.pair.other_sensor,
                other_space=one.pair.other_space,
                carried=one.carried,
            )
            judged.append(judge_doubtful(air.space.id, one.pair.sensor, at, facts))
            break
    return judged


def exchanged_before(earlier: Iterable[Assessment]) -> frozenset[Exchanged]:
    """Spaces whose sensors the round before took for exchanged."""
    return frozenset(
        Exchanged(one.subject.space, one.subject.part, one.facts.other_space, one.facts.other)
        for one in earlier
        if isinstance(one.facts, DoubtFacts) and one.facts.fault is SensorFault.EXCHANGED
    )


def stuck_before(earlier: Iterable[Assessment]) -> frozenset[StuckThermometer]:
    """Thermometers that the round before found to stay while the others fell."""
    return frozenset(
        StuckThermometer(
            space=one.subject.space,
            sensor=one.subject.part,
            other=one.facts.other,
            since_ms=round(to_ms(one.at) - one.facts.hours * MS_PER_H),
            usual_k=one.facts.usual_k,
            apart_k=one.facts.apart_k,
        )
        for one in earlier
        if isinstance(one.facts, DoubtFacts) and one.facts.fault is SensorFault.STUCK
    )


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


def _facts(doubt: Doubt) -> DoubtFacts:
    return DoubtFacts(
        fault=doubt.fault,
        hours=doubt.hours,
        air_range_k=doubt.air_range_k,
        low_pct=doubt.low_pct,
        high_pct=doubt.high_pct,
        apart_k=doubt.apart_k,
        usual_k=doubt.usual_k,
        other=doubt.other,
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
