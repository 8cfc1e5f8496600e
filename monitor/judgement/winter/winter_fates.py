"""Every circuit of a yard followed through a winter, as a round follows it through one night.

The same lags, courses of the sky, errors of a mix and latent heat: only the air is a winter's, and
known from its first hour to its last, so that no error of a forecast is in it.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from math import inf, isfinite
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.craft.circuit import Circuit
from monitor.craft.plan.step import JobStep
from monitor.craft.protection import Basis, LayupState
from monitor.craft.stored import StoredCraft
from monitor.judgement.air.ensemble import MEMBERS, bands_of, early_hours, room_at
from monitor.judgement.air.grid import Floats
from monitor.judgement.air.lagged_members import follow_members, lags_of
from monitor.judgement.craft_job import KnownPlans
from monitor.judgement.frost.act import planned_low
from monitor.judgement.frost.cooling import latent_kelvins
from monitor.judgement.frost.frost_case import body_of
from monitor.judgement.frost.ice_so_far import Body
from monitor.judgement.frost.members import Water, freeze_members
from monitor.judgement.winter.winter_air import WinterNights
from monitor.yard.hard_winter import (
    CircuitWinter,
    CraftWinter,
    SpaceWinter,
    WinterOutcome,
    WinterWeather,
)
from monitor.yard.losses import LIKELY, act_from, chance_of_loss
from monitor.yard.space import WARM, Yard

# At once: a whole winter of more of them would not stay in a processor's cache.
_RANGES, _BODIES = 8, 24
_FIRST_ICE_SHARE = chance_of_loss(1.0, 0.0)
_LIQUID_C = 0.5  # the coldest at which water is surely none

Part = tuple[str, str]  # a craft's id and one of its circuits'
SpaceAirs = Mapping[str, tuple[SpaceWinter, Floats]]  # by space: what it rests on, and its air


class Fate(NamedTuple):
    """What becomes of one kind of circuit in every member; each of shape (members,)."""

    low_c: Floats
    room_k: Floats  # of that low over its first crystals, rising
    due_h: Floats  # when its ice counts: the first of water, a third of a mix; inf: never
    third_h: Floats
    lost: Floats  # weight of what it loses by: 1 for a third of ice, a tenth for less in water


Fates = dict[tuple[str, Body], Fate]  # by space and kind of circuit


def bodies_by_space(craft: Iterable[StoredCraft]) -> dict[str, list[Body]]:
    """The distinct kinds of circuit in each space; those seen dry have nothing to follow."""
    found: dict[str, dict[Body, None]] = {}
    for each in craft:
        for circuit in each.circuits:
            body = _body_in(each, circuit)
            if body is not None:
                found.setdefault(each.space, {})[body] = None
    return {space: list(bodies) for space, bodies in found.items()}


def _body_in(craft: StoredCraft, circuit: Circuit) -> Body | None:
    held = craft.protection[circuit.id]
    if held.basis is Basis.DRAINED:
        return None
    return body_of(circuit, held, -inf, "")


def follow_winter(
    airs: SpaceAirs,
    bodies: Mapping[str, Sequence[Body]],
    weather: WinterWeather,
    nights: WinterNights,
    tell: Callable[[str], None] = lambda _: None,
) -> Fates:
    """Follow every kind of circuit of every space through a winter.

    Parameters
    ----------
    airs : mapping by space
    bodies : mapping of Body by space
        See `bodies_by_space`.
    weather : WinterWeather
    nights : WinterNights
    tell : callable, optional
        Called with the id of each space before it is followed.

    Returns
    -------
    dict
        By space and body.

    Notes
    -----
    The work grows with the distinct kinds of circuit in each space, and memory with none of them.
    """
    fates: Fates = {}
    for space, wanted in bodies.items():
        tell(space)
        told, air_c = airs[space]
        around_c = nights.around_craft(told.space, air_c, _dew_beside(air_c, weather))
        for some in _in_parts(wanted):
            for body, fate in zip(some, _fates(around_c, some, weather, nights), strict=True):
                fates[space, body] = fate
    return fates


def _dew_beside(air_c: Floats, weather: WinterWeather) -> Floats:
    """The dew point beside a space's own air: no more water in it than it can hold."""
    return np.minimum(weather.dew_point_c, air_c)


def _in_parts(wanted: Sequence[Body]) -> Iterable[list[Body]]:
    """Bodies that are followed at once: of few ranges of lags, and few of them."""
    ranges: dict[tuple[float, float], list[Body]] = {}
    for body in wanted:
        ranges.setdefault((body.lag_low_h, body.lag_high_h), []).append(body)
    part: list[Body] = []
    count = 0
    for alike in ranges.values():
        for begin in range(0, len(alike), _BODIES):
            some = alike[begin : begin + _BODIES]
            if part and (len(part) + len(some) > _BODIES or count >= _RANGES):
                yield part
                part, count = [], 0
            part, count = [*part, *some], count + 1
    if part:
        yield part


def _fates(
    around_c: Floats, bodies: Sequence[Body], weather: WinterWeather, nights: WinterNights
) -> list[Fate]:
    draws, hours = nights.of_craft, weather.hours
    ranges = list(dict.fromkeys((body.lag_low_h, body.lag_high_h) for body in bodies))
    row = np.array([ranges.index((body.lag_low_h, body.lag_high_h)) for body in bodies])
    lag_h = np.array([lags_of(low, high, draws) for low, high in ranges])
    one_air: NDArray[np.intp] = np.zeros(len(ranges), dtype=np.intp)
    # What is in ice now is suspect; all else is liquid, and goes into the winter as cold as it can.
    start_c = np.broadcast_to(np.maximum(around_c[:, 0], _LIQUID_C), lag_h.shape)
    liquid_c = follow_members(hours, around_c[None], one_air, start_c, lag_h)
    water = Water(
        ice_point_c=np.array([body.ice_point_c for body in bodies]),
        locked_c=np.array([body.locked_c for body in bodies]),
        weaker_k=np.array([body.weaker_k for body in bodies]),
        misread_k=np.array([body.misread_k for body in bodies]),
        latent_k=np.array([latent_kelvins(body) for body in bodies]),
        ice=np.zeros((len(bodies), MEMBERS)),
    )
    found = freeze_members(hours, around_c[None], one_air, liquid_c, lag_h, row, water, [draws])
    mixed = np.array([body.is_mixed for body in bodies])[:, None]
    third = np.isfinite(found.third_h)
    little = np.where(np.isfinite(found.first_ice_h) & ~mixed, _FIRST_ICE_SHARE, 0.0)
    lost = np.where(third, 1.0, little)
    rooms_k = np.sort(found.ice_room_k, axis=1)
    return [
        Fate(*each)
        for each in zip(found.low_c, rooms_k, found.locked_h, found.third_h, lost, strict=True)
    ]


def judge_craft(
    yard: Yard,
    craft: Sequence[StoredCraft],
    weather: WinterWeather,
    fates: Fates,
    if_unread_cold: Fates,
    suspect: Mapping[Part, datetime],
) -> tuple[CraftWinter, ...]:
    """What becomes of every craft, and the job that saves it; those in danger first.

    Parameters
    ----------
    yard : Yard
    craft : sequence of StoredCraft
    weather : WinterWeather
    fates : Fates
        With hours that the weather does not have taken as what lies between those around them.
    if_unread_cold : Fates
        With these hours as cold as is counted on; the same where none is missing.
    suspect : mapping of datetime by part
        What has been through ice, when last; nobody has looked since.
    """
    circuits: dict[tuple[object, ...], CircuitWinter] = {}
    plans = KnownPlans(at_most=8192)
    found = []
    for each in craft:
        told = tuple(
            _circuit_winter(each, one, yard, weather, fates, if_unread_cold, suspect, circuits)
            for one in each.circuits
        )
        found.append(_craft_winter(each, told, yard, plans, suspect))
    return tuple(sorted(found, key=_turn_of))


def _circuit_winter(
    craft: StoredCraft,
    circuit: Circuit,
    yard: Yard,
    weather: WinterWeather,
    fates: Fates,
    if_unread_cold: Fates,
    suspect: Mapping[Part, datetime],
    known: dict[tuple[object, ...], CircuitWinter],
) -> CircuitWinter:
    held, body = craft.protection[circuit.id], _body_in(craft, circuit)
    is_suspect = (craft.id, circuit.id) in suspect or held.suspect_since is not None
    in_heat = any(one.id == craft.space and one.kind in WARM for one in yard.spaces)
    warm = in_heat and held.state is not LayupState.PROVEN
    from_chance = act_from(yard.losses.of_circuit(circuit))
    key = (craft.space, body, is_suspect, warm, from_chance, held.ice_point_c)
    if key not in known:
        plain = CircuitWinter(
            circuit="",
            name="",
            outcome=WinterOutcome.SUSPECT if is_suspect else WinterOutcome.HOLDS,
            act_from_chance=from_chance,
            ice_point_c=held.ice_point_c,
            lost_share=np.zeros(MEMBERS),
        )
        if body is not None:
            here = craft.space, body
            plain = _with_fate(plain, fates[here], if_unread_cold[here], weather, warm=warm)
        known[key] = plain
    return replace(known[key], circuit=circuit.id, name=circuit.name)


def _with_fate(
    told: CircuitWinter, fate: Fate, if_cold: Fate, weather: WinterWeather, *, warm: bool
) -> CircuitWinter:
    chance, unread = (float(each.lost.mean()) for each in (fate, if_cold))
    outcome = _outcome_of(chance, max(unread, chance), told.act_from_chance, warm=warm)
    rising_c = np.sort(fate.low_c)
    deciding = if_cold if outcome is WinterOutcome.NOT_KNOWN else fate
    early_h = float(early_hours(deciding.due_h))
    return replace(
        told,
        outcome=told.outcome if told.outcome is WinterOutcome.SUSPECT else outcome,
        chance=chance,
        chance_unread=max(unread, chance),
        low_c=float(np.median(rising_c)),
        cold_low_c=float(bands_of(rising_c)[0]),
        job_low_c=float(bands_of(np.sort(deciding.low_c))[0]),
        room_k=room_at(fate.room_k, told.act_from_chance),
        due_at=weather.time_of(early_h) if isfinite(early_h) else None,
        likely_at=_likely_at(fate, weather),
        lost_share=fate.lost,
    )


def _outcome_of(
    chance: float, if_unread_cold: float, from_chance: float, *, warm: bool
) -> WinterOutcome:
    if chance > LIKELY:
        return WinterOutcome.LOST
    if chance >= from_chance:
        return WinterOutcome.AT_RISK
    if if_unread_cold >= from_chance:
        return WinterOutcome.NOT_KNOWN
    return WinterOutcome.BY_HEAT if warm else WinterOutcome.HOLDS


def _likely_at(fate: Fate, weather: WinterWeather) -> datetime | None:
    """When damage has become likelier than not; None: it never does."""
    if fate.lost.mean() <= LIKELY:
        return None
    little_h = np.where(fate.lost > 0.0, fate.due_h, inf)
    when_h = np.concatenate([little_h, fate.third_h])
    share = np.repeat([_FIRST_ICE_SHARE, 1.0 - _FIRST_ICE_SHARE], MEMBERS) / MEMBERS
    order = np.argsort(when_h, kind="stable")
    at = int(np.searchsorted(np.cumsum(share[order]), LIKELY, side="right"))
    when = float(when_h[order][min(at, when_h.size - 1)])
    return weather.time_of(when) if isfinite(when) else None


def _craft_winter(
    craft: StoredCraft,
    circuits: tuple[CircuitWinter, ...],
    yard: Yard,
    plans: KnownPlans,
    suspect: Mapping[Part, datetime],
) -> CraftWinter:
    worst = min(
        (one.outcome for one in circuits),
        key=list(WinterOutcome).index,
        default=WinterOutcome.HOLDS,
    )
    shares = [one.lost_share for one in circuits]
    chance = float(np.max(shares, axis=0).mean()) if shares else 0.0
    told = CraftWinter(
        craft=craft, outcome=worst, chance=chance, due_at=None, likely_at=None, circuits=circuits
    )
    danger = told.in_danger
    return replace(
        told,
        due_at=min((one.due_at for one in danger if one.due_at), default=None),
        likely_at=min((one.likely_at for one in danger if one.likely_at), default=None),
        steps=_saving_steps(craft, danger, yard, plans, suspect),
    )


def _saving_steps(
    craft: StoredCraft,
    danger: Sequence[CircuitWinter],
    yard: Yard,
    plans: KnownPlans,
    suspect: Mapping[Part, datetime],
) -> tuple[JobStep, ...]:
    """The job against the frost, for the coldest that its circuits in danger come to."""
    if not danger or craft.plan_start is None:
        return ()
    lows_c = [one.job_low_c for one in danger if isfinite(one.job_low_c)]
    iced = frozenset(one.circuit for one in danger if one.outcome is WinterOutcome.SUSPECT)
    start = replace(
        craft.plan_start,
        held={
            name: replace(one, suspect_since=one.suspect_since or suspect.get((craft.id, name)))
            for name, one in craft.protection.items()
        },
        low_c=planned_low(min(yard.design_low_c, *lows_c)),
        only=frozenset(one.circuit for one in danger),
        iced=iced | craft.plan_start.iced,
    )
    return plans.steps_from(start, yard)


def _turn_of(told: CraftWinter) -> tuple[object, ...]:
    """In the order of doing: what is due first, then what nobody knows; what stands last."""
    in_danger = bool(told.in_danger)
    due = told.due_at.timestamp() if told.due_at is not None and in_danger else inf
    rank = list(WinterOutcome).index(told.outcome)
    return (not in_danger, due, rank, -told.chance, told.craft.name.casefold(), told.craft.id)
