"""Evenings as arrays: what was said of each space and circuit, and what then happened."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from monitor.reports.scores import rank_quantiles
from tests.bench.winters.asking import Asked
from tests.bench.winters.rivals import (
    climate_quantiles,
    frequency,
    last_again,
    trial_chance,
    trial_members,
)
from tests.bench.winters.truth import LIKE, STEP_H, Truth, true_lags_h

_WARNS = frozenset({"exposed", "icing", "solid", "suspect"})
_NOON_H = 36  # after the day's begin: until then a night counts


@dataclass(frozen=True, kw_only=True)
class LowCases:
    """The coming low of one space, evening by evening, shape (n,) and (n, 3)."""

    day: np.ndarray
    now_c: np.ndarray
    happened_c: np.ndarray
    said_c: np.ndarray
    climate_c: np.ndarray
    trial_members_c: list[np.ndarray]
    persistence_c: np.ndarray

    @property
    def trial_c(self) -> np.ndarray:
        return np.array([rank_quantiles(each) for each in self.trial_members_c])

    @property
    def scored(self) -> np.ndarray:
        known = np.isfinite(self.happened_c) & np.isfinite(self.persistence_c)
        return known & np.isfinite(self.said_c).all(axis=1)


@dataclass(frozen=True, kw_only=True)
class IceCases:
    """Ice in one circuit until noon, evening by evening; only evenings that begin without ice."""

    night: np.ndarray  # day of the winter
    froze: np.ndarray  # booleans, as all whose name ends in warned
    third: np.ndarray  # booleans: a third of it froze, what may break it
    said: np.ndarray
    said_third: np.ndarray
    warned: np.ndarray
    thin: np.ndarray
    climate: np.ndarray
    persistence_warned: np.ndarray
    trial: np.ndarray
    today_said: np.ndarray
    today_warned: np.ndarray
    above_until_noon: np.ndarray


def low_cases(
    truth: Truth, space: str, asked: Sequence[Asked], today: Sequence[Asked], hour: int
) -> LowCases:
    air, days, ask_h = truth.air_c[space], np.array([each.day for each in asked]), hour
    happened = np.array([_low(truth, air, day, ask_h) for day in days])
    whole = np.array([_low(truth, air, day - 1, 12) for day in days])
    now = np.array([air[_step(day, ask_h)] for day in days])
    said = [each.air[space] for each in asked]
    expected = np.array([each.air[space].expected_c for each in today])
    return LowCases(
        day=days,
        now_c=now,
        happened_c=happened,
        said_c=np.array([(one.cold_c, one.expected_c, one.warm_c) for one in said]),
        climate_c=climate_quantiles(happened, now),
        trial_members_c=trial_members(expected, happened, now),
        persistence_c=np.minimum(whole, now),
    )


def ice_cases(
    truth: Truth, key: tuple[bool, str, str], asked: Sequence[Asked], today: Sequence[Asked],
    low: LowCases, hour: int,
) -> IceCases:  # fmt: skip
    """Cases of one circuit; ``key`` is whether the sky takes its heat, the space and the part.

    ``low`` is its space's, of the same evenings.
    """
    sky, space, part = key
    bodies, air, around = truth.body_c[key], truth.air_c[space], truth.around_c[sky, space]
    days = low.day
    lows = np.array([_low(truth, bodies[day % LIKE], day, hour) for day in days])
    froze = np.where(np.isfinite(lows), lows <= 0.0, np.nan)
    nights = np.array([_low(truth, bodies[day % LIKE], day - 1, 12) for day in days])
    begun = np.array([bodies[day % LIKE][_step(day, hour)] for day in days])
    lags = true_lags_h(part)

    def ice_from(day: int, begin: int, end: int) -> np.ndarray:
        return ice_share(around, bodies[day % LIKE], max(begin, 0), end, lags[day % LIKE])

    now = [_step(day, hour) for day in days]
    back, ahead = round(96.0 / STEP_H), round((_NOON_H - hour) / STEP_H)
    each_day = list(zip(days, now, strict=True))
    thawed = np.array([ice_from(day, at - back, at)[-1] <= 0.0 for day, at in each_day])
    third = np.array([ice_from(day, at, at + ahead).max() >= 1.0 / 3.0 for day, at in each_day])
    use = np.isfinite(froze) & (begun > 0.0) & thawed & low.scored
    said, was = ([each.parts[space, part] for each in some] for some in (asked, today))
    trial = [
        trial_chance(low.trial_members_c[n], air, _step(day, hour), part, hour)
        if use[n]
        else np.nan
        for n, day in enumerate(days)
    ]
    return IceCases(
        night=days[use],
        froze=froze[use] > 0.0,
        third=third[use],
        said_third=np.array([one.chance_third for one in said])[use],
        said=np.array([one.chance for one in said])[use],
        warned=np.array([one.standing in _WARNS for one in said])[use],
        thin=np.array([one.standing == "thin" for one in said])[use],
        climate=frequency(froze)[use],
        persistence_warned=(last_again(nights) <= 0.0)[use] | (nights <= 0.0)[use],
        trial=np.array(trial)[use],
        today_said=np.array([one.chance for one in was])[use],
        today_warned=np.array([one.standing in _WARNS for one in was])[use],
        above_until_noon=(lows > 0.0)[use],
    )


def ice_share(
    around_c: np.ndarray, body_c: np.ndarray, begin: int, end: int, lag_h: float
) -> np.ndarray:
    """Share of a body that is ice, from one step to another; none at the first.

    Ice grows and melts by the degree-hours around it, up to what a third of a litre in 20 kJ/K
    holds: 100 kJ, five times the lag in K h. The metal alone may be above 0 °C while it melts.
    """
    ice, share = 0.0, []
    few = slice(begin, end + 1)
    for around, body in zip(around_c[few].tolist(), body_c[few].tolist(), strict=True):
        if ice > 0.0 or body <= 0.0:
            ice = min(max(ice - around * STEP_H, 0.0), 5.0 * lag_h)
        share.append(ice / (5.0 * lag_h))
    return np.array(share)


def _step(day: int, hour: int) -> int:
    return round((24 * day + hour) / STEP_H)


def _low(truth: Truth, values: np.ndarray, day: int, hour: int) -> float:
    """Lowest from an hour of a day to the noon after it; NaN where that is not known."""
    here = slice(_step(day, hour), _step(day, _NOON_H) + 1)
    if truth.seam[here].any() or not truth.known[here].all():
        return float("nan")
    return float(values[here].min())
