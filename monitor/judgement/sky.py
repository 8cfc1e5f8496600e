"""How far below the air a clear night pulls what stands under the sky. An estimate, and said so."""

from datetime import datetime, timedelta

import numpy as np

from monitor.judgement.air import Floats
from monitor.judgement.dark import dark_of
from monitor.yard.space import SpaceKind, Yard

# Common practice, no source: 2 to 5 K for exposed surfaces; wrap takes up most of it.
SKY_LOSS_K = {SpaceKind.OPEN: 3.0, SpaceKind.WRAPPED: 1.0}


def sky_loss(kind: SpaceKind, hours: Floats, now: datetime, yard: Yard) -> Floats:
    """Kelvin by which the surroundings of a craft lie below the measured air, at each time.

    Parameters
    ----------
    kind : SpaceKind
    hours : ndarray, shape (n,)
        Times relative to ``now`` [h].
    now : datetime
    yard : Yard

    Returns
    -------
    ndarray, shape (n,)
        0 by day and under a roof. How clear the sky is is not known, so every night counts as
        clear.
    """
    loss = np.zeros(hours.size)
    loss_k = SKY_LOSS_K.get(kind, 0.0)
    if loss_k == 0.0 or not hours.size:
        return loss
    day = (now + timedelta(hours=float(hours[0]))).astimezone(yard.zone).date()
    last = (now + timedelta(hours=float(hours[-1]))).astimezone(yard.zone).date()
    day -= timedelta(days=1)
    while day <= last:
        night = dark_of(day, yard)
        down = (night.sunset - now).total_seconds() / 3600.0
        up = (night.sunrise - now).total_seconds() / 3600.0
        loss[(hours >= down) & (hours < up)] = loss_k
        day += timedelta(days=1)
    return loss
