"""Temperature of bodies that moved: each followed the air of its earlier space until it came.

What a space's air did before a craft came into it did not touch that craft.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import inf, isfinite, nan

import numpy as np

from monitor.judgement.air.grid import Floats, SpaceAir
from monitor.judgement.air.tonight import outdoor_air
from monitor.physics.lag import LagResponse, lag_response


@dataclass(frozen=True, slots=True)
class LaggedBody:
    """A body with a lag, when it came into this air, and from which space."""

    lag_h: float
    since_h: float = -inf  # before now; -inf: since before the first reading
    came_from: str = ""  # empty: from outside the yard


def lagged_body(air: SpaceAir, lag_h: float, since: datetime | None, came_from: str) -> LaggedBody:
    """The body; its arrival is left out where it lies before the first reading."""
    since_h = -inf if since is None else (since - air.now) / timedelta(hours=1)
    # What is entered as moved in the future is not here yet; it is judged as if it were.
    return (
        LaggedBody(lag_h)
        if since_h <= air.hours[0]
        else LaggedBody(lag_h, min(since_h, 0.0), came_from)
    )


def follow_air(
    hours: Floats, air_c: Floats, bodies: list[LaggedBody], airs: Mapping[str, SpaceAir]
) -> LagResponse:
    """Temperatures of bodies that follow the air with a lag, each from its own arrival on.

    Parameters
    ----------
    hours : ndarray, shape (n,)
        Relative to now [h].
    air_c : ndarray, shape (n,) or (bodies, n)
        Of the space where they stand [°C], or of each one's own.
    bodies : list of LaggedBody
    airs : mapping of SpaceAir by space
        Where they may have come from.

    Returns
    -------
    LagResponse
        Each of shape (bodies, n); NaN before a body came. One that came from where nothing is
        known begins at the air's own temperature, as a guess.
    """
    lags = np.array([each.lag_h for each in bodies])
    response = lag_response(hours, air_c, lags)
    body_c, share = response
    for row, each in enumerate(bodies):
        if not isfinite(each.since_h):
            continue
        begin_c = _temperature_on_arrival(each, airs)
        around = air_c if air_c.ndim == 1 else air_c[row]
        here = np.where(hours < each.since_h, np.nan, around)
        own = lag_response(hours, here, each.lag_h, start_c=begin_c if isfinite(begin_c) else None)
        body_c[row], share[row] = own.body_c, own.unknown_share
    return LagResponse(body_c, share)


def _temperature_on_arrival(body: LaggedBody, airs: Mapping[str, SpaceAir]) -> float:
    """Its temperature when it came; NaN: not known."""
    before = airs.get(body.came_from) or outdoor_air(airs)
    if before is None:
        return nan
    was_c = lag_response(before.hours, before.mean_c, body.lag_h).body_c
    # Up to an hour before: whoever enters a move seldom knows the minute.
    near = (before.hours <= body.since_h) & (before.hours > body.since_h - 1.0)
    known = was_c[near & np.isfinite(was_c)]
    return float(known[-1]) if known.size else nan
