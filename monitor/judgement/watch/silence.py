"""Judges silence: time since each sensor's newest reading against its usual interval."""

from collections.abc import Iterable
from datetime import datetime, timedelta

import numpy as np

from monitor.clock import from_ms, to_ms
from monitor.judgement.air.grid import SpaceAir
from monitor.judgement.air.last_heard import ChannelPace, SensorPace, silence_standing
from monitor.judgement.air.own_nights import Tonight
from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.facts import ForecastFacts, SilenceFacts
from monitor.yard.forecast import STALE_AFTER, ForecastAsking
from monitor.yard.reading import Channel
from monitor.yard.space import Mount, Sensor, Yard

PART = "public forecast"
_TRIES = 6  # in a row, each later than the one before: half an hour and more without a first answer

_COLD_C = 3.0  # air at or below which a blind space cannot wait


def judge_silence(
    sensor: Sensor,
    pace: SensorPace | None,
    missing: ChannelPace | None,
    air: SpaceAir,
    night: Tonight | None,
    now: datetime,
) -> Assessment:
    """Judge one sensor by when it, and each channel that it sends, was last heard.

    Parameters
    ----------
    sensor : Sensor
    pace : SensorPace or None
        By readings of any flag, for a bad reading is a sign of life; None: never heard.
    missing : ChannelPace or None
        A channel that it has stopped sending while it sends others.
    air, night
        The sensor's space: silence in a cold one is urgent.
    now : datetime

    Returns
    -------
    Assessment
        Steady, late or silent. The margin is NaN: seconds are no kelvin.
    """
    subject = Subject(air.space.id, sensor.craft or "", sensor.name)
    if pace is None:
        return _assess_silence(subject, Standing.SILENT, now, SilenceFacts(mount=sensor.mount))
    quiet_s = pace.quiet_s(now)
    standing = silence_standing(quiet_s, pace.interval_s, promised=pace.promised)
    facts = SilenceFacts(
        mount=sensor.mount,
        heard_at=from_ms(pace.last_ms),
        quiet_s=quiet_s,
        interval_s=pace.interval_s,
        promised=pace.promised,
    )
    if missing is not None and standing is not Standing.SILENT:
        standing = Standing.SILENT
        facts = SilenceFacts(
            mount=sensor.mount,
            heard_at=from_ms(missing.last_ms),
            quiet_s=(to_ms(now) - missing.last_ms) / 1000.0,
            interval_s=missing.interval_s,
            channel=missing.channel,
        )
    cold = np.isfinite(air.now_c) and air.now_c <= _COLD_C
    coming = night is not None and night.low_c <= 0.0
    return _assess_silence(
        subject,
        standing,
        now,
        facts,
        # Without humidity or a charge the frost is judged as before. Were it urgent, the silence of
        # the whole sensor would be no news any more.
        urgent=facts.channel in {None, Channel.TEMPERATURE}
        and bool(cold or coming or not air.is_known),
    )


def _assess_silence(
    subject: Subject,
    standing: Standing,
    at: datetime,
    facts: SilenceFacts,
    *,
    urgent: bool = True,
) -> Assessment:
    silent = standing is Standing.SILENT
    # What a silent maintainer leaves of the charge is the judgement of its battery: in a night
    # that threatens it that one presses, and on all others it is looked at by day.
    soon = silent and urgent and facts.mount is not Mount.BATTERY
    return Assessment(
        subject=subject,
        hazard=Hazard.SILENCE,
        standing=standing,
        at=at,
        facts=facts,
        calls_for_act=silent,
        urgency=Urgency.IMMEDIATE if soon else Urgency.EXPECTED if silent else Urgency.FUTURE,
        severity=Severity.MODERATE if soon else Severity.MINOR,
        certainty=Certainty.OBSERVED,
    )


def silent_channels_before(earlier: Iterable[Assessment]) -> dict[str, ChannelPace]:
    """The channels that sensors had stopped sending in the round before, by sensor."""
    return {
        each.subject.part: ChannelPace(
            channel=each.facts.channel,
            last_ms=to_ms(each.facts.heard_at),
            interval_s=each.facts.interval_s,
        )
        for each in earlier
        if isinstance(each.facts, SilenceFacts)
        and each.facts.channel is not None
        and each.facts.heard_at is not None
    }


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
