"""What a public weather service would have said: the weather to come, less and less surely."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.weather import Weather, swings

Array = NDArray[np.float64]

_BIAS_K = 0.6  # spread of a service's lasting error at one yard: valley, lake, town
_FIRST_K, _PER_DAY_K = 0.9, 0.7  # spread of the error at once, and what each day ahead adds


@dataclass(frozen=True, slots=True, kw_only=True)
class Issue:
    """One hourly forecast as it was issued."""

    issued_s: float
    at_s: Array
    air_c: Array
    dew_point_c: Array
    cloud_share: Array
    wind_m_s: Array


def issues(weather: Weather, seed: int, every_h: float = 6.0, ahead_h: int = 48) -> list[Issue]:
    """Hourly forecasts issued through a whole weather.

    Parameters
    ----------
    weather : Weather
        What will happen.
    seed : int
    every_h : float
        Between two issues [h].
    ahead_h : int
        How far each looks [h].

    Notes
    -----
    The errors are a bias of the place, and a part that is the service's own and changes slowly
    from issue to issue and hour to hour, growing with the time ahead. Clear nights come out too
    warm, as services smooth over hollows. All sizes are estimates.
    """
    rng = np.random.default_rng([seed, 11])
    bias_k = float(rng.normal(0.0, _BIAS_K))
    first_s, last_s = float(weather.at_s[0]), float(weather.at_s[-1])
    hours = np.arange(1, ahead_h + 1)
    count = int((last_s - first_s) // (every_h * 3600.0))
    lasting = swings(rng, count, every_h, 30.0)
    made = []
    for number in range(count):
        issued_s = first_s + number * every_h * 3600.0
        # Errors of one issue hang together: a shared part and one that wanders along the hours.
        wander = 0.8 * lasting[number] + 0.6 * swings(rng, ahead_h, 1.0, 12.0)
        spread = _FIRST_K + _PER_DAY_K * hours / 24.0
        at_s = issued_s + 3600.0 * hours
        at_s = at_s[at_s <= last_s]
        then = weather.during(at_s)
        cold_sky = np.clip((then.air_c - then.sky_c - 8.0) / 14.0, 0.0, 1.0)
        still = np.clip((3.0 - then.wind_m_s) / 3.0, 0.0, 1.0)
        smooth_k = 1.2 * cold_sky * still
        error = bias_k + smooth_k + (wander * spread)[: len(at_s)]
        air_c = np.round(then.air_c + error, 1)
        made.append(
            Issue(
                issued_s=issued_s,
                at_s=at_s,
                air_c=air_c,
                dew_point_c=np.minimum(np.round(then.dew_point_c + 0.7 * error, 1), air_c),
                cloud_share=np.round(1.0 - cold_sky, 2),
                wind_m_s=np.round(then.wind_m_s, 1),
            )
        )
    return made
