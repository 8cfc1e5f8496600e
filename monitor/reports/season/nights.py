"""Every night of a craft's winter: what was expected of it, what came, and what the craft held."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import isfinite, isnan
from typing import NamedTuple

import numpy as np

from monitor.clock import from_ms
from monitor.craft.circuit import Circuit
from monitor.craft.protection import Protection
from monitor.phrases.standings import place_of
from monitor.reports.season.figures import Kept, NightVerdict, SeasonNight
from monitor.reports.season.night_hours import NightRows, NightSpan
from monitor.reports.season.space_hours import AirAround, Floats, Hours
from monitor.store.standing_history import StandingChange
from monitor.yard.forecast import SaidNight
from monitor.yard.standing import Hazard, Standing

NEAR_K = 2.0  # as the judgement's margin: sensor, gradient in the space, and the lag's own error
HEARD_ENOUGH = 0.8  # share of a night's hours; as for what is kept of what a night came to
_NOTHING_READ_C = 0.5  # stands for the air of a night without a reading
_ICED = frozenset({Standing.ICING, Standing.SOLID})


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftNights:
    """What the nights of one craft are made of."""

    kept: Sequence[Kept]
    around: AirAround
    circuits: Sequence[Circuit]
    inside_c: Mapping[str, Floats]  # lowest of each hour, by circuit
    probed: frozenset[str]  # circuits of which it was read
    held_at: Callable[[datetime], Mapping[str, Protection]]
    standings: Sequence[StandingChange]  # of the craft, in time order
    said: Mapping[tuple[str, date], SaidNight]


def season_nights(rows: NightRows, hours: Hours, craft: CraftNights) -> list[SeasonNight]:
    """Each night of which a craft stood in the yard for half at least, in order."""
    stood = _stood_through(rows.spans, craft.kept)
    around = craft.around
    lowest = rows.where_lowest(around.low_c)
    lows_c = np.where(lowest < 0, np.nan, around.low_c[lowest])
    heard_h = rows.sum_hours(around.heard * hours.length_h).tolist()
    low_ms, known_lows_c = hours.begin_ms[lowest].tolist(), lows_c.tolist()
    low_at = {
        one.n: None if isnan(known_lows_c[one.n]) else from_ms(low_ms[one.n]) for one in stood
    }
    held = {
        one.n: craft.held_at(
            low_at[one.n] or one.span.since + (one.span.until - one.span.since) / 2
        )
        for one in stood
    }
    least = _least_rooms(craft, rows, held, lows_c)
    standings = _standings_by_night([one.span for one in stood], craft.standings)
    return [
        _one_night(
            one,
            low_at[one.n],
            _known(known_lows_c[one.n]),
            min(heard_h[one.n] / one.due_h, 1.0),
            craft.said.get((one.space, one.span.evening)),
            standings[one.span.evening],
            least.get(one.n),
            probed=craft.probed,
            known=bool(held[one.n]),
        )
        for one in stood
    ]


@dataclass(frozen=True, slots=True)
class _NightStood:
    """A night of which a craft stood in the yard for half at least."""

    n: int  # among all nights
    span: NightSpan
    space: str  # where it stood last
    due_h: float  # hours it stood


def _stood_through(spans: Sequence[NightSpan], kept: Sequence[Kept]) -> list[_NightStood]:
    found, first, hour = [], 0, timedelta(hours=1)
    for n, span in enumerate(spans):
        since, until = span.since, span.until
        while first < len(kept) and kept[first].until <= since:
            first += 1
        if first == len(kept):
            break
        here = kept[first]
        if here.since <= since and here.until >= until:
            found.append(_NightStood(n, span, here.space, (until - since) / hour))
            continue
        stays = [one for one in kept[first:] if one.since < until and one.until > since]
        stood = sum((min(one.until, until) - max(one.since, since) for one in stays), timedelta())
        if stays and stood * 2 >= until - since:
            found.append(_NightStood(n, span, stays[-1].space, stood / hour))
    return found


def _one_night(
    night: _NightStood,
    low_at: datetime | None,
    low_c: float | None,
    heard: float,
    said: SaidNight | None,
    standings: "_NightStandings",
    least: "_Least | None",
    *,
    probed: frozenset[str],
    known: bool,
) -> SeasonNight:
    worst = min(standings.held, key=lambda one: place_of(Hazard.FROST, one), default=None)
    return SeasonNight(
        evening=night.span.evening,
        space=night.space,
        heard=heard,
        low_c=low_c,
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
        is_probed=least is not None and least.protection.circuit in probed,
        worst_standing=worst,
        verdict=_verdict(standings, least, heard, known=known),
    )


@dataclass(frozen=True, slots=True)
class _Least:
    """The circuit with the least room in one night."""

    protection: Protection
    inside_c: float | None  # lowest; None: not known
    coldest_c: float | None  # of the inside, else of the air


def _least_rooms(
    craft: CraftNights,
    rows: NightRows,
    held: Mapping[int, Mapping[str, Protection]],
    air_lows_c: Floats,
) -> dict[int, _Least]:
    """Of each night the circuit that came nearest to its damage, else to its first ice.

    A night is left out when no circuit could freeze. What the circuits held is one mapping from
    one piece of work to the next, so the nights between two of them are compared at once.
    """
    found: dict[int, _Least] = {}
    inside_c = _inside_lows(craft, rows)
    unknown = np.full(len(rows.spans), np.nan)
    alike: dict[int, list[int]] = {}
    for n, one in held.items():
        alike.setdefault(id(one), []).append(n)
    for several in alike.values():
        of_held = held[several[0]].values()
        circuits = [one for one in of_held if isfinite(one.ice_point_c)]
        if not circuits:
            continue
        inside = np.array([inside_c.get(one.circuit, unknown)[several] for one in circuits])
        # A body that is not known all night is as cold as the air was.
        coldest = np.where(np.isnan(inside), air_lows_c[several], inside)
        # Without any reading the circuit that freezes first stands for the craft.
        judged = np.where(np.isnan(coldest), _NOTHING_READ_C, coldest)
        to_damage = judged - np.array([[one.burst_point_c] for one in circuits])
        to_ice = judged - np.array([[one.ice_point_c] for one in circuits])
        passed = np.where(to_damage <= 0.0, to_damage, np.inf)
        nearest = np.where(np.isinf(passed).all(axis=0), to_ice.argmin(0), passed.argmin(0))
        column = np.arange(len(several))
        for n, which, within, cold in zip(
            several,
            nearest.tolist(),
            inside[nearest, column].tolist(),
            coldest[nearest, column].tolist(),
            strict=True,
        ):
            found[n] = _Least(circuits[which], _known(within), _known(cold))
    return found


def _inside_lows(craft: CraftNights, rows: NightRows) -> dict[str, Floats]:
    """Lowest of each night inside each circuit; of a body that was read, of the hours known."""
    by_course: dict[int, Floats] = {}  # circuits of one lag share their course
    found = {}
    for circuit, course in craft.inside_c.items():
        if circuit in craft.probed:
            found[circuit] = rows.lows_known(course)
            continue
        if id(course) not in by_course:
            by_course[id(course)] = rows.lows_all_known(course)
        found[circuit] = by_course[id(course)]
    return found


def _known(value: float) -> float | None:
    return None if isnan(value) else value


def _room_k(one: _Least, limit_c: float) -> float:
    return (_NOTHING_READ_C if one.coldest_c is None else one.coldest_c) - limit_c


def _verdict(
    standings: "_NightStandings", least: _Least | None, heard: float, *, known: bool
) -> NightVerdict:
    """How the night is told; a part that was not heard never makes it better."""
    if standings.held & _ICED or standings.became_suspect:
        return NightVerdict.ICE
    coldest_c = None if least is None else least.coldest_c
    if least is not None and coldest_c is not None and coldest_c <= least.protection.burst_point_c:
        return NightVerdict.PASSED
    if heard < HEARD_ENOUGH or not known:
        return NightVerdict.NOT_KNOWN
    near = least is not None and _room_k(least, least.protection.ice_point_c) <= NEAR_K
    if near or Standing.EXPOSED in standings.held:
        return NightVerdict.NEAR
    return NightVerdict.HELD


class _NightStandings(NamedTuple):
    """What the circuits of a craft stood at during one night."""

    held: frozenset[Standing]
    became_suspect: bool  # ice that was computed afterwards, as of readings that came late


def _standings_by_night(
    spans: Sequence[NightSpan], changes: Sequence[StandingChange]
) -> dict[date, _NightStandings]:
    """What any circuit stood at during each night: as it began, and each change in it."""
    frost = [one for one in changes if one.hazard is Hazard.FROST]
    standing: dict[str, Standing] = {}
    found, n = {}, 0
    for span in spans:
        while n < len(frost) and frost[n].at < span.since:
            standing[frost[n].part] = frost[n].standing
            n += 1
        within, suspect = set(standing.values()), False
        while n < len(frost) and frost[n].at < span.until:
            before, after = standing.get(frost[n].part), frost[n].standing
            suspect |= after is Standing.SUSPECT and before is not Standing.SUSPECT
            standing[frost[n].part] = after
            within.add(after)
            n += 1
        found[span.evening] = _NightStandings(frozenset(within), suspect)
    return found
