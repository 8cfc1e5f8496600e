"""Every night of a craft's winter: what was expected of it, what came, and what the craft held."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from monitor.clock import from_ms
from monitor.craft.circuit import Circuit
from monitor.craft.protection import Protection
from monitor.phrases.standings import place_of
from monitor.reports.season.figures import Kept, NightVerdict, SeasonNight
from monitor.reports.season.space_hours import AirHours, Hours, SeasonAir
from monitor.store.standing_history import StandingChange
from monitor.yard.forecast import SaidNight
from monitor.yard.space import Yard
from monitor.yard.standing import Hazard, Standing

NEAR_K = 2.0  # as the judgement's margin: sensor, gradient in the space, and the lag's own error
HEARD_ENOUGH = 0.8  # share of a night's hours; as for what is kept of what a night came to
_NOON = time(12)
_ICED = frozenset({Standing.ICING, Standing.SOLID})
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class NightSpan:
    """One night of the yard, from noon to noon by its clock, with its hours."""

    evening: date
    since: datetime
    until: datetime
    hours: slice


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftNights:
    """What the nights of one craft are made of."""

    kept: Sequence[Kept]
    around: AirHours
    circuits: Sequence[Circuit]
    inside_c: Mapping[str, Floats]  # lowest of each hour, by circuit
    probed: frozenset[str]  # circuits of which it was read
    held_at: Callable[[datetime], Mapping[str, Protection]]
    standings: Sequence[StandingChange]  # of the craft, in time order
    said: Mapping[tuple[str, date], SaidNight]


def night_spans(hours: Hours, yard: Yard, since: datetime, until: datetime) -> list[NightSpan]:
    """Every night that ended within ``since <= at <= until``, at least half of it."""
    found: list[NightSpan] = []
    evening = since.astimezone(yard.zone).date() - timedelta(days=1)
    while True:
        begins, ends = (
            datetime.combine(evening + timedelta(days=n), _NOON, yard.zone).astimezone(UTC)
            for n in (0, 1)
        )
        if ends > until:
            return found
        if begins + (ends - begins) / 2 >= since:
            found.append(
                NightSpan(
                    evening=evening,
                    since=begins,
                    until=ends,
                    hours=hours.slice_between(max(begins, since), ends),
                )
            )
        evening += timedelta(days=1)


def inside_courses(
    air: SeasonAir, kept: Sequence[Kept], around: AirHours, circuits: Iterable[Circuit]
) -> dict[str, Floats]:
    """Lowest of each hour inside each circuit, by the short end of its lag behind the air."""
    by_lag: dict[float, Floats] = {}
    found = {}
    for circuit in circuits:
        lag_h = circuit.lag_low_h
        if lag_h not in by_lag:
            by_lag[lag_h] = air.body_c(kept, around, lag_h)
        found[circuit.id] = by_lag[lag_h]
    return found


def season_nights(
    spans: Sequence[NightSpan], hours: Hours, craft: CraftNights
) -> list[SeasonNight]:
    """Each night of which a craft stood in the yard for half at least, in order."""
    worst = _worst_standings(spans, craft.standings)
    found = []
    for span in spans:
        stays = [one for one in craft.kept if one.since < span.until and one.until > span.since]
        stood = sum(
            (min(one.until, span.until) - max(one.since, span.since) for one in stays), timedelta()
        )
        if stood * 2 >= span.until - span.since:
            due_h = stood / timedelta(hours=1)
            standings = worst[span.evening]
            found.append(_one_night(span, stays[-1].space, hours, craft, standings, due_h))
    return found


def _one_night(
    span: NightSpan,
    space: str,
    hours: Hours,
    craft: CraftNights,
    standings: frozenset[Standing],
    due_h: float,
) -> SeasonNight:
    low_c = craft.around.low_c[span.hours]
    heard_h = float((craft.around.heard[span.hours] * hours.length_h[span.hours]).sum())
    heard = min(heard_h / due_h, 1.0)
    coldest = None if np.isnan(low_c).all() else int(np.nanargmin(low_c))
    low_at = None if coldest is None else from_ms(int(hours.begin_ms[span.hours][coldest]))
    middle = span.since + (span.until - span.since) / 2
    held = craft.held_at(low_at or middle)
    least = _least_room(craft, span, held, None if coldest is None else float(low_c[coldest]))
    said = craft.said.get((space, span.evening))
    worst = min(standings, key=lambda one: place_of(Hazard.FROST, one), default=None)
    return SeasonNight(
        evening=span.evening,
        space=space,
        heard=heard,
        low_c=None if coldest is None else float(low_c[coldest]),
        low_at=low_at,
        expected_c=None if said is None else said.expected_c,
        cold_c=None if said is None else said.cold_c,
        warm_c=None if said is None else said.warm_c,
        chance_below_zero=None if said is None else said.below_zero,
        circuit="" if least is None else least.protection.circuit,
        ice_point_c=None if least is None else least.protection.ice_point_c,
        burst_point_c=None if least is None else least.protection.burst_point_c,
        state=None if least is None else least.protection.state,
        basis=None if least is None else least.protection.basis,
        inside_low_c=None if least is None else least.inside_c,
        is_probed=least is not None and least.protection.circuit in craft.probed,
        worst_standing=worst,
        verdict=_verdict(standings, least, heard, known=bool(held)),
    )


@dataclass(frozen=True, slots=True)
class _Least:
    """The circuit with the least room in one night."""

    protection: Protection
    inside_c: float | None  # lowest; None: not known
    coldest_c: float | None  # of the inside, else of the air


def _least_room(
    craft: CraftNights, span: NightSpan, held: Mapping[str, Protection], air_low_c: float | None
) -> _Least | None:
    """The circuit that came nearest to its damage, else to its first ice; None: none can freeze."""
    found = []
    for protection in held.values():
        if not isfinite(protection.ice_point_c):
            continue
        inside = craft.inside_c.get(protection.circuit)
        part = np.empty(0) if inside is None else inside[span.hours]
        # A body that is not known all night is as cold as the air was.
        inside_c = float(part.min()) if part.size and not np.isnan(part).any() else None
        if inside_c is None and protection.circuit in craft.probed and not np.isnan(part).all():
            inside_c = float(np.nanmin(part))
        found.append(_Least(protection, inside_c, air_low_c if inside_c is None else inside_c))
    if not found:
        return None
    passed = [one for one in found if _room_k(one, one.protection.burst_point_c) <= 0.0]
    if passed:
        return min(passed, key=lambda one: _room_k(one, one.protection.burst_point_c))
    return min(found, key=lambda one: _room_k(one, one.protection.ice_point_c))


def _room_k(one: _Least, limit_c: float) -> float:
    # Without any reading the circuit that freezes first stands for the craft.
    return (0.5 if one.coldest_c is None else one.coldest_c) - limit_c


def _verdict(
    standings: frozenset[Standing], least: _Least | None, heard: float, *, known: bool
) -> NightVerdict:
    """How the night is told; a part that was not heard never makes it better."""
    if standings & _ICED:
        return NightVerdict.ICE
    coldest_c = None if least is None else least.coldest_c
    if least is not None and coldest_c is not None and coldest_c <= least.protection.burst_point_c:
        return NightVerdict.PASSED
    if heard < HEARD_ENOUGH or not known:
        return NightVerdict.NOT_KNOWN
    near = least is not None and _room_k(least, least.protection.ice_point_c) <= NEAR_K
    if near or Standing.EXPOSED in standings:
        return NightVerdict.NEAR
    return NightVerdict.HELD


def _worst_standings(
    spans: Sequence[NightSpan], changes: Sequence[StandingChange]
) -> dict[date, frozenset[Standing]]:
    """What any circuit stood at during each night: as it began, and each change in it."""
    frost = [one for one in changes if one.hazard is Hazard.FROST]
    standing: dict[str, Standing] = {}
    found, n = {}, 0
    for span in spans:
        while n < len(frost) and frost[n].at < span.since:
            standing[frost[n].part] = frost[n].standing
            n += 1
        within = set(standing.values())
        while n < len(frost) and frost[n].at < span.until:
            standing[frost[n].part] = frost[n].standing
            within.add(frost[n].standing)
            n += 1
        found[span.evening] = frozenset(within)
    return found


def said_by_night(nights: Iterable[SaidNight]) -> dict[tuple[str, date], SaidNight]:
    """What was said of nights, by space and evening."""
    return {(one.space, one.evening): one for one in nights}
