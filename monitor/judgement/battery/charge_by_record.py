"""Charge of a battery without readings: what was last known, less what it has lost since.

Left aboard and connected, clocks, alarms and pumps may draw from it, which no record names. So
there are two figures: the charge if nothing draws, and what is left if the usual does. Judged is
on the second, because an empty battery freezes where a full one never does.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import inf, isfinite, nan

import numpy as np

from monitor.craft.stored import Battery
from monitor.judgement.air.grid import SpaceAir
from monitor.judgement.battery.faults import DEAD_CELL_V
from monitor.physics.battery import (
    HOURS_A_MONTH,
    SELF_DISCHARGE_PER_MONTH,
    USUAL_LOAD_A,
    charge_from_rested_voltage,
    hours_until_charge,
    self_discharge,
)
from monitor.physics.maintainer import Phase
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.battery_facts import (
    BatteryFault,
    BatteryMemory,
    ChargeSource,
    FaultKind,
    MaintainerLoss,
)
from monitor.yard.facts import battery_memory_of

PART = "battery"

RECHARGE = 0.69  # 12.4 V rested: below it plates sulphate (common practice, no source)
EMPTY = 0.1  # a maintainer tells volts to some 0.05, a tenth of the charge down there
LONG_EMPTY_H = 72.0  # sulphating plates have taken acid up by then (common practice, no source)
TEST_AT = 0.5  # half a charge freezes at -25 °C: before that somebody has to look (from the tables)


@dataclass(frozen=True, slots=True, kw_only=True)
class LastKnown:
    """A charge that a voltage showed at one time."""

    at: datetime
    fraction: float
    source: ChargeSource
    voltage_v: float = nan


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryCharge:
    """One battery's charge, and how it is known.

    ``low`` is the charge on the edge that hurts: that of ``fraction`` itself where its voltage is
    heard or nothing can draw from it, less the usual load where something may; 0 where nothing at
    all is known.
    """

    fraction: float  # 0 to 1; NaN: not known
    phase: Phase
    loss: MaintainerLoss | None  # why the maintainer counts as lost
    known: LastKnown | None  # what the charge is reckoned from; None: heard now, or nothing
    heard: bool = False  # its voltage is heard from its maintainer
    low: float = nan
    itself_per_h: float = 0.0  # which it loses by itself, at the fast end of what is usual
    known_h: float = 0.0  # since ``known``
    voltage_v: float = nan
    fault: BatteryFault | None = None
    flat_in_h: float = inf  # until it must be charged, if nothing feeds it
    empty_h: float = 0.0  # for how long it is known to have stood empty
    low_empty_h: float = 0.0  # for how long it may have
    test_in_h: float = inf  # until somebody must have tested it; below 0: overdue
    load_a: float = 0.0  # what is taken to draw from it
    known_at: datetime | None = None  # its maintainer last told it
    known_fraction: float = nan

    @property
    def is_full_by_float(self) -> bool:
        """Whether its maintainer floats it, so that no doubt about a voltage counts."""
        return self.heard and self.phase is Phase.FLOAT


def charge_by_record(
    battery: Battery, heard: LastKnown | None, loss: MaintainerLoss | None, air: SpaceAir
) -> BatteryCharge:
    """What is left of the charge that was last known.

    Parameters
    ----------
    battery : Battery
    heard : LastKnown or None
        What its maintainer last told, if anything is remembered of it.
    loss : MaintainerLoss or None
        Why its maintainer does not count as feeding it; None: as the record says.
    air : SpaceAir
        Of the place where it stands.
    """
    fed = battery.maintained and loss is None
    drawn = battery.may_be_drawn_from and not fed
    load_a = USUAL_LOAD_A if drawn else 0.0
    known = _last_known(battery, heard)
    if known is None:
        return _nothing_known(loss, load_a, fed=fed)
    hours = max((air.now - known.at) / timedelta(hours=1), 0.0)
    mean_c = _mean_of_warmest(air)
    rate = SELF_DISCHARGE_PER_MONTH[battery.chemistry.value]
    itself_per_h = 0.0 if fed else float(self_discharge(rate, mean_c)) / HOURS_A_MONTH
    falls_per_h = itself_per_h + load_a / battery.capacity_ah
    fraction = max(known.fraction - itself_per_h * hours, 0.0)
    low = max(known.fraction - falls_per_h * hours, 0.0)

    def hours_to(charge: float, limit: float, load: float) -> float:
        return float(hours_until_charge(charge, limit, mean_c, rate, load, battery.capacity_ah))

    def empty_since(load: float) -> float:
        if fed:
            return hours if known.fraction <= EMPTY else 0.0
        return max(hours - hours_to(known.fraction, EMPTY, load), 0.0)

    return BatteryCharge(
        fraction=fraction,
        phase=Phase.UNKNOWN if loss is None else Phase.LOST,
        loss=loss,
        known=known,
        low=low,
        itself_per_h=itself_per_h,
        known_h=hours,
        voltage_v=known.voltage_v,
        fault=_dead_cell(battery, known.voltage_v),
        flat_in_h=inf if fed else hours_to(fraction, RECHARGE, 0.0),
        empty_h=empty_since(0.0),
        low_empty_h=empty_since(load_a),
        test_in_h=hours_to(known.fraction, TEST_AT, load_a) - hours if drawn else inf,
        load_a=load_a,
        known_at=known.at if known is heard else None,
        known_fraction=known.fraction if known is heard else nan,
    )


def _mean_of_warmest(air: SpaceAir) -> float:
    """Mean of a space's warmest air [°C]; 25 where none is known, for warmth empties a battery."""
    warm = air.warmest_c[np.isfinite(air.warmest_c)]
    return float(warm.mean()) if warm.size else 25.0


def _dead_cell(battery: Battery, voltage_v: float) -> BatteryFault | None:
    """A dead cell, if the last known voltage is that of a battery with one."""
    dead = DEAD_CELL_V[0] <= voltage_v <= DEAD_CELL_V[1]
    return BatteryFault(kind=FaultKind.DEAD_CELL) if dead and battery.has_lead_cells else None


def _last_known(battery: Battery, heard: LastKnown | None) -> LastKnown | None:
    """The newer of the voltage on record and the charge by its maintainer."""
    if battery.rested_v is None or battery.rested_at is None:
        return heard
    told = charge_from_rested_voltage(battery.rested_v, battery.chemistry.value).fraction
    if not isfinite(told) or (heard is not None and heard.at > battery.rested_at):
        return heard  # so high a voltage no battery has at rest: it says nothing
    return LastKnown(
        at=battery.rested_at,
        fraction=float(told),
        source=ChargeSource.RESTED,
        voltage_v=battery.rested_v,
    )


def _nothing_known(loss: MaintainerLoss | None, load_a: float, *, fed: bool) -> BatteryCharge:
    """Unknown is unprotected: unless somebody noted that it is fed, it may be empty."""
    return BatteryCharge(
        fraction=nan,
        phase=Phase.UNKNOWN if loss is None else Phase.LOST,
        loss=loss,
        known=None,
        low=nan if fed else 0.0,
        low_empty_h=0.0 if fed else inf,
        load_a=load_a,
    )


def batteries_before(earlier: Iterable[Assessment]) -> dict[str, BatteryMemory]:
    """What the last round knew of each craft's battery."""
    return {
        each.subject.craft: battery_memory_of(each.facts)
        for each in earlier
        if each.hazard is Hazard.BATTERY and each.subject.part == PART
    }


def last_heard(before: BatteryMemory) -> LastKnown | None:
    """Charge by the maintainer's last voltage, as earlier rounds remember it."""
    if before.charge_known_at is None or not isfinite(before.charge_known_fraction):
        return None
    return LastKnown(
        at=before.charge_known_at,
        fraction=before.charge_known_fraction,
        source=ChargeSource.HEARD_BEFORE,
    )
