"""Judges loss of mains in a warm space: mains off, or all its sensors silent at once."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

import numpy as np

from monitor.clock import from_ms
from monitor.craft.protection import LayupState
from monitor.craft.stored import StoredCraft
from monitor.judgement.air.grid import Traces
from monitor.judgement.air.last_heard import SensorPace, mains_said
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
from monitor.yard.facts import Outage, PowerFacts
from monitor.yard.space import WARM, Mount, Sensor, Yard

_OVERDUE_INTERVALS = 1.5  # one message of each may be lost; not of all of them at once
_OVERDUE_S = 300.0  # a gateway that starts anew is back by then
_TOGETHER_INTERVALS = 1.5  # last heard within so many intervals of each other: one cause
_FRESH = timedelta(minutes=30)


def judge_power(
    yard: Yard,
    craft: Mapping[str, Sequence[StoredCraft]],
    traces: Traces,
    paces: Mapping[str, SensorPace | None],
    now: datetime,
) -> list[Assessment]:
    """Judge every warm space that holds craft which only its heat keeps.

    Parameters
    ----------
    yard : Yard
    craft : mapping of sequence of StoredCraft by space
    traces : mapping
        Readings by sensor and channel.
    paces : mapping of SensorPace by sensor
        By readings of any flag, for a bad reading is a sign of life; None: never heard.
    now : datetime

    Returns
    -------
    list of Assessment
        Cut off where its mains are said to be off, where all its sensors, two at the least, fell
        silent together, or where every sensor of the yard did; not known where none of its
        sensors was heard in four days; steady else. The margin is NaN: what is left of the heat
        the space's own judgement tells, as long as it is heard.
    """
    warm = [
        space
        for space in yard.spaces
        if space.kind in WARM and any(_needs_heat(each) for each in craft.get(space.id, ()))
    ]
    if not warm:
        return []
    yard_silent_ms = _silent_since(list(yard.sensors), paces, now)
    judged = []
    for space in warm:
        sensors = [each for each in yard.sensors if each.space == space.id]
        off_at = _mains_off(sensors, traces, now)
        facts = _power_facts(sensors, paces, off_at, yard_silent_ms, now)
        known = any(paces[each.name] is not None for each in sensors)
        judged.append(_assess_power(space.id, facts, now, known=known))
    return judged


def _power_facts(
    sensors: Sequence[Sensor],
    paces: Mapping[str, SensorPace | None],
    off_at: datetime | None,
    yard_silent_ms: int | None,
    now: datetime,
) -> PowerFacts:
    """What shows that a space has lost its mains; ``yard_silent_ms``: since when all are silent."""
    if off_at is not None:
        return PowerFacts(outage=Outage.MAINS_OFF, since=off_at)
    if yard_silent_ms is not None:
        return PowerFacts(outage=Outage.YARD_SILENT, since=from_ms(yard_silent_ms))
    silent_ms = _silent_since(sensors, paces, now)
    if silent_ms is not None:
        since = from_ms(silent_ms)
        return PowerFacts(outage=Outage.SPACE_SILENT, since=since, sensors=len(sensors))
    if sensors and all(paces[each.name] is None for each in sensors):
        return PowerFacts(outage=Outage.NEVER_HEARD)
    return PowerFacts(outage=Outage.NONE)


def _assess_power(space: str, facts: PowerFacts, now: datetime, *, known: bool) -> Assessment:
    cut = facts.since is not None
    return Assessment(
        subject=Subject(space),
        hazard=Hazard.POWER,
        standing=Standing.CUT_OFF if cut else Standing.STEADY if known else Standing.NOT_KNOWN,
        at=now,
        facts=facts,
        calls_for_act=cut,
        urgency=Urgency.IMMEDIATE if cut else Urgency.FUTURE,
        severity=Severity.SEVERE if cut else Severity.MINOR,
        certainty=Certainty.OBSERVED if known else Certainty.UNKNOWN,
        cautions=(Caution.HEATERS, Caution.CARBON_MONOXIDE) if cut else (),
    )


def _needs_heat(craft: StoredCraft) -> bool:
    return any(each.state is not LayupState.PROVEN for each in craft.protection.values())


def _is_overdue(pace: SensorPace, now: datetime) -> bool:
    return pace.quiet_s(now) > max(_OVERDUE_INTERVALS * pace.interval_s, _OVERDUE_S)


def _silent_since(
    sensors: Sequence[Sensor], paces: Mapping[str, SensorPace | None], now: datetime
) -> int | None:
    """Since when all of these are silent, if they fell silent together; None else.

    One that was never heard in these days says nothing. A single one is an own matter.
    """
    known = [one for each in sensors if (one := paces[each.name]) is not None]
    if len(known) < 2 or not all(_is_overdue(one, now) for one in known):
        return None
    last = np.array([one.last_ms for one in known])
    slowest_ms = 1000.0 * max(max(one.interval_s for one in known), _OVERDUE_S)
    return int(last.max()) if np.ptp(last) <= _TOGETHER_INTERVALS * slowest_ms else None


def _mains_off(sensors: Sequence[Sensor], traces: Traces, now: datetime) -> datetime | None:
    """When mains were last said to be off: by the space's own monitor, or by every maintainer.

    One maintainer of several without mains is its own plug or fuse.
    """
    own: list[tuple[datetime, bool]] = []
    fed: list[tuple[datetime, bool]] = []
    for sensor in sensors:
        said = mains_said(sensor, traces, now)
        if said is not None and now - from_ms(said[0]) <= _FRESH:
            at_ms, on = said
            (fed if sensor.mount is Mount.BATTERY else own).append((from_ms(at_ms), on))
    if any(not on for _, on in own):
        return max(at for at, on in own if not on)
    if len(fed) > 1 and not own and not any(on for _, on in fed):
        return max(at for at, _ in fed)
    return None
