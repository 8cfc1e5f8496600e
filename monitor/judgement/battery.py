"""Which batteries go flat or freeze: charge, maintainer and the cold where each one stands."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import isfinite, nan

from monitor.craft.stored import Battery, StoredCraft
from monitor.judgement.air import SpaceAir, Traces
from monitor.judgement.arrival import Stood, follow, stood
from monitor.judgement.battery_cold import MARGIN_K, Cold, Freezing, freezing_of
from monitor.judgement.battery_memory import (
    FROZEN_AT,
    KNOWN,
    KNOWN_AT,
    NOTHING_BEFORE,
    PART,
    Before,
)
from monitor.judgement.battery_words import act, basis
from monitor.judgement.charge import charge_of
from monitor.judgement.course import driver
from monitor.judgement.rested import RECHARGE, Charge
from monitor.judgement.speech import Speech
from monitor.judgement.tonight import Tonight
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
from monitor.yard.facts import WrittenText
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
    before: Mapping[str, Before] = field(default_factory=dict)  # by craft


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
    cold: dict[Stood, Cold] = {}
    stands = [
        stood(view.air, battery.lag_low_h, battery.since, battery.came_from) for _, battery in owned
    ]
    if view.night is not None:
        drive = driver(view.air, view.night, view.speech.yard)
        kinds = list(dict.fromkeys(stands))
        for kind, body_c in zip(
            kinds, follow(drive.hours, drive.air_c, kinds, view.airs).body_c, strict=True
        ):
            course = body_c[drive.present :]
            cold[kind] = Cold(
                now_c=float(course[0]),
                low_c=float(course.min()),
                past_c=body_c[: drive.present + 1],
                course_c=course,
                drive=drive,
            )
    return [
        _judge(view, each, battery, cold.get(kind, Cold()))
        for (each, battery), kind in zip(owned, stands, strict=True)
    ]


def _judge(view: BatteryView, each: StoredCraft, battery: Battery, cold: Cold) -> Assessment:
    before = view.before.get(each.id, NOTHING_BEFORE)
    charge = charge_of(
        battery,
        view.sensors.get(each.id),
        view.air,
        view.traces,
        cold.now_c,
        view.speech,
        before.heard,
    )
    freezing = freezing_of(battery, charge, cold, before.frozen_at)
    suspect = freezing.may_be_frozen_at is not None
    standing = Standing.FREEZING if suspect else _standing(charge, cold, freezing)
    urgency, severity = _weight(standing, suspect=suspect)
    hour_low, hour_ice = cold.hours(freezing.worst_c)
    figures = {
        "charge_fraction": charge.fraction,
        "charge_low_fraction": charge.low if charge.load_a else nan,
        "load_a": charge.load_a or nan,
        "voltage_v": charge.voltage_v,
        "maintainer_phase": float(charge.phase),
        "capacity_ah": battery.capacity_ah,
        "flat_in_h": charge.flat_in_h,
        "test_in_h": charge.test_in_h,
        FROZEN_AT: freezing.may_be_frozen_at.timestamp() if freezing.may_be_frozen_at else nan,
        KNOWN_AT: charge.known_at.timestamp() if charge.known_at else nan,
        KNOWN: charge.known_fraction,
    }
    if not isfinite(charge.known_fraction):
        del figures[KNOWN_AT]
    asked = act(standing, battery, charge, freezing)
    return Assessment(
        subject=Subject(view.air.space.id, each.id, PART),
        hazard=Hazard.BATTERY,
        standing=standing,
        at=view.air.now,
        facts=WrittenText(
            basis=basis(view.air, battery, charge, freezing, cold, view.speech), act=asked
        ),
        calls_for_act=bool(asked),
        now_c=cold.now_c,
        low_c=cold.low_c,
        low_at=None if cold.drive is None else cold.drive.at(hour_low),
        limit_c=freezing.worst_c,
        burst_c=freezing.worst_c,
        margin_k=freezing.margin_k,
        deadline=None if cold.drive is None else cold.drive.at(hour_ice),
        urgency=urgency,
        severity=severity,
        certainty=_certainty(standing, charge, freezing),
        cautions=_cautions(standing, charge),
        figures={name: value for name, value in figures.items() if isfinite(value)},
    )


def _standing(charge: Charge, cold: Cold, freezing: Freezing) -> Standing:
    likely_k = cold.low_c - freezing.likely_c
    if likely_k < MARGIN_K or freezing.margin_k <= 0.0:
        return Standing.FREEZING
    if charge.lost:
        return Standing.LOST
    if charge.fault.words or charge.fraction < RECHARGE or charge.test_in_h <= 0.0:
        return Standing.LOW
    feeding = charge.phase in {Phase.BULK, Phase.ABSORPTION, Phase.FLOAT, Phase.IDLE}
    return Standing.CHARGED if feeding or isfinite(charge.fraction) else Standing.NOT_KNOWN


def _weight(standing: Standing, *, suspect: bool) -> tuple[Urgency, Severity]:
    if standing is Standing.FREEZING:
        return (Urgency.IMMEDIATE if suspect else Urgency.EXPECTED), Severity.SEVERE
    if standing in {Standing.LOST, Standing.LOW}:
        return Urgency.EXPECTED, Severity.MODERATE
    if standing is Standing.NOT_KNOWN:
        return Urgency.UNKNOWN, Severity.MINOR
    return Urgency.FUTURE, Severity.MINOR


def _certainty(standing: Standing, charge: Charge, freezing: Freezing) -> Certainty:
    if standing is Standing.FREEZING and freezing.only_feared:
        return Certainty.POSSIBLE
    return Certainty.LIKELY if isfinite(charge.fraction) else Certainty.UNKNOWN


def _cautions(standing: Standing, charge: Charge) -> tuple[Caution, ...]:
    if standing is Standing.FREEZING or "freezing" in charge.fault.words:
        return (Caution.FROZEN_BATTERY, Caution.HYDROGEN)
    # Told to charge it, nobody may charge what froze before the cold was seen.
    charged = standing in {Standing.LOST, Standing.LOW}
    return (Caution.HYDROGEN, Caution.FROZEN_BATTERY) if charged else ()
