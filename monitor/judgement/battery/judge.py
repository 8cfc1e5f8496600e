"""Judges batteries: charge, maintainer, and the cold where each one stands."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from math import isfinite, nan

from monitor.craft.stored import Battery, StoredCraft
from monitor.judgement.air.arrival import LaggedBody, follow_air, lagged_body
from monitor.judgement.air.driving_air import driving_air
from monitor.judgement.air.grid import SpaceAir, Traces
from monitor.judgement.air.tonight import Tonight
from monitor.judgement.battery.charge_by_record import PART, RECHARGE, BatteryCharge, last_heard
from monitor.judgement.battery.charge_heard import charge_heard
from monitor.judgement.battery.freezing import (
    MARGIN_K,
    BatteryCold,
    BatteryFreezing,
    battery_freezing,
)
from monitor.judgement.speech import Speech
from monitor.physics.battery import LONG_EMPTY_FREEZES_C
from monitor.physics.maintainer import Phase
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
from monitor.yard.battery_facts import (
    NOTHING_BEFORE,
    BatteryFacts,
    BatteryMemory,
    ChargeSource,
    FaultKind,
)
from monitor.yard.space import Sensor


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryView:
    """All that the batteries standing in one space are judged by."""

    air: SpaceAir
    night: Tonight | None
    traces: Traces
    sensors: dict[str, Sensor]  # by craft: its maintainer
    speech: Speech
    airs: Mapping[str, SpaceAir] = field(default_factory=dict)  # where one may have come from
    before: Mapping[str, BatteryMemory] = field(default_factory=dict)  # by craft


def judge_batteries(view: BatteryView, craft: Sequence[StoredCraft]) -> list[Assessment]:
    """Judge the batteries that stand in this space, aboard or on the bench.

    Parameters
    ----------
    view : BatteryView
    craft : sequence of StoredCraft
        Those whose battery stands here.

    Returns
    -------
    list of Assessment
        One a battery. Its limit is that of the charge that may be left, and so is its margin.
    """
    owned = [(each, each.battery) for each in craft if each.battery is not None]
    if not owned:
        return []
    cold: dict[LaggedBody, BatteryCold] = {}
    stands = [
        lagged_body(view.air, battery.lag_low_h, battery.since, battery.came_from)
        for _, battery in owned
    ]
    if view.night is not None:
        drive = driving_air(view.air, view.night, view.speech.yard)
        kinds = list(dict.fromkeys(stands))
        for kind, body_c in zip(
            kinds, follow_air(drive.hours, drive.air_c, kinds, view.airs).body_c, strict=True
        ):
            course = body_c[drive.present :]
            cold[kind] = BatteryCold(
                now_c=float(course[0]),
                low_c=float(course.min()),
                past_c=body_c[: drive.present + 1],
                course_c=course,
                drive=drive,
            )
    return [
        _judge_battery(view, each, battery, cold.get(kind, BatteryCold()))
        for (each, battery), kind in zip(owned, stands, strict=True)
    ]


def _judge_battery(
    view: BatteryView, each: StoredCraft, battery: Battery, cold: BatteryCold
) -> Assessment:
    before = view.before.get(each.id, NOTHING_BEFORE)
    charge = charge_heard(
        battery,
        view.sensors.get(each.id),
        view.air,
        view.traces,
        cold.now_c,
        last_heard(before),
    )
    freezing = battery_freezing(battery, charge, cold, before.may_be_frozen_at)
    suspect = freezing.may_be_frozen_at is not None
    standing = Standing.FREEZING if suspect else _standing_of(charge, cold, freezing)
    urgency, severity = _urgency_and_severity(standing, suspect=suspect)
    hour_low, hour_ice = cold.hours_to_low_and_ice(freezing.worst_c)
    return Assessment(
        subject=Subject(view.air.space.id, each.id, PART),
        hazard=Hazard.BATTERY,
        standing=standing,
        at=view.air.now,
        facts=_facts_of(view.air, battery, charge, freezing),
        calls_for_act=suspect or standing is not Standing.CHARGED,
        now_c=cold.now_c,
        low_c=cold.low_c,
        low_at=None if cold.drive is None else cold.drive.time_at(hour_low),
        limit_c=freezing.worst_c,
        burst_c=freezing.worst_c,
        margin_k=freezing.margin_k,
        deadline=None if cold.drive is None else cold.drive.time_at(hour_ice),
        urgency=urgency,
        severity=severity,
        certainty=_certainty_of(standing, charge, freezing),
        cautions=_cautions_for(standing, charge),
    )


def _facts_of(
    air: SpaceAir, battery: Battery, charge: BatteryCharge, freezing: BatteryFreezing
) -> BatteryFacts:
    known = charge.known
    source = ChargeSource.MAINTAINER if charge.heard else ChargeSource.NOTHING
    return BatteryFacts(
        place=battery.place,
        has_lead_cells=battery.has_lead_cells,
        maintained=battery.maintained,
        capacity_ah=battery.capacity_ah,
        source=source if known is None else known.source,
        source_at=None if known is None else known.at,
        source_fraction=nan if known is None else known.fraction,
        source_v=nan if known is None else known.voltage_v,
        loss=charge.loss,
        phase=int(charge.phase),
        charge_fraction=charge.fraction,
        charge_low_fraction=charge.low,
        load_a=charge.load_a,
        voltage_v=charge.voltage_v,
        fault=charge.fault,
        likely_freezes_c=freezing.likely_c,
        only_feared=freezing.only_feared,
        long_empty_h=charge.empty_h if freezing.worst_c == LONG_EMPTY_FREEZES_C else 0.0,
        flat_at=_time_in(air, charge.flat_in_h),
        flat_in_h=charge.flat_in_h,
        test_at=_time_in(air, charge.test_in_h),
        test_in_h=charge.test_in_h,
        memory=BatteryMemory(
            may_be_frozen_at=freezing.may_be_frozen_at,
            charge_known_at=charge.known_at if isfinite(charge.known_fraction) else None,
            charge_known_fraction=charge.known_fraction,
        ),
    )


def _time_in(air: SpaceAir, in_h: float) -> datetime | None:
    return air.now + timedelta(hours=in_h) if isfinite(in_h) else None


def _standing_of(charge: BatteryCharge, cold: BatteryCold, freezing: BatteryFreezing) -> Standing:
    likely_k = cold.low_c - freezing.likely_c
    if likely_k < MARGIN_K or freezing.margin_k <= 0.0:
        return Standing.FREEZING
    if charge.loss is not None:
        return Standing.LOST
    if charge.fault is not None or charge.fraction < RECHARGE or charge.test_in_h <= 0.0:
        return Standing.LOW
    feeding = charge.phase in {Phase.BULK, Phase.ABSORPTION, Phase.FLOAT, Phase.IDLE}
    return Standing.CHARGED if feeding or isfinite(charge.fraction) else Standing.NOT_KNOWN


def _urgency_and_severity(standing: Standing, *, suspect: bool) -> tuple[Urgency, Severity]:
    if standing is Standing.FREEZING:
        return (Urgency.IMMEDIATE if suspect else Urgency.EXPECTED), Severity.SEVERE
    if standing in {Standing.LOST, Standing.LOW}:
        return Urgency.EXPECTED, Severity.MODERATE
    if standing is Standing.NOT_KNOWN:
        return Urgency.UNKNOWN, Severity.MINOR
    return Urgency.FUTURE, Severity.MINOR


def _certainty_of(
    standing: Standing, charge: BatteryCharge, freezing: BatteryFreezing
) -> Certainty:
    if standing is Standing.FREEZING and freezing.only_feared:
        return Certainty.POSSIBLE
    return Certainty.LIKELY if isfinite(charge.fraction) else Certainty.UNKNOWN


def _cautions_for(standing: Standing, charge: BatteryCharge) -> tuple[Caution, ...]:
    cold = charge.fault is not None and charge.fault.kind is FaultKind.CHARGED_BELOW_ZERO
    if standing is Standing.FREEZING or cold:
        return (Caution.FROZEN_BATTERY, Caution.HYDROGEN)
    # Told to charge it, nobody may charge what froze before the cold was seen.
    charged = standing in {Standing.LOST, Standing.LOW}
    return (Caution.HYDROGEN, Caution.FROZEN_BATTERY) if charged else ()
