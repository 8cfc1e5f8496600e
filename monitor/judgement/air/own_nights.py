"""How low a space's air goes by its own past nights, and how surely."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from math import inf, isfinite, nan

import numpy as np

from monitor.clock import to_ms
from monitor.judgement.air.building import (
    Building,
)
from monitor.judgement.air.ensemble import (
    COLD_MEMBER,
    Draws,
    band_of,
    draws_of,
)
from monitor.judgement.air.fall_regression import FallPrior, fall_prior
from monitor.judgement.air.grid import MS_PER_H, Floats, SpaceAir
from monitor.judgement.air.low_forecast import (
    LowForecast,
    PastErrors,
    check_past_nights,
    forecast_low,
)
from monitor.judgement.air.night_members import (
    ComingNight,
    coming_night,
    members_to_lows,
    noon_after,
)
from monitor.judgement.air.past_weeks import (
    Memory,
    NightTable,
    fall_predictors,
    night_shapes,
    night_table,
)
from monitor.yard.air_facts import LowBasis, LowMethod
from monitor.yard.space import OUTDOORS, SpaceKind, Yard
from monitor.yard.sun import NightHours

# Fall from evening to morning where no night is known yet. Common practice, no source.
_UNSEEN_FALL_K = {
    SpaceKind.OPEN: 6.0,
    SpaceKind.WRAPPED: 6.0,
    SpaceKind.COLD: 4.0,
    SpaceKind.HEATED: 1.0,
    SpaceKind.BENCH: 1.0,
}
_NIGHTS = 60  # past nights whose errors make the members
HALF_TRUSTED_NIGHTS = 3.0  # after so many a building's own nights tell half of what they will
MEMO_AT_MOST = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class Tonight:
    """Equally likely courses of one space's air from now to the noon after the coming night.

    The members of all spaces belong together: the first is the coldest night in each of them.
    """

    night: NightHours
    draws: Draws
    lows_c: Floats  # (members,) the coldest first
    courses_c: Floats  # (members, m) at ``hours`` after now
    hours: Floats  # (m,) the first one step on
    low_at: datetime  # of the middle one
    expected_low_c: float  # of the forecast that the members lie around
    basis: LowBasis  # what the low rests on
    forecast: LowForecast
    building: Building | None = None  # None outdoors, and where no outdoor air is known
    heat_is_lost: bool = False
    loss_k_h: float = 0.0  # how fast a building without heat would cool now
    zero_without_heat_h: float = inf  # of a heated space: hours to 0 °C if its heat stopped now
    low_c: float = field(init=False)  # the middle one: as likely to be colder as to be warmer

    def __post_init__(self) -> None:
        """Take the median once: every circuit of the space states it."""
        object.__setattr__(self, "low_c", float(np.median(self.lows_c)))

    @property
    def band_c(self) -> tuple[float, float]:
        """Range of the middle four fifths of the lows."""
        return band_of(self.lows_c)

    @property
    def cold_c(self) -> Floats:
        """The course to the cold end of that range; shape (m,)."""
        course: Floats = self.courses_c[COLD_MEMBER]
        return course


def night_by_own_past(air: SpaceAir, yard: Yard, memory: Memory) -> Tonight:
    """From this space's own past nights alone."""
    coming = coming_night(air.now, yard)
    past = memory.spaces[air.space.id]
    outlook = memory.outlook if air.space.kind in OUTDOORS else None
    table = night_table(
        past, yard, coming.dark.evening, coming.after_sunset_h, _NIGHTS, outlook=outlook
    )
    until = noon_after(coming.dark.evening, yard)
    public_c = nan if outlook is None else outlook.low_c(air.now, air.now, until)
    prior = _fall_prior(air, coming)
    record = _track(table, air, coming, prior, memory, public=isfinite(public_c))
    now_h = to_ms(air.now) / MS_PER_H
    usual_c = float(table.air_c.mean()) if table.air_c.size else nan
    (predictors_k,) = fall_predictors(
        past, np.array([now_h]), air.air_c[-1:], air.dew_point_c[-1:], usual_c
    )
    forecast = forecast_low(table, record, air.now_c, predictors_k, prior, public_c)
    shapes = night_shapes(past, yard, table.evening, coming.after_sunset_h, coming.hours)
    courses_c = members_to_lows(air.now_c, forecast.lows_c, coming, shapes)
    return Tonight(
        night=coming.dark,
        draws=draws_of(yard.id, coming.dark.evening),
        lows_c=forecast.lows_c,
        courses_c=courses_c,
        hours=coming.hours,
        low_at=time_of_low(air.now, coming.hours, courses_c),
        expected_low_c=forecast.low_c,
        basis=low_basis(forecast, memory.outlook.source),
        forecast=forecast,
    )


def time_of_low(now: datetime, hours: Floats, courses_c: Floats) -> datetime:
    """When half of the courses have come to their low."""
    lowest = int(np.median(np.argmin(courses_c, axis=1)))
    return now + timedelta(hours=float(hours[lowest]))


def _track(
    table: NightTable,
    air: SpaceAir,
    coming: ComingNight,
    prior: FallPrior,
    memory: Memory,
    *,
    public: bool,
) -> PastErrors:
    """How forecasts from about this hour did; worked out once an hour and not every minute."""
    newest = table.evening[-1] if table.evening else None
    issued = int(np.isfinite(table.public_low_c).sum()) if public else -1
    key = (air.space.id, newest, len(table.evening), round(coming.after_sunset_h), issued)
    known = memory.worked_out.get(key)
    if not isinstance(known, PastErrors):
        known = check_past_nights(table, prior, public=public)
        if len(memory.worked_out) > MEMO_AT_MOST:
            memory.worked_out.clear()
        memory.worked_out[key] = known
    return known


def _fall_prior(air: SpaceAir, coming: ComingNight) -> FallPrior:
    return unseen_fall(air.space.kind, coming.after_sunset_h, coming.dark.length_h)


def unseen_fall(kind: SpaceKind, after_sunset_h: float, night_h: float) -> FallPrior:
    """What to expect the air to fall by from an hour on if no night is known."""
    left = min(max(1.0 - after_sunset_h / night_h, 0.0), 1.0)
    fall_k = _UNSEEN_FALL_K[kind] * float(np.sqrt(left))
    outdoors = kind in OUTDOORS
    share = 1.0 if outdoors else _UNSEEN_FALL_K[kind] / _UNSEEN_FALL_K[SpaceKind.COLD]
    return fall_prior(after_sunset_h, fall_k, outdoors=outdoors, share=share)


def low_basis(forecast: LowForecast, source: str) -> LowBasis:
    """What a forecast low rests on; ``source`` is the public forecast's, empty without one."""
    return LowBasis(
        method=LowMethod.PAST_NIGHTS if forecast.nights else LowMethod.USUAL_FALL,
        nights=forecast.nights,
        error_k=forecast.error_k,
        public_source=source if forecast.public_share > 0.0 else "",
        public_share=forecast.public_share,
    )
