"""Judges batteries: charge, maintainer, and the cold where each one stands."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from monitor.craft.stored import Battery, StoredCraft
from monitor.judgement.air.arrival import LaggedBody, follow_air, lagged_body
from monitor.judgement.air.driving_air import DrivingAir
from monitor.judgement.air.grid import SpaceAir, Traces
from monitor.judgement.battery.charge_by_record import last_heard
from monitor.judgement.battery.charge_heard import charge_heard
from monitor.judgement.battery.freezing import BatteryCold, battery_freezing
from monitor.judgement.battery.overcharge import judge_charging
from monitor.judgement.battery.verdict import verdict_on
from monitor.yard.assessment import Assessment
from monitor.yard.battery_facts import NOTHING_BEFORE, BatteryMemory
from monitor.yard.space import Mount, Sensor, Yard


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
        bodies = [
            lagged_body(air, battery.lag_low_h, battery.since, battery.came_from)
            for _, battery in owned
        ]
        colds = _battery_colds(inputs, space, bodies)
        judged += [
            _judge_battery(inputs, air, one, battery, maintainers.get(one.id), colds[body])
            for (one, battery), body in zip(owned, bodies, strict=True)
        ]
        aboard = inputs.aboard.get(space, ())
        judged += judge_charging(aboard, maintainers, inputs.traces, air.now)
    return judged


def _battery_colds(
    inputs: BatteryInputs, space: str, bodies: Sequence[LaggedBody]
) -> dict[LaggedBody, BatteryCold]:
    """Past and coming temperature of each distinct battery of a space, for all of them at once."""
    drive = inputs.drives.get(space)
    distinct = list(dict.fromkeys(bodies))
    if drive is None or not distinct:
        return dict.fromkeys(distinct, BatteryCold())
    courses_c = follow_air(drive.hours, drive.air_c, distinct, inputs.airs).body_c
    return {
        body: BatteryCold(
            now_c=float(course_c[drive.present]),
            low_c=float(course_c[drive.present :].min()),
            past_c=course_c[: drive.present + 1],
            course_c=course_c[drive.present :],
            drive=drive,
        )
        for body, course_c in zip(distinct, courses_c, strict=True)
    }


def _judge_battery(
    inputs: BatteryInputs,
    air: SpaceAir,
    craft: StoredCraft,
    battery: Battery,
    maintainer: Sensor | None,
    cold: BatteryCold,
) -> Assessment:
    before = inputs.before.get(craft.id, NOTHING_BEFORE)
    charge = charge_heard(battery, maintainer, air, inputs.traces, cold.now_c, last_heard(before))
    freezing = battery_freezing(battery, charge, cold, before.may_be_frozen_at)
    return verdict_on(craft.id, battery, air, charge, cold, freezing)
