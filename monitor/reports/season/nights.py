"""Every night of a craft's winter: what was expected of it, what came, and what the craft held."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite, isnan

import numpy as np

from monitor.craft.circuit import Circuit
from monitor.craft.protection import Protection
from monitor.phrases.standings import place_of
from monitor.reports.season.figures import Kept, NightVerdict, SeasonNight
from monitor.reports.season.night_hours import (
    NightAirs,
    NightRows,
    NightsStood,
    airs_of_nights,
    nights_stood,
)
from monitor.reports.season.shared_nights import Least, NightKey, NightStandings, SharedNights
from monitor.reports.season.space_hours import AirAround, Floats
from monitor.reports.season.work import HeldOverTime
from monitor.store.standing_history import StandingChange
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
    inside_lows_c: Mapping[str, Floats]  # lowest of each night, by circuit; NaN: not known
    probed: frozenset[str]  # circuits of which it was read
    held: HeldOverTime
    standings: Sequence[StandingChange]  # of the craft, in time order


def season_nights(shared: SharedNights, craft: CraftNights) -> list[SeasonNight]:
    """Each night of which a craft stood in the yard for half at least, in order.

    A night that it stood through in one space is one object with that of every craft to which the
    same happened.
    """
    stood = list(nights_stood(shared.rows, craft.kept))
    airs = [_airs_where_stood(shared, craft, one) for one in stood]
    numbers = [n for one in stood for n in one.nights]
    held = craft.held.held_at_each([at for air in airs for at in air.coldest_at])
    lows_c = [low for air in airs for low in air.low_c]
    least = _least_rooms(shared, craft, numbers, held, lows_c)
    standings = _standings_by_night(shared.rows, numbers, craft.standings)
    found: list[SeasonNight] = []
    for one, air in zip(stood, airs, strict=True):
        for row, n in enumerate(one.nights):
            place = len(found)
            key = (n, one.space, least[place], standings[place], bool(held[place]))
            if one.stood_h is not None:
                night = _one_night(shared, one, air, row, key)
            else:
                night = shared.find_night(key) or shared.keep_night(
                    key, _one_night(shared, one, air, row, key)
                )
            found.append(night)
    return found


def _airs_where_stood(shared: SharedNights, craft: CraftNights, stood: NightsStood) -> NightAirs:
    """The air of some nights; of a whole one that of the space, else of its own hours."""
    first, after = stood.nights.start, stood.nights.stop
    if stood.stood_h is None:
        return shared.airs_of_space(stood.space).cut_nights(first, after)
    rows = NightRows(shared.rows.spans[first:after])
    return airs_of_nights(rows, shared.air.hours, craft.around.low_c, craft.around.heard)


def _one_night(
    shared: SharedNights, stood: NightsStood, air: NightAirs, row: int, key: NightKey
) -> SeasonNight:
    n, space, least, standings, known = key
    span = shared.rows.spans[n]
    heard = min(air.heard_h[row] / (span.length_h if stood.stood_h is None else stood.stood_h), 1.0)
    said = shared.said.get((space, span.evening))
    held = None if least is None else least[0]
    return SeasonNight(
        evening=span.evening,
        space=space,
        heard=heard,
        low_c=air.low_c[row],
        low_at=air.low_at[row],
        expected_c=None if said is None else said.expected_c,
        cold_c=None if said is None else said.cold_c,
        warm_c=None if said is None else said.warm_c,
        chance_below_zero=None if said is None else said.below_zero,
        circuit="" if held is None else held.circuit,
        ice_point_c=None if held is None else held.ice_point_c,
        burst_point_c=None if held is None else held.burst_point_c,
        state=None if held is None else held.state,
        basis=None if held is None else held.basis,
        inside_low_c=None if least is None else least[1],
        is_probed=held is not None and held.is_probed,
        worst_standing=min(
            standings.held, key=lambda one: place_of(Hazard.FROST, one), default=None
        ),
        verdict=_verdict(standings, least, heard, known=known),
    )


def _least_rooms(
    shared: SharedNights,
    craft: CraftNights,
    numbers: Sequence[int],
    held: Sequence[Mapping[str, Protection]],
    air_lows_c: Sequence[float | None],
) -> list[Least | None]:
    """Of each night the circuit that came nearest to its damage, else to its first ice.

    None when no circuit could freeze. What the circuits held is one mapping from one piece of work
    to the next, so the nights between two of them are compared at once.
    """
    found: list[Least | None] = [None] * len(numbers)
    lows_c = np.array([np.nan if one is None else one for one in air_lows_c])
    unknown = np.full(len(shared.rows.spans), np.nan)
    alike: dict[int, list[int]] = {}
    for place, one in enumerate(held):
        alike.setdefault(id(one), []).append(place)
    for places in alike.values():
        of_held = held[places[0]].values()
        circuits = [one for one in of_held if isfinite(one.ice_point_c)]
        if not circuits:
            continue
        several = [numbers[place] for place in places]
        inside = np.array(
            [craft.inside_lows_c.get(one.circuit, unknown)[several] for one in circuits]
        )
        # A body that is not known all night is as cold as the air was.
        coldest = np.where(np.isnan(inside), lows_c[places], inside)
        # Without any reading the circuit that freezes first stands for the craft.
        judged = np.where(np.isnan(coldest), _NOTHING_READ_C, coldest)
        to_damage = judged - np.array([[one.burst_point_c] for one in circuits])
        to_ice = judged - np.array([[one.ice_point_c] for one in circuits])
        passed = np.where(to_damage <= 0.0, to_damage, np.inf)
        nearest = np.where(np.isinf(passed).all(axis=0), to_ice.argmin(0), passed.argmin(0))
        column = np.arange(len(places))
        told = [shared.share_held(one, is_probed=one.circuit in craft.probed) for one in circuits]
        for place, which, within, cold in zip(
            places,
            nearest.tolist(),
            inside[nearest, column].tolist(),
            coldest[nearest, column].tolist(),
            strict=True,
        ):
            found[place] = (
                told[which],
                None if isnan(within) else within,
                None if isnan(cold) else cold,
            )
    return found


def _verdict(
    standings: NightStandings, least: Least | None, heard: float, *, known: bool
) -> NightVerdict:
    """How the night is told; a part that was not heard never makes it better."""
    if standings.held & _ICED or standings.became_suspect:
        return NightVerdict.ICE
    held, _, coldest_c = least or (None, None, None)
    if held is not None and coldest_c is not None and coldest_c <= held.burst_point_c:
        return NightVerdict.PASSED
    if heard < HEARD_ENOUGH or not known:
        return NightVerdict.NOT_KNOWN
    cold_c = _NOTHING_READ_C if coldest_c is None else coldest_c
    near = held is not None and cold_c - held.ice_point_c <= NEAR_K
    if near or Standing.EXPOSED in standings.held:
        return NightVerdict.NEAR
    return NightVerdict.HELD


def _standings_by_night(
    rows: NightRows, numbers: Sequence[int], changes: Sequence[StandingChange]
) -> list[NightStandings]:
    """What any circuit stood at during each night: as it began, and each change in it."""
    frost = [one for one in changes if one.hazard is Hazard.FROST]
    standing: dict[str, Standing] = {}
    found, n = [], 0
    steady = NightStandings(frozenset(), False)  # of nights in which nothing changed
    for number in numbers:
        if n == len(frost) or frost[n].at >= rows.ends[number]:
            found.append(steady)
            continue
        while n < len(frost) and frost[n].at < rows.begins[number]:
            standing[frost[n].part] = frost[n].standing
            n += 1
        within, suspect = set(standing.values()), False
        while n < len(frost) and frost[n].at < rows.ends[number]:
            before, after = standing.get(frost[n].part), frost[n].standing
            suspect |= after is Standing.SUSPECT and before is not Standing.SUSPECT
            standing[frost[n].part] = after
            within.add(after)
            n += 1
        found.append(NightStandings(frozenset(within), suspect))
        steady = NightStandings(frozenset(standing.values()), False)
    return found
