"""The air that a craft's temperature follows: its space's past, then every course of the night."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from monitor.judgement.air.ensemble import Draws
from monitor.judgement.air.grid import Floats, SpaceAir
from monitor.judgement.air.own_nights import Tonight
from monitor.judgement.air.sky_loss import SkyPull, sky_pull
from monitor.yard.space import Yard

STRIDE = 3  # half an hour: exact for air that runs straight, and a third of the work


@dataclass(frozen=True, slots=True, kw_only=True)
class DrivingAir:
    """What a space's craft stand in, less what the sky takes."""

    now: datetime
    hours: Floats  # (n,) relative to now, rising through 0
    air_c: Floats  # (n,) what was, then the course to the cold end of the night's range
    present: int  # index of now
    ahead_h: Floats  # (k,) from now on, in half hours
    ahead_c: Floats  # (members, k)
    draws: Draws
    sky: SkyPull

    @property
    def past(self) -> "DrivingAir":
        """The same up to now."""
        until = slice(self.present + 1)
        return DrivingAir(
            now=self.now,
            hours=self.hours[until],
            air_c=self.air_c[until],
            present=self.present,
            ahead_h=self.ahead_h,
            ahead_c=self.ahead_c,
            draws=self.draws,
            sky=self.sky,
        )


def driving_air(air: SpaceAir, night: Tonight, yard: Yard) -> DrivingAir:
    """Join what was with what may come."""
    ahead = slice(STRIDE - 1, None, STRIDE)
    sky = sky_pull(air, night.hours, night.draws, yard)
    taken = np.where(sky.dark[ahead], sky.ahead_k[:, None], 0.0)
    now_c = air.now_c - sky.past_k[-1]
    ahead_c = np.column_stack([np.full(taken.shape[0], now_c), night.courses_c[:, ahead] - taken])
    cold_c = night.cold_c - np.where(sky.dark, sky.middle_k, 0.0)
    return DrivingAir(
        now=air.now,
        hours=np.concatenate([air.hours, night.hours]),
        air_c=np.concatenate([air.air_c - sky.past_k, cold_c]),
        present=air.hours.size - 1,
        ahead_h=np.concatenate([[0.0], night.hours[ahead]]),
        ahead_c=ahead_c,
        draws=night.draws,
        sky=sky,
    )
