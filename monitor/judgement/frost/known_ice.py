"""Ice that is there however a body began, where the first part of its air was never read.

What a body did before the first reading is not known: on the first evening of a yard, after a
silence, or when a craft has just come in. It is followed twice then. Begun as cold as the air, it
has the most ice that there may be: by that it is warned of. Begun warm, it has the least: only that
is said to be there, and called icing or solid. So less evidence takes no warning away. Nor does it
make ice: what is said to be frozen is left alone, and a craft that came warm an hour ago can still
be drained. What lies between the two may be liquid or ice, so its act is one that is right in both
cases: look whether water still runs. Both ends are followed, and not weighed, for nobody knows how
many craft of a yard came warm.

A craft that came into cold air from outside the yard begins, at its coldest, as cold as it was
outside (`Body.outside_c`): who brings it from a road in frost may bring ice.
"""

from collections.abc import Sequence
from math import inf

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.driving_air import DrivingAir
from monitor.judgement.air.grid import Floats
from monitor.judgement.frost.ice_so_far import (
    Body,
    IceSoFar,
    KnownIce,
    follow_past_ice,
    since_at_limit,
)
from monitor.physics.lag import air_at_restart, unbroken_from

_WARM_START_C = 20.0  # out of a heated shop, or off summer's water (estimate, no source)
_WORTH_FOLLOWING = 0.01  # a start that weighs less moves a body by 0.2 K at the most

_Driven = Sequence[tuple[DrivingAir, Body]]


def known_ice(
    driven: _Driven,
    of_body: NDArray[np.intp],
    by_lag_c: Floats,
    unknown_share: Floats,
    most: IceSoFar,
) -> list[KnownIce]:
    """The ice of each body that is there even if it was warm when its air began to be read.

    Parameters
    ----------
    driven : sequence of (DrivingAir, Body)
    of_body : ndarray, shape (bodies,)
        Which range of lags each body's is.
    by_lag_c, unknown_share : ndarray, shape (ranges, 1 + lags, n)
        What it was begun as cold as the air [°C], and the weight that this beginning has.
    most : IceSoFar
        The ice that there may be: of what began so.
    """
    hours = driven[0][0].past.hours
    limit_c = np.array([body.locked_c for _, body in driven])
    found = _as_followed(hours, by_lag_c[:, 0], of_body, limit_c, most)
    weighs = (unknown_share[:, :, -1].max(axis=1) > _WORTH_FOLLOWING)[of_body]
    begins = {id(drive): drive.past for (drive, _), one in zip(driven, weighs, strict=True) if one}
    from_h = {key: float(hours[unbroken_from(hours, past.air_c)]) for key, past in begins.items()}
    ice_points_c = np.array([body.ice_point_c for _, body in driven])
    iced = np.isfinite(most.iced_last_h).any(axis=(1, 2)) | (most.fraction > 0.0).any(axis=1)
    iced |= by_lag_c[of_body, 0, -1] <= ice_points_c
    few = np.flatnonzero(weighs & iced)
    if few.size:
        at_start_c = {key: air_at_restart(hours, past.air_c) for key, past in begins.items()}
        starts_c = np.array([at_start_c[id(driven[each][0])] for each in few.tolist()])
        lift_k = np.maximum(_WARM_START_C - starts_c, 0.0)[:, None]
        warm_c = by_lag_c[of_body[few]] + unknown_share[of_body[few]] * lift_k
        of_few = [driven[each] for each in few.tolist()]
        own = np.arange(few.size)
        least = follow_past_ice(of_few, warm_c, own, None, _WARM_START_C)
        begun_warm = _as_followed(hours, warm_c[:, 0], own, limit_c[few], least)
        for each, one in zip(few.tolist(), begun_warm, strict=True):
            found[each] = one
    for each in np.flatnonzero(weighs).tolist():
        found[each] = found[each]._replace(from_h=from_h[id(driven[each][0])])
    return found


def _as_followed(
    hours: Floats, middle_c: Floats, of_body: NDArray[np.intp], limit_c: Floats, ice: IceSoFar
) -> list[KnownIce]:
    """What of bodies is known where they began as they were followed.

    ``middle_c`` are courses by the middle of a range of lags, of which ``of_body`` says each one's.
    """
    fraction = ice.fraction[:, 0]
    since_h = since_at_limit(hours, middle_c, of_body, limit_c)
    through_h = np.where(fraction >= 1.0, ice.through_h, inf)
    rows = zip(middle_c[of_body, -1], fraction, since_h, through_h, ice.iced_last_h, strict=True)
    return [
        KnownIce(-inf, float(now_c), float(share), float(at_h), float(solid_h), last_h)
        for now_c, share, at_h, solid_h, last_h in rows
    ]
