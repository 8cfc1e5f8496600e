"""Bodies of several moments are followed together as each moment's alone, in every member."""

from datetime import UTC, date, datetime
from math import isinf

import numpy as np
import pytest

from monitor.judgement.air.driving_air import STRIDE, DrivingAir
from monitor.judgement.air.ensemble import MEMBERS, draws_of
from monitor.judgement.air.grid import STEP_H, past_hours
from monitor.judgement.air.sky_loss import SkyPull
from monitor.judgement.frost.cooling import cool_bodies
from monitor.judgement.frost.ice_so_far import Body

NOON, EVENING = (0, "rack"), (1, "rack")
NOW = datetime(2026, 12, 1, 6, tzinfo=UTC)
PLAIN = {"ice_point_c": 0.0, "locked_c": 0.0}
WATER = Body(
    lag_low_h=1.0, lag_high_h=2.0, heat_capacity_kj_k=20.0, liquid_kg=3.0, since_h=-9.0, **PLAIN
)
HOSE = Body(lag_low_h=0.5, lag_high_h=0.5, heat_capacity_kj_k=2.0, liquid_kg=0.4, **PLAIN)
MIX = Body(
    lag_low_h=1.0,
    lag_high_h=1.0,
    heat_capacity_kj_k=9.0,
    liquid_kg=2.0,
    ice_point_c=-8.0,
    locked_c=-11.0,
)
SPREAD_K = np.linspace(-3.0, 3.0, MEMBERS)[:, None]  # the coldest member first


def driver(steps_ahead, mean_c, gap=False):
    hours = np.concatenate([past_hours(), np.arange(1, steps_ahead + 1) * STEP_H])
    air_c = mean_c + 4.0 * np.cos(2 * np.pi * hours / 24.0) - 0.4 * np.maximum(hours, 0.0)
    if gap:
        air_c[200:230] = np.nan
    present = past_hours().size - 1
    ahead = slice(present, None, STRIDE)
    return DrivingAir(
        now=NOW,
        hours=hours,
        air_c=air_c,
        present=present,
        ahead_h=hours[ahead],
        ahead_c=air_c[ahead] + SPREAD_K * np.minimum(hours[ahead], 1.0),
        draws=draws_of("kettlemoss", date(2026, 11, 30)),
        sky=SkyPull(
            past_k=np.zeros(present + 1),
            ahead_k=np.zeros(MEMBERS),
            dark=np.zeros(steps_ahead, dtype=bool),
            dark_so_far_h=0.0,
        ),
    )


DRIVES = {
    (0, "rack"): driver(36, -1.0),
    (1, "rack"): driver(7, -3.0),
    (2, "rack"): driver(132, -6.0),
    (3, "rack"): driver(40, -2.0, gap=True),
}


def by_name(course):
    """All that a course tells, its known ice among it."""
    told = course._asdict()
    return told | {f"known {name}": value for name, value in told.pop("known")._asdict().items()}


@pytest.mark.parametrize("bodies", [(WATER, HOSE, MIX), (MIX,)])
def test_moments_with_other_hours_ahead_do_not_touch_each_other(bodies):
    together = cool_bodies(DRIVES, dict.fromkeys(DRIVES, bodies))
    for moment, drive in DRIVES.items():
        alone = cool_bodies({moment: drive}, {moment: bodies})[moment]
        for body in bodies:
            found, by_itself = by_name(together[moment][body]), by_name(alone[body])
            for name, value in by_itself.items():
                assert found[name] == pytest.approx(value, rel=1e-9, abs=1e-9, nan_ok=True), name


def test_no_ice_is_told_of_after_a_moments_own_hours():
    # Followed for long enough it does freeze through.
    soon = {NOON: driver(7, 0.0)}
    longer = cool_bodies({NOON: driver(132, 0.0)}, {NOON: [WATER]})[NOON][WATER]
    assert STEP_H * 7 < longer.frozen_through_h < 132 * STEP_H
    found = cool_bodies(soon | {EVENING: driver(132, -6.0)}, {NOON: [WATER], EVENING: [HOSE]})
    assert isinf(found[NOON][WATER].frozen_through_h)
    assert found[NOON][WATER].low_h <= 7 * STEP_H
