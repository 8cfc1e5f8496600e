"""Bodies that lag behind the courses of their air: circuits, metal and batteries, in every member.

Arrays have a row a body, a column a member and, last, the coming hours.
"""

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.ensemble import Draws
from monitor.judgement.air.grid import Floats
from monitor.physics.lag import step_weights

_BEGAN_WITHIN_K = 5.0  # a body may start this far from the first air that was read


def follow_members(
    hours: Floats, around_c: Floats, of_drive: NDArray[np.intp], start_c: Floats, lag_h: Floats
) -> Floats:
    """Temperature of bodies that lag behind the courses of their air.

    Parameters
    ----------
    hours : ndarray, shape (k,)
        From now on, evenly spaced; the first is 0.
    around_c : ndarray, shape (drives, members, k)
        NaN after a course's own end.
    of_drive : ndarray, shape (rows,)
        Which of them each row stands in.
    start_c, lag_h : ndarray, shape (rows, members)
        Temperature now [°C], and time constant [h].

    Returns
    -------
    ndarray, shape (rows, members, k)
    """
    # A row an hour until it is returned: each step then goes through memory in order.
    around = np.ascontiguousarray(np.moveaxis(around_c, -1, 0))
    body = np.empty((hours.size, *start_c.shape))
    body[0] = start_c
    if hours.size > 1:
        kept, ramp = step_weights(float(hours[1] - hours[0]), lag_h)
        begins, over = 1.0 - kept, np.empty(start_c.shape)
        risen = np.diff(around, axis=0)
        for n in range(1, hours.size):
            here = np.multiply(kept, body[n - 1], out=body[n])
            here += np.multiply(begins, around[n - 1][of_drive], out=over)
            here += np.multiply(ramp, risen[n - 1][of_drive], out=over)
    return np.moveaxis(body, 0, -1)


def start_temperatures(
    classes_c: Floats,
    unknown_share: Floats,
    sky_k: Floats,
    lag_h: Floats,
    dark_h: float,
    draws: Draws,
) -> Floats:
    """Temperature that a body may have now, in each member.

    Parameters
    ----------
    classes_c, unknown_share : ndarray, shape (classes,)
        What its past air makes of it [°C], for lags evenly spread over its range; and the weight
        that its unknown beginning still has.
    sky_k : ndarray, shape (MEMBERS,)
        What each member's sky takes beyond the middle one [K].
    lag_h : ndarray, shape (MEMBERS,)
    dark_h : float
        Hours of dark behind: the sky has pulled for so long.
    draws : Draws
    """
    which = lag_class(draws, classes_c.size)
    guessed_k = unknown_share[which] * _BEGAN_WITHIN_K * (2.0 * draws.start - 1.0)
    pulled_k = sky_k * -np.expm1(-dark_h / lag_h)
    start: Floats = classes_c[which] + guessed_k - pulled_k
    return start


def lag_class(draws: Draws, count: int) -> NDArray[np.intp]:
    """Which of so many equal parts of the range of lags each member's lies in; (members,)."""
    parts: NDArray[np.intp] = np.minimum((draws.lag * count).astype(np.intp), count - 1)
    return parts


def lags_of(low_h: float, high_h: float, draws: Draws) -> Floats:
    """Time constant in each member: any within the range is as likely, on a scale of ratios."""
    lag: Floats = low_h * (high_h / low_h) ** draws.lag
    return lag
