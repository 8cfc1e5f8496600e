"""The air that a craft's temperature follows: its space's past, then the coldest night ahead."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isfinite

import numpy as np

from monitor.judgement.air.grid import Floats, SpaceAir
from monitor.judgement.air.sky_loss import sky_loss
from monitor.judgement.air.tonight import Tonight
from monitor.yard.space import Yard


@dataclass(frozen=True, slots=True, kw_only=True)
class DrivingAir:
    """Air that a space's craft follow: the past, then the pessimistic course until noon."""

    now: datetime
    hours: Floats  # (n,) relative to now, rising through 0
    air_c: Floats  # (n,) coldest air less what the sky takes
    present: int  # index of now
    sky_k: float = 0.0  # the most that the sky takes ahead; contained in the air

    def time_at(self, hour: float) -> datetime | None:
        """Time of an hour on this axis; None for one that is not finite."""
        return self.now + timedelta(hours=hour) if isfinite(hour) else None


def driving_air(air: SpaceAir, night: Tonight, yard: Yard) -> DrivingAir:
    """Join the measured past with the forecast night, less what a clear sky takes."""
    hours = np.concatenate([air.hours, night.hours])
    course = np.concatenate([air.air_c, night.cold_c])
    taken, present = sky_loss(air, hours, yard), air.hours.size - 1
    return DrivingAir(
        now=air.now,
        hours=hours,
        air_c=course - taken,
        present=present,
        sky_k=float(np.max(taken[present + 1 :], initial=0.0)),
    )
