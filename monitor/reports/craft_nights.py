"""The air around one craft hour by hour, the inside of its weakest circuit, and its past nights."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from monitor.clock import to_ms
from monitor.craft.craft_stays import Stay
from monitor.physics.lag import lag_response
from monitor.reports.air import read_hourly_air
from monitor.store.store import Transaction
from monitor.yard.assessment import Assessment
from monitor.yard.frost_facts import FrostFacts
from monitor.yard.hourly import HOUR_MS
from monitor.yard.reading import Channel
from monitor.yard.space import Mount, Sensor, Yard, sensors_of_place

Floats = NDArray[np.float64]
NIGHT_BEGINS = time(15)
_NIGHT_H = 20  # from the afternoon to the next day's late morning
_GUESSED = 0.1  # share of an unknown start from which a body is not known


@dataclass(frozen=True, slots=True, kw_only=True)
class HourlyCourse:
    """Temperatures hour by hour, arrays of one length; NaN where they are not known."""

    at_ms: NDArray[np.int64]  # the middle of each hour
    air_c: Floats
    inside_c: Floats
    is_probed: bool = False  # the inside is read, not computed


@dataclass(frozen=True, slots=True, kw_only=True)
class PastNight:
    """One night of a craft, named by its evening; None where nothing is known."""

    evening: date
    space: str
    air_low_c: float | None
    inside_low_c: float | None


def weakest_circuit(circuits: Sequence[Assessment]) -> Assessment | None:
    """The circuit that the cold reaches first; None where nothing of the craft can freeze."""
    liable = [each for each in circuits if isfinite(each.limit_c)]
    return liable[0] if liable else None


def read_craft_course(
    tx: Transaction,
    yard: Yard,
    stays: Sequence[Stay],
    weakest: Assessment | None,
    since: datetime,
    until: datetime,
) -> HourlyCourse:
    """Read the air around a craft where it stood hour by hour, and follow a circuit through it.

    Parameters
    ----------
    tx : Transaction
    yard : Yard
    stays : sequence of Stay
        Where it stood, in order.
    weakest : Assessment or None
        Whose inside is followed: by its probe where it has one, else by its lag behind the air.
    since, until : datetime
    """
    first, last = to_ms(since) // HOUR_MS * HOUR_MS, to_ms(until)
    at_ms = np.arange(first, last, HOUR_MS, dtype=np.int64) + HOUR_MS // 2
    air_c = np.full(at_ms.shape, np.nan)
    for space, begins, ends in _stretches(stays, since, until):
        known = next((each for each in yard.spaces if each.id == space), None)
        if known is None:
            continue
        aligned = datetime.fromtimestamp(to_ms(begins) // HOUR_MS * HOUR_MS / 1000, begins.tzinfo)
        read = read_hourly_air(tx, replace(yard, spaces=(known,)), aligned, ends)[space]
        place = np.searchsorted(at_ms, read.at_ms)
        fits = (place < at_ms.size) & (at_ms[place.clip(max=at_ms.size - 1)] == read.at_ms)
        air_c[place[fits]] = read.coldest_c[fits]
    probes = [] if weakest is None else _probes_of(yard, weakest)
    if probes:
        return HourlyCourse(
            at_ms=at_ms, air_c=air_c, inside_c=_hours_of(tx, probes, at_ms), is_probed=True
        )
    return HourlyCourse(at_ms=at_ms, air_c=air_c, inside_c=_follow(at_ms, air_c, weakest))


def past_nights(
    course: HourlyCourse, stays: Sequence[Stay], yard: Yard, until: datetime
) -> list[PastNight]:
    """Each whole night of a course with its lowest air and inside, the newest first."""
    if not course.at_ms.size:
        return []
    zone = yard.zone
    evening = datetime.fromtimestamp(course.at_ms[0] / 1000, zone).date()
    found = []
    while (begins := datetime.combine(evening, NIGHT_BEGINS, zone)) < until:
        ends = begins + timedelta(hours=_NIGHT_H)
        first, last = np.searchsorted(course.at_ms, [to_ms(begins), to_ms(ends)])
        if ends <= until and last > first:
            stood = _place_at(stays, ends)
            found.append(
                PastNight(
                    evening=evening,
                    space=stood,
                    air_low_c=_lowest(course.air_c[first:last]),
                    inside_low_c=_lowest(course.inside_c[first:last]),
                )
            )
        evening += timedelta(days=1)
    return found[::-1]


def _stretches(
    stays: Sequence[Stay], since: datetime, until: datetime
) -> list[tuple[str, datetime, datetime]]:
    """Spaces in which a craft stood between two times, each with its beginning and end."""
    ordered = sorted(stays, key=lambda one: one.since)
    ends = [(one, other.since) for one, other in pairwise(ordered)]
    if ordered:
        ends.append((ordered[-1], until))
    cut = [(one.space, max(one.since, since), min(end, until)) for one, end in ends]
    return [each for each in cut if each[1] < each[2]]


def _place_at(stays: Sequence[Stay], at: datetime) -> str:
    begun = [one for one in stays if one.since <= at]
    return max(begun, key=lambda one: one.since).space if begun else ""


def _probes_of(yard: Yard, weakest: Assessment) -> list[Sensor]:
    """What probes a circuit now, and did so before; empty where nothing does now."""
    craft, part = weakest.subject.craft, weakest.subject.part
    found = [
        each
        for each in sensors_of_place(yard)
        if each.mount is Mount.SURFACE and each.craft == craft and each.circuit == part
    ]
    return found if any(each.until is None for each in found) else []


def _hours_of(tx: Transaction, probes: Sequence[Sensor], at_ms: NDArray[np.int64]) -> Floats:
    """Means of the hours in which one of the probes hung there; of several the coldest."""
    found = np.full(at_ms.shape, np.nan)
    if not at_ms.size:
        return found
    begins = at_ms - HOUR_MS // 2
    names = list(dict.fromkeys(one.sent_as for one in probes))
    hours = tx.rollups.hours_between(names, int(begins[0]), int(begins[-1]) + HOUR_MS)
    for probe in probes:
        read = hours[probe.sent_as, Channel.TEMPERATURE].cut_between(*probe.span_ms)
        place = np.searchsorted(begins, read.hour_ms)
        found[place] = np.fmin(found[place], read.mean)
    return found
    begins = at_ms - HOUR_MS // 2
    hours = tx.rollups.hours_between([probe.name], int(begins[0]), int(begins[-1]) + HOUR_MS)
    read = hours[probe.name, Channel.TEMPERATURE]
    place = np.searchsorted(begins, read.hour_ms)
    found[place] = read.mean
    return found


def _follow(at_ms: NDArray[np.int64], air_c: Floats, weakest: Assessment | None) -> Floats:
    facts = None if weakest is None else weakest.facts
    if not isinstance(facts, FrostFacts) or not facts.lag_h > 0.0 or at_ms.size < 2:
        return np.full(at_ms.shape, np.nan)
    return lag_response((at_ms - at_ms[0]) / HOUR_MS, air_c, facts.lag_h).where_known(_GUESSED)


def _lowest(values_c: Floats) -> float | None:
    seen = values_c[~np.isnan(values_c)]
    return float(seen.min()) if seen.size else None
