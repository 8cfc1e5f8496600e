"""Whether the public forecast is still fresh enough to plan a night by."""

from datetime import datetime, timedelta

from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.facts import ForecastFacts
from monitor.yard.forecast import STALE_AFTER, ForecastAsking
from monitor.yard.space import Yard

PART = "public forecast"
_TRIES = 6  # in a row, each later than the one before: half an hour and more without a first answer


def judge_forecast(asking: ForecastAsking, yard: Yard, now: datetime) -> Assessment:
    """Judge how old the forecast at hand is; only for a yard that has configured one.

    Parameters
    ----------
    asking : ForecastAsking
        How asking for it went.
    yard : Yard
    now : datetime

    Returns
    -------
    Assessment
        Of the yard itself. Stale when no answer within twelve hours said that it is the newest,
        and when six tries in a row brought none at all. The lows go on by the yard's own
        readings, as they do without any forecast.
    """
    age = asking.age(now)
    never = age is None and asking.failures >= _TRIES
    stale = never or (age is not None and age > STALE_AFTER)
    return Assessment(
        subject=Subject(yard.id, "", PART),
        hazard=Hazard.FORECAST,
        standing=Standing.STALE if stale else Standing.STEADY,
        at=now,
        facts=ForecastFacts(
            age_h=None if age is None else age / timedelta(hours=1), problem=asking.problem
        ),
        calls_for_act=stale,
        urgency=Urgency.EXPECTED if stale else Urgency.FUTURE,
        severity=Severity.MINOR,
        certainty=Certainty.OBSERVED,
    )
