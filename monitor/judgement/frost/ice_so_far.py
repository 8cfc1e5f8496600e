"""Ice that has formed in bodies up to now, followed through the air that was read."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import inf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.driving_air import DrivingAir
from monitor.judgement.air.grid import Floats
from monitor.judgement.frost.members import THIRD
from monitor.physics.freezing import FreezingSeries, freezing_series
from monitor.physics.lag import unbroken_from
from monitor.yard.frost_facts import Chances
from monitor.yard.losses import chance_of_loss

_ICE_STRIDE = 6  # past ice is followed hour by hour: exact for straight air, and cheap
LAGS = 4  # of a range, by which the past is followed
SPREAD = np.concatenate([[0.5], (np.arange(LAGS) + 0.5) / LAGS])  # the middle, then those


@dataclass(frozen=True, slots=True, order=True)
class Body:
    """What distinguishes one circuit from another as far as cold is concerned."""

    lag_low_h: float
    lag_high_h: float
    heat_capacity_kj_k: float
    liquid_kg: float
    ice_point_c: float
    locked_c: float  # ice point of water; where a third of a mix is ice
    weaker_k: float = 0.0  # by which a tenth less glycol, which is counted on, raised the points
    misread_k: float = 0.0  # by which a sample may be misread, either way
    since_h: float = -inf  # it came into this air then, before now; -inf: before the first reading
    came_from: str = ""  # space in whose air it stood before that; empty: nobody knows
    outside_c: float = inf  # of one that came from outside: the air there then; inf: not known

    @property
    def is_mixed(self) -> bool:
        """Whether it is a mix that turns to slush before its ice counts."""
        return self.locked_c < self.ice_point_c

    @property
    def lag_h(self) -> float:
        """The middle of its range, on a scale of ratios."""
        return sqrt(self.lag_low_h * self.lag_high_h)


class Cooling(NamedTuple):
    """One body's past, and what becomes of it. Hours are relative to now.

    Of hours to come the early one is given, before which it happens in one of ten courses in which
    it does; inf where fewer do than are worth saying.
    """

    now_c: float  # by the middle of its lags
    first_ice_h: float  # negative: since then
    locked_h: float  # first time at the point where ice counts; negative: since then
    frozen_through_h: float
    ice_fraction: float  # computed share of ice now
    unknown_share: float  # weight that the unknown start still has now
    low_c: float  # the middle low
    low_h: float
    low_band_c: tuple[float, float]  # of four fifths of the courses
    chance: Chances
    # Last time, up to now, at which there was ice in one, two, ... of the lags, and a third of ice;
    # -inf: never. In a mix, and where only now is known, any ice counts as a third.
    iced_last_h: Floats  # (2, lags) each falling
    ice_rooms_k: Floats  # (members,) of the low over its first crystals, rising
    known: "KnownIce"

    def may_have_iced_h(self, act_from_chance: float) -> float:
        """Last hour at which the chance of a loss by ice was worth an act; -inf: at none."""
        return _last_worth_an_act(self.iced_last_h, act_from_chance)

    def iced_h(self, act_from_chance: float) -> float:
        """The same of ice that was there however it began."""
        return _last_worth_an_act(self.known.iced_last_h, act_from_chance)


class KnownIce(NamedTuple):
    """What is known of a body's ice even if it began warm; the same as all, of a known start."""

    from_h: float  # its air is read without a gap since then; -inf: its start is known
    now_c: float
    ice_fraction: float
    locked_h: float  # it has been where ice counts since then; inf: it is not
    frozen_through_h: float  # it was by then; inf: it is not
    iced_last_h: Floats  # (2, lags) as `Cooling.iced_last_h`


def _last_worth_an_act(iced_last_h: Floats, act_from_chance: float) -> float:
    of_first, of_third = _shares_worth_an_act(iced_last_h.shape[1], act_from_chance)
    first_h, third_h = iced_last_h.tolist()
    return max((*(first_h[n] for n in of_first), *(third_h[n] for n in of_third)), default=-inf)


@lru_cache(maxsize=256)
def _shares_worth_an_act(
    lags: int, act_from_chance: float
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Which numbers of lags with ice are worth an act, and which with a third of ice; from 0."""
    shares = [(n, (n + 1) / lags) for n in range(lags)]
    first = tuple(n for n, share in shares if chance_of_loss(share, 0.0) >= act_from_chance)
    third = tuple(n for n, share in shares if chance_of_loss(share, share) >= act_from_chance)
    return first, third


class IceSoFar(NamedTuple):
    """Ice of bodies up to now: by the middle of each one's lags, then by some of its range."""

    fraction: Floats  # (bodies, 1 + lags) now, of water; 0 in a mix
    through_h: Floats  # (bodies,) first time at which all was ice, by the middle; inf: at none
    iced_last_h: Floats  # (bodies, 2, lags): see `Cooling.iced_last_h`


def follow_past_ice(
    driven: Sequence[tuple[DrivingAir, Body]],
    by_lag: Floats,
    of_body: NDArray[np.intp],
    start_c: float | None,
    warmer_than_c: float = -inf,
) -> IceSoFar:
    """Ice that there was and is: from a third on in a mix by temperature, in water by its heat.

    ``by_lag`` is the temperature that bodies had at the past hours, by the middle of a range of
    lags and by some of it; (ranges, 1 + lags, n). ``of_body`` says which range each body's is.
    Where nobody knows how water began, it was no colder than ``warmer_than_c`` [°C].
    """
    hours = driven[0][0].past.hours
    ice_point_c, locked_c = np.array([(body.ice_point_c, body.locked_c) for _, body in driven]).T
    lowest_c = np.fmin.reduce(by_lag, axis=2)[of_body]
    fraction = np.zeros(lowest_c.shape)
    through_h = np.full(len(driven), inf)
    last_h = np.full((len(driven), 2, LAGS), -inf)
    water = (locked_c == ice_point_c) & (hours.size > 1)
    came = np.flatnonzero(~water & (lowest_c[:, 1:] <= locked_c[:, None]).any(axis=1))
    if came.size:
        there = by_lag[of_body[came], 1:] <= locked_c[came, None, None]
        last_h[came] = last_time(hours, there)[:, None]
    wet = np.flatnonzero(water & (lowest_c <= ice_point_c[:, None]).any(axis=1))
    if wet.size:
        course = _freeze_past([driven[each] for each in wet.tolist()], start_c, warmer_than_c)
        share = course.ice_fraction.reshape(wet.size, LAGS + 1, -1)
        fraction[wet] = share[..., -1]
        through_h[wet] = course.frozen_through_h.reshape(wet.size, -1)[:, 0]
        steps_h = hours[_past_steps(driven)]
        for at, there in enumerate((share[:, 1:] > 0.0, share[:, 1:] >= THIRD)):
            last_h[wet, at] = last_time(steps_h, there)
    falling = np.sort(last_h, axis=-1)[..., ::-1]
    return IceSoFar(fraction, through_h, np.minimum(falling, 0.0))


def _past_steps(driven: Sequence[tuple[DrivingAir, Body]]) -> NDArray[np.intp]:
    """Every hour of the past up to now: past ice is followed in such steps."""
    return np.arange(driven[0][0].present, -1, -_ICE_STRIDE)[::-1]


def _freeze_past(
    wanted: Sequence[tuple[DrivingAir, Body]], start_c: float | None, warmer_than_c: float
) -> FreezingSeries:
    """Follow the ice of water from its last gap in the readings on; some rows for each body."""
    drives = [drive.past for drive, _ in wanted]
    keep = _past_steps(wanted)
    whole: dict[int, tuple[Floats, int]] = {}
    for (drive, _), past in zip(wanted, drives, strict=True):
        if id(drive) not in whole:
            whole[id(drive)] = bridge_gaps(past)
    air_c = np.empty((len(wanted), keep.size))
    for row, (drive, body) in enumerate(wanted):
        air, begin = whole[id(drive)]
        air_c[row] = air[keep]
        # Before the last gap in the readings: air that freezes nothing.
        air_c[row, keep < begin] = max(float(air[begin]), body.ice_point_c, warmer_than_c)
    bodies = [body for _, body in wanted]
    return freezing_series(
        drives[0].hours[keep],
        np.repeat(air_c, LAGS + 1, axis=0),
        lag_h=np.concatenate([lags_over(body.lag_low_h, body.lag_high_h) for body in bodies]),
        heat_capacity_kj_k=np.repeat([body.heat_capacity_kj_k for body in bodies], LAGS + 1),
        liquid_kg=np.repeat([body.liquid_kg for body in bodies], LAGS + 1),
        ice_point_c=np.repeat([body.ice_point_c for body in bodies], LAGS + 1),
        start_c=start_c,
    )


def lags_over(low_h: float, high_h: float) -> Floats:
    """The middle of a range of lags, then some of it, on a scale of ratios."""
    lags: Floats = low_h * (high_h / low_h) ** SPREAD
    return lags


def bridge_gaps(drive: DrivingAir) -> tuple[Floats, int]:
    """The air with its short holes bridged, and where what follows its last gap begins."""
    begin = unbroken_from(drive.hours, drive.air_c)
    known = np.isfinite(drive.air_c)
    if known.all():
        return drive.air_c, begin
    air: Floats = np.interp(drive.hours, drive.hours[known], drive.air_c[known])
    return air, begin


def last_time(hours: Floats, there: NDArray[np.bool_]) -> Floats:
    """The last of the hours (last axis) at which it was there; -inf: at none."""
    last = there.shape[-1] - 1 - np.argmax(there[..., ::-1], axis=-1)
    found: Floats = np.where(there.any(axis=-1), hours[last], -inf)
    return found


def since_at_limit(
    hours: Floats, inside: Floats, of_body: NDArray[np.intp], limit_c: Floats
) -> Floats:
    """Since when each body has been at its limit now; inf: it is not.

    From the last time above the limit on; without one, from the first hour. ``inside`` has a row
    a range of lags, of which ``of_body`` says each body's.
    """
    found = np.full(limit_c.size, inf)
    there = np.flatnonzero(inside[of_body, -1] <= limit_c)
    if there.size:
        above = inside[of_body[there]] > limit_c[there, None]
        last = hours.size - 1 - np.argmax(above[:, ::-1], axis=1)
        begun = np.where(above.any(axis=1), np.minimum(last + 1, hours.size - 1), 0)
        found[there] = hours[begun]
    return found
