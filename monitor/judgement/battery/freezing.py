"""How cold a battery has been and gets, and the charge at which its acid freezes there."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isfinite, nan

import numpy as np

from monitor.craft.stored import Battery
from monitor.judgement.air.driving_air import DrivingAir
from monitor.judgement.air.grid import Floats
from monitor.judgement.battery.charge_by_record import BatteryCharge
from monitor.physics.battery import LONG_EMPTY_FREEZES_C, freezing_point_of_charge

MARGIN_K = 5.0  # charge from a voltage is 15 points uncertain: some 5 K of freezing point
_MAY_BE_FROZEN_K = 3.0  # half of that: so near its freezing point, nobody can say it is not
LONG_EMPTY_H = 72.0  # sulphating plates have taken acid up by then (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryCold:
    """Temperature of one battery, past and ahead; NaN before it came into this space."""

    now_c: float = nan
    low_c: float = nan
    past_c: Floats | None = None  # as far back as the air is known, up to now
    course_c: Floats | None = None  # from now on
    drive: DrivingAir | None = None

    def hours_to_low_and_ice(self, freezes_c: float) -> tuple[float, float]:
        """Hours to the low, and to a freezing point; NaN: not known, or not before the noon."""
        if self.course_c is None or self.drive is None:
            return nan, nan
        hours = self.drive.hours[self.drive.present :]
        below = np.flatnonzero(self.course_c <= freezes_c)
        low = float(hours[int(np.argmin(self.course_c))])
        return low, float(hours[below[0]]) if below.size else nan


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryFreezing:
    """Where a battery's acid freezes: by the charge that is likely, and by what may be left.

    Of one that stood empty for long the acid is weaker; NaN where nothing is known.
    """

    likely_c: float
    worst_c: float
    margin_k: float  # the coming low's, over ``worst_c``
    may_be_frozen_at: datetime | None = None

    @property
    def only_feared(self) -> bool:
        """Whether it is what may have been drawn from it, and not its known charge, that counts."""
        return self.likely_c != self.worst_c


def battery_freezing(
    battery: Battery, charge: BatteryCharge, cold: BatteryCold, frozen_at: datetime | None
) -> BatteryFreezing:
    """Compare its charge with its cold; ``frozen_at``: when it may have frozen before."""
    likely_c = _freezing_point(battery, charge.fraction, charge.empty_h)
    worst_c = _freezing_point(battery, charge.low, charge.low_empty_h)
    if not isfinite(charge.low):
        worst_c = likely_c
    return BatteryFreezing(
        likely_c=likely_c,
        worst_c=worst_c,
        margin_k=cold.low_c - worst_c,
        may_be_frozen_at=_may_be_frozen(battery, charge, cold, likely_c, frozen_at),
    )


def _freezing_point(battery: Battery, fraction: float, empty_h: float) -> float:
    """Freezing point of its acid; NaN: not known."""
    if not isfinite(fraction):
        return nan
    if battery.has_lead_cells and empty_h >= LONG_EMPTY_H:
        return LONG_EMPTY_FREEZES_C
    return float(freezing_point_of_charge(fraction, battery.chemistry.value))


def _may_be_frozen(
    battery: Battery,
    charge: BatteryCharge,
    cold: BatteryCold,
    likely_c: float,
    frozen_at: datetime | None,
) -> datetime | None:
    """Last time at which it was so cold that ice in it cannot be ruled out; None: it can.

    Looked at are four days of air and what the rounds before found, up to the last test: warmth
    alone does not make it safe to charge.
    """
    times = [] if frozen_at is None else [frozen_at]
    if cold.past_c is not None and cold.drive is not None:
        hours = cold.drive.hours[: cold.past_c.size]
        # What may have been drawn was less then; of what was empty for long the acid was weak.
        left = np.clip(charge.low - charge.falls_per_h * hours, 0.0, 1.0)
        worst_c = np.asarray(freezing_point_of_charge(left, battery.chemistry.value))
        if battery.has_lead_cells:
            weak = charge.low_empty_h + hours >= LONG_EMPTY_H
            worst_c = np.where(weak, LONG_EMPTY_FREEZES_C, worst_c)
        icy = (cold.past_c <= likely_c + _MAY_BE_FROZEN_K) | (cold.past_c <= worst_c)
        found = np.flatnonzero(icy)
        if found.size:
            times.append(cold.drive.now + timedelta(hours=float(hours[found[-1]])))
    tested = battery.rested_at
    return max((at for at in times if tested is None or at >= tested), default=None)
