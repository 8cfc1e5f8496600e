"""Verdict on one battery: standing, urgency, cautions and facts, from its charge and its cold."""

from math import isfinite, nan

from monitor.clock import hours_after
from monitor.craft.stored import Battery
from monitor.judgement.air.grid import SpaceAir
from monitor.judgement.battery.charge_by_record import PART, RECHARGE, BatteryCharge
from monitor.judgement.battery.freezing import BatteryCold, BatteryFreezing
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
    BatteryFacts,
    BatteryMemory,
    ChargeSource,
    FaultKind,
)
from monitor.yard.losses import LIKELY, act_from, is_grave

_FROZEN = frozenset({Standing.FREEZING, Standing.SUSPECT})


def verdict_on(
    craft: str,
    battery: Battery,
    air: SpaceAir,
    charge: BatteryCharge,
    cold: BatteryCold | None,
    freezing: BatteryFreezing,
    loss: float,
) -> Assessment:
    """Assessment of one battery.

    Parameters
    ----------
    craft : str
        Id of the craft that it belongs to.
    battery : Battery
    air : SpaceAir
        Of the space where it stands.
    charge : BatteryCharge
    cold : BatteryCold or None
        Its own temperature; None where the air is not known.
    freezing : BatteryFreezing
        Where its acid freezes. One that may have been frozen stays suspect until it is tested.
    loss : float
        What a frozen battery costs, in evenings of work for nothing (`monitor.yard.losses`).

    Notes
    -----
    `freezing` where the chance that it does is worth an act: one over the loss. ``margin_k`` is
    the room that is left at that very chance, as it is of a circuit against frost. `suspect` where
    it may have frozen before and tonight is no danger: no charge counts until somebody has looked.
    """
    suspect = freezing.may_be_frozen_at is not None
    standing = _standing_of(charge, freezing)
    grave = suspect or is_grave(freezing.chance, loss)
    urgency, severity = _urgency_and_severity(standing, suspect=suspect, grave=grave)
    low_h = nan if cold is None else cold.low_h
    return Assessment(
        subject=Subject(air.space.id, craft, PART),
        hazard=Hazard.BATTERY,
        standing=standing,
        at=air.now,
        facts=_facts_of(air, battery, charge, freezing, act_from(loss)),
        calls_for_act=suspect or standing is not Standing.CHARGED,
        now_c=nan if cold is None else cold.now_c,
        low_c=nan if cold is None else cold.low_c,
        low_at=hours_after(air.now, low_h),
        limit_c=freezing.worst_c,
        burst_c=freezing.worst_c,
        margin_k=freezing.margin_k,
        deadline=hours_after(air.now, freezing.ice_h),
        urgency=urgency,
        severity=severity,
        certainty=_certainty_of(standing, charge, freezing),
        cautions=_cautions_for(standing, charge),
    )


def _facts_of(
    air: SpaceAir,
    battery: Battery,
    charge: BatteryCharge,
    freezing: BatteryFreezing,
    act_from_chance: float,
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
        chance_freezing=freezing.chance,
        act_from_chance=act_from_chance,
        low_band_low_c=freezing.low_band_c[0],
        low_band_high_c=freezing.low_band_c[1],
        long_empty_h=charge.empty_h if freezing.worst_c == LONG_EMPTY_FREEZES_C else 0.0,
        flat_at=hours_after(air.now, charge.flat_in_h),
        flat_in_h=charge.flat_in_h,
        test_at=hours_after(air.now, charge.test_in_h),
        test_in_h=charge.test_in_h,
        memory=BatteryMemory(
            may_be_frozen_at=freezing.may_be_frozen_at,
            charge_known_at=charge.known_at if isfinite(charge.known_fraction) else None,
            charge_known_fraction=charge.known_fraction,
        ),
    )


def _standing_of(charge: BatteryCharge, freezing: BatteryFreezing) -> Standing:
    if freezing.margin_k <= 0.0:
        return Standing.FREEZING
    if freezing.may_be_frozen_at is not None:
        return Standing.SUSPECT
    if charge.loss is not None:
        return Standing.LOST
    if charge.fault is not None or charge.fraction < RECHARGE or charge.test_in_h <= 0.0:
        return Standing.LOW
    feeding = charge.phase in {Phase.BULK, Phase.ABSORPTION, Phase.FLOAT, Phase.IDLE}
    return Standing.CHARGED if feeding or isfinite(charge.fraction) else Standing.NOT_KNOWN


def _urgency_and_severity(
    standing: Standing, *, suspect: bool, grave: bool
) -> tuple[Urgency, Severity]:
    if standing in _FROZEN:
        severity = Severity.SEVERE if grave else Severity.MODERATE
        return (Urgency.IMMEDIATE if suspect else Urgency.EXPECTED), severity
    if standing in {Standing.LOST, Standing.LOW}:
        return Urgency.EXPECTED, Severity.MODERATE
    if standing is Standing.NOT_KNOWN:
        return Urgency.UNKNOWN, Severity.MINOR
    return Urgency.FUTURE, Severity.MINOR


def _certainty_of(
    standing: Standing, charge: BatteryCharge, freezing: BatteryFreezing
) -> Certainty:
    if standing is Standing.SUSPECT:
        return Certainty.POSSIBLE
    if standing is Standing.FREEZING:
        # Of a charge that nobody knows the chance is that of an empty battery.
        sure = isfinite(charge.fraction) and freezing.chance > LIKELY
        return Certainty.LIKELY if sure else Certainty.POSSIBLE
    return Certainty.LIKELY if isfinite(charge.fraction) else Certainty.UNKNOWN


def _cautions_for(standing: Standing, charge: BatteryCharge) -> tuple[Caution, ...]:
    cold = charge.fault is not None and charge.fault.kind is FaultKind.CHARGED_BELOW_ZERO
    if standing in _FROZEN or cold:
        return (Caution.FROZEN_BATTERY, Caution.HYDROGEN)
    # Told to charge it, nobody may charge what froze before the cold was seen.
    charged = standing in {Standing.LOST, Standing.LOW}
    return (Caution.HYDROGEN, Caution.FROZEN_BATTERY) if charged else ()
