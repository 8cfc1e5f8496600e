"""Judges batteries: charge, maintainer, and the cold where each one stands."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import nan, sqrt

import numpy as np

from monitor.craft.stored import Battery, StoredCraft
from monitor.judgement.air.arrival import LaggedBody, follow_air, lagged_body
from monitor.judgement.air.driving_air import DrivingAir
from monitor.judgement.air.grid import SpaceAir, Traces
from monitor.judgement.air.lagged_members import follow_members, lags_of, start_temperatures
from monitor.judgement.battery.charge_by_record import last_heard
from monitor.judgement.battery.charge_heard import charge_heard
from monitor.judgement.battery.freezing import BatteryCold, battery_freezing
from monitor.judgement.battery.overcharge import judge_charging
from monitor.judgement.battery.verdict import verdict_on
from monitor.yard.assessment import Assessment, Standing
from monitor.yard.battery_facts import NOTHING_BEFORE, BatteryMemory
from monitor.yard.losses import act_from
from monitor.yard.space import Mount, Sensor, Yard

_THREATENED = frozenset({Standing.FREEZING, Standing.SUSPECT})
_SPREAD = (0.5, 0.125, 0.375, 0.625, 0.875)  # of a range of lags: the middle, then all over it


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryInputs:
    """What a yard's batteries are judged by."""

    yard: Yard
    airs: Mapping[str, SpaceAir]  # by space
    drives: Mapping[str, DrivingAir]  # by space; none where the air now is not known
    traces: Traces
    aboard: Mapping[str, Sequence[StoredCraft]]  # by the space where the craft stands
    batteries: Mapping[str, Sequence[StoredCraft]]  # by the space where the battery stands
    before: Mapping[str, BatteryMemory]  # by craft: what the last round remembered


def judge_batteries(inputs: BatteryInputs) -> list[Assessment]:
    """Judge the batteries of a yard, aboard or on a bench, and what their maintainers do to them.

    Parameters
    ----------
    inputs : BatteryInputs

    Returns
    -------
    list of Assessment
        One a battery: its limit and margin are those of the charge that may be left. And one of
        each maintainer that charges too hard (see `judge_charging`).
    """
    maintainers = {
        sensor.craft: sensor
        for sensor in inputs.yard.sensors
        if sensor.mount is Mount.BATTERY and sensor.craft is not None
    }
    judged: list[Assessment] = []
    for space, air in inputs.airs.items():
        owned = [
            (one, one.battery) for one in inputs.batteries.get(space, ()) if one.battery is not None
        ]
        bodies = [_body_of(air, battery) for _, battery in owned]
        colds = _battery_colds(inputs, space, bodies)
        judged += [
            _judge_battery(inputs, air, one, battery, maintainers.get(one.id), colds.get(body))
            for (one, battery), body in zip(owned, bodies, strict=True)
        ]
        aboard = inputs.aboard.get(space, ())
        judged += judge_charging(aboard, maintainers, inputs.traces, air.now)
    return judged


@dataclass(frozen=True, slots=True)
class _Body:
    """What distinguishes one battery from another as far as cold is concerned."""

    middle: LaggedBody
    low_h: float  # ends of the range of its time constant
    high_h: float


def _body_of(air: SpaceAir, battery: Battery) -> _Body:
    low_h, high_h = battery.lag_low_h, battery.lag_high_h
    middle = lagged_body(air, sqrt(low_h * high_h), battery.since, battery.came_from)
    return _Body(middle, low_h, high_h)


def _battery_colds(
    inputs: BatteryInputs, space: str, bodies: Sequence[_Body]
) -> dict[_Body, BatteryCold]:
    """Past of each distinct battery of a space, and all courses of its night; none if unknown."""
    drive = inputs.drives.get(space)
    distinct = list(dict.fromkeys(bodies))
    if drive is None or not distinct:
        return {}
    past = drive.past
    rows = [
        replace(body.middle, lag_h=body.low_h * (body.high_h / body.low_h) ** share)
        for body in distinct
        for share in _SPREAD
    ]
    body_c, unknown = follow_air(past.hours, past.air_c, rows, inputs.airs)
    lag_h = np.array([lags_of(body.low_h, body.high_h, drive.draws) for body in distinct])
    count = len(_SPREAD)
    start_c = np.array(
        [
            start_temperatures(
                body_c[row * count + 1 : (row + 1) * count, -1],
                unknown[row * count + 1 : (row + 1) * count, -1],
                drive.sky.ahead_k - drive.sky.middle_k,
                lag_h[row],
                drive.sky.dark_so_far_h,
                drive.draws,
            )
            for row in range(len(distinct))
        ]
    )
    alone = np.zeros(len(distinct), dtype=np.intp)
    ahead_c = follow_members(drive.ahead_h, drive.ahead_c[None], alone, start_c, lag_h)
    return {
        body: BatteryCold(drive=drive, past_c=body_c[row * count], ahead_c=ahead_c[row])
        for row, body in enumerate(distinct)
    }


def _judge_battery(
    inputs: BatteryInputs,
    air: SpaceAir,
    craft: StoredCraft,
    battery: Battery,
    maintainer: Sensor | None,
    cold: BatteryCold | None,
) -> Assessment:
    before = inputs.before.get(craft.id, NOTHING_BEFORE)
    now_c = nan if cold is None else cold.now_c
    charge = charge_heard(battery, maintainer, air, inputs.traces, now_c, last_heard(before))
    loss = inputs.yard.losses.batteries
    freezing = battery_freezing(battery, charge, cold, before.may_be_frozen_at, act_from(loss))
    judged = verdict_on(craft.id, battery, air, charge, cold, freezing, loss)
    if not air.unfollowed or judged.standing in _THREATENED:
        return judged
    # What stays warm because it is stuck clears nothing: how cold it is, nobody knows.
    unread = battery_freezing(battery, charge, None, freezing.may_be_frozen_at, act_from(loss))
    return verdict_on(craft.id, battery, air, charge, None, unread, loss)
