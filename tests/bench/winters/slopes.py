"""Slopes of the night's fall on what is known at the hour, over the winters that may be tuned on.

``python -m tests.bench.winters.slopes`` prints both tables of `fall_regression` anew: a row for
each hour after sunset, the slopes and then the means of the signs. Slopes are fitted to each
place's differences from its own mean, so that no place's level gets into them; the three stations
around New York share their weather and count as one place.
"""

import sys
from datetime import timedelta

import numpy as np

from monitor.clock import to_ms
from monitor.judgement.air.fall_regression import PREDICTORS
from monitor.judgement.air.past_weeks import SpacePast, night_table
from tests.bench.winters.asking import SPACES, yard_of
from tests.bench.winters.places import END, TUNE, Weather, winter_of
from tests.bench.winters.truth import truth_of

HOURS = (-6.0, -3.0, -1.0, 1.0, 3.0, 6.0, 9.0, 12.0)
_ONE_PLACE = frozenset({"newark", "kennedy", "laguardia"})
_STEADY = 0.02  # of each sign's own sum of squares: a slope that nothing fixes stays near 0
_NIGHTS = 180


def main() -> int:
    """Print the rows, outdoors and behind walls."""
    winters = {name: winter_of(name) for name in TUNE}
    weights = {name: 1.0 / (len(_ONE_PLACE) if name in _ONE_PLACE else 1) for name in winters}
    for space in SPACES:
        print(f"# {space}")
        pasts = {name: past_of(each, space) for name, each in winters.items()}
        for hour in HOURS:
            nights = {name: nights_of(pasts[name], each, hour) for name, each in winters.items()}
            slopes, means = fit(nights, weights)
            print(", ".join([*(f"{x:.2f}" for x in slopes), *(f"{x:.1f}" for x in means)]))
    return 0


def past_of(weather: Weather, space: str) -> SpacePast:
    """A whole winter as a space remembers it, without the hours at joints between years."""
    air_c = truth_of(weather).air_c[space][::6]
    said = np.isfinite(weather.dew_point_c)
    dew_c = np.interp(np.arange(air_c.size), np.flatnonzero(said), weather.dew_point_c[said])
    use = np.isfinite(weather.air_c) & ~weather.seam
    at_ms = to_ms(weather.begin) + np.arange(air_c.size, dtype=np.int64) * 3_600_000
    return SpacePast(
        at_ms=at_ms[use],
        air_c=air_c[use],
        low_c=air_c[use],
        dew_point_c=np.minimum(dew_c, air_c)[use],
    )


def nights_of(past: SpacePast, weather: Weather, hour: float) -> tuple[np.ndarray, np.ndarray]:
    """Signs and falls of the nights on which all signs are known."""
    table = night_table(past, yard_of(weather), (END - timedelta(days=1)).date(), hour, _NIGHTS)
    known = np.isfinite(table.predictors_k).all(axis=1)
    return table.predictors_k[known], (table.air_c - table.low_c)[known]


def fit(
    nights: dict[str, tuple[np.ndarray, np.ndarray]], weights: dict[str, float]
) -> tuple[np.ndarray, np.ndarray]:
    """Slopes over all places' differences from their own means, and the means of the signs."""
    squares, products, means = (
        np.zeros((PREDICTORS, PREDICTORS)),
        np.zeros(PREDICTORS),
        np.zeros(PREDICTORS),
    )
    for name, (signs, falls) in nights.items():
        away = signs - signs.mean(axis=0)
        squares += weights[name] * away.T @ away
        products += weights[name] * away.T @ (falls - falls.mean())
        means += weights[name] * signs.mean(axis=0)
    squares += _STEADY * np.diag(np.diag(squares))
    return np.linalg.solve(squares, products), means / sum(weights.values())


if __name__ == "__main__":
    sys.exit(main())
