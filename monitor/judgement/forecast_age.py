"""Whether the public forecast is still fresh enough to plan a night by."""

from datetime import timedelta

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
from monitor.yard.forecast import STALE_AFTER, ForecastAsking

PART = "public forecast"
_TRIES = 6  # in a row, each later than the one before: half an hour and more without a first answer


def judge_forecast(asking: ForecastAsking, speech: Speech) -> Assessment:
    """Judge how old the forecast at hand is; only for a yard that has configured one.

    Parameters
    ----------
    asking : ForecastAsking
        How asking for it went.
    speech : Speech

    Returns
    -------
    Assessment
        Of the yard itself. Stale when no answer within twelve hours said that it is the newest,
        and when six tries in a row brought none at all. The lows go on by the yard's own
        readings, as they do without any forecast.
    """
    age = asking.age(speech.now)
    never = age is None and asking.failures >= _TRIES
    stale = never or (age is not None and age > STALE_AFTER)
    if age is None:
        told = "No public forecast has come yet."
    else:
        told = f"The public forecast was last the newest {age / timedelta(hours=1):.0f} h ago."
    why = f" Last answer: {asking.problem.rstrip('. ')}." if asking.problem else ""
    return Assessment(
        subject=Subject(speech.yard.id, "", PART),
        hazard=Hazard.FORECAST,
        standing=Standing.STALE if stale else Standing.STEADY,
        at=speech.now,
        basis=f"{told}{why} Tonight's lows rest on the yard's own readings."
        if stale
        else f"{told}{why}",
        act=(
            "Look at the sky and at a forecast yourself, and see to the way out to the internet."
            if stale
            else ""
        ),
        urgency=Urgency.EXPECTED if stale else Urgency.FUTURE,
        severity=Severity.MINOR,
        certainty=Certainty.OBSERVED,
    )
