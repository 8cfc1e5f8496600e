"""At this pace: when a yard is through with its lay-ups, and how likely a hard night comes before.

Sums over dates and counts alone. The pace is what the record shows of the last weeks, day for day;
when it ends is drawn many times from those days, always with the same draws, so that more hands or
fewer craft never come out later.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import erf, inf, sqrt

import numpy as np
from numpy.typing import NDArray

LOOK_BACK_DAYS = 28
FEWEST_DAYS = 7  # since the first craft of the season was finished
FEWEST_WORKED = 3  # days on which at least one was
_MOST_ON_A_DAY = 3.0  # times the middle working day: more is paper entered late, not pace
_DRAWS, _HORIZON_DAYS, _SEED = 400, 365, 19
_RANGE = (0.1, 0.5, 0.9)

# The coldest of a hard night [°C]: common practice, no source (below about -4 °C plastic hoses
# break when they are pulled, and what is left to drain is hardly done outdoors).
HARD_NIGHT_C = -4.0
# Chance of at least one hard night within three nights, by month, where winters freeze:
# common practice, no source. Past winters of the yard take its place as they come.
PRIOR_OF_THREE_NIGHTS: Mapping[int, float] = {
    1: 0.60, 2: 0.55, 3: 0.30, 4: 0.08, 5: 0.01, 6: 0.0, 7: 0.0, 8: 0.0, 9: 0.01, 10: 0.05,
    11: 0.25, 12: 0.50,
}  # fmt: skip
PRIOR_WEIGHT = 2.0  # past winters that the prior stands for
_FORECAST_SPREAD_K, _MORE_A_DAY_K = 2.0, 0.4  # of a public forecast's low: est., no source


@dataclass(frozen=True, slots=True, kw_only=True)
class LayupPace:
    """Craft finished on each of the last days, today not among them; the last one last."""

    per_day: tuple[float, ...]

    @property
    def per_week(self) -> float:
        """Craft a week, on average."""
        return 7.0 * sum(self.per_day) / len(self.per_day)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """The day on which the last craft is finished; None: not within a year at this pace.

    Nine times in ten not before ``early``, nine times in ten not after ``late``.
    """

    early: date | None
    likely: date | None
    late: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HardNight:
    """Chance of a hard night before a day, and what it rests on."""

    chance: float
    nights: int  # that it is of
    past_winters: int
    forecast_nights: int


def pace_of(finished: Mapping[date, int], today: date) -> LayupPace | None:
    """The pace of the last weeks; None where they are too few to tell.

    Parameters
    ----------
    finished : mapping of date to int
        Craft finished on each day of this season.
    today : date
        It does not count: it is not over.
    """
    begun = min((day for day, count in finished.items() if count > 0), default=today)
    first = max(begun, today - timedelta(days=LOOK_BACK_DAYS))
    days = (today - first).days
    counts = [float(finished.get(first + timedelta(days=n), 0)) for n in range(days)]
    worked = [count for count in counts if count > 0.0]
    if days < FEWEST_DAYS or len(worked) < FEWEST_WORKED:
        return None
    most = _MOST_ON_A_DAY * float(np.median(worked))
    return LayupPace(per_day=tuple(min(count, most) for count in counts))


def finish_of(left: int, pace: LayupPace, today: date, more_hands: float = 1.0) -> Finish:
    """When so many craft are finished, from tomorrow on.

    Parameters
    ----------
    left : int
        Craft that are not laid up.
    pace : LayupPace
    today : date
    more_hands : float
        Hands over those that made the pace, above 0.
    """
    if left <= 0:
        return Finish(early=today, likely=today, late=today)
    seen = np.array(pace.per_day, dtype=np.float64) * more_hands
    draw = np.random.default_rng(_SEED)
    # Days like some of those that were seen: how typical these weeks were is not known either.
    typical = draw.integers(0, seen.size, (_DRAWS, seen.size))
    ahead = draw.integers(0, seen.size, (_DRAWS, _HORIZON_DAYS))
    done = np.cumsum(seen[np.take_along_axis(typical, ahead, axis=1)], axis=1)
    through = done >= left - 1e-9
    days = np.where(through.any(axis=1), through.argmax(axis=1) + 1.0, inf)
    early, likely, late = (_day_after(today, days, share) for share in _RANGE)
    return Finish(early=early, likely=likely, late=late)


def _day_after(today: date, days: NDArray[np.float64], share: float) -> date | None:
    """The day by which a share of the draws is through; None where fewer ever are."""
    in_order = np.sort(days)
    picked = in_order[min(int(share * in_order.size), in_order.size - 1)]
    return None if picked == inf else today + timedelta(days=int(picked))


def chance_of_hard_night(
    nights: Sequence[date],
    forecast: Mapping[date, tuple[float, float]],
    past: Sequence[bool],
    *,
    southern: bool = False,
) -> HardNight:
    """Chance that one of some nights in a row is hard.

    Parameters
    ----------
    nights : sequence of date
        Their evenings, in order.
    forecast : mapping of date to (float, float)
        Expected low and its standard deviation [°C, K] of those that are spoken of already.
    past : sequence of bool
        Of each past winter of this yard, whether one of the same nights was hard.
    southern : bool
        South of the equator: the months of the prior are half a year on.
    """
    spoken = [forecast[night] for night in nights if night in forecast]
    # Nights of one cold spell come together: the worst of them counts, not their product.
    near = max((_below(HARD_NIGHT_C, low, spread) for low, spread in spoken), default=0.0)
    beyond = [night for night in nights if night not in forecast]
    mild = 1.0
    for night in beyond:
        mild *= (1.0 - PRIOR_OF_THREE_NIGHTS[_month(night, southern)]) ** (1.0 / 3.0)
    later = (sum(past) + PRIOR_WEIGHT * (1.0 - mild)) / (len(past) + PRIOR_WEIGHT)
    return HardNight(
        chance=1.0 - (1.0 - near) * (1.0 - (later if beyond else 0.0)),
        nights=len(nights),
        past_winters=len(past),
        forecast_nights=len(spoken),
    )


def forecast_spread_k(days_ahead: int) -> float:
    """How far a public forecast's low is off [K, one standard deviation]; an estimate."""
    return _FORECAST_SPREAD_K + _MORE_A_DAY_K * max(days_ahead, 0)


def _month(night: date, southern: bool) -> int:
    return (night.month + 5) % 12 + 1 if southern else night.month


def _below(limit_c: float, low_c: float, spread_k: float) -> float:
    if spread_k <= 0.0:
        return float(low_c <= limit_c)
    return 0.5 * (1.0 + erf((limit_c - low_c) / (spread_k * sqrt(2.0))))
