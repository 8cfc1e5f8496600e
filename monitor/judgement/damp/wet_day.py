"""A building's air that has been wetting for a whole day: by hours, not by surfaces."""

import numpy as np

from monitor.judgement.air.grid import STEP_H, SpaceAir
from monitor.physics.wetness import is_wet
from monitor.yard.assessment import (
    Assessment,
    Caution,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.damp_facts import WetDayFacts
from monitor.yard.space import OUTDOORS

DAY_H = 24.0
_HEARD_H = 22.0  # of the day: two hours are bridged anyway, and longer silence is its own alarm


def judge_wet_day(air: SpaceAir) -> list[Assessment]:
    """Judge one space's air by its hours of wetness (ISO 9223: RH over 80 %, above 0 °C).

    Parameters
    ----------
    air : SpaceAir

    Returns
    -------
    list of Assessment
        Damp where it was wetting all through the last 24 h, as far as it was heard, and that was
        22 h at the least; not known where less was heard and nothing dry; dry else. None where
        no humidity was heard, and for rows and racks, which are wet by nature.
    """
    space = air.space
    if space.kind in OUTDOORS:
        return []
    day = air.hours > -DAY_H + 1e-6
    known = day & np.isfinite(air.rh_pct) & np.isfinite(air.warmest_c)
    wet = is_wet(air.warmest_c, air.rh_pct) & known
    heard_h, dry_h = float(known.sum()) * STEP_H, float((known & ~wet).sum()) * STEP_H
    if not heard_h:
        return []
    if dry_h > 0.0:
        standing = Standing.DRY
    else:
        standing = Standing.DAMP if heard_h >= _HEARD_H else Standing.NOT_KNOWN
    damp = standing is Standing.DAMP
    mean_pct = float(air.rh_pct[known].mean())
    return [
        Assessment(
            subject=Subject(space.id),
            hazard=Hazard.DAMP,
            standing=standing,
            at=air.now,
            facts=WetDayFacts(wet_h=heard_h - dry_h, heard_h=heard_h, mean_rh_pct=mean_pct),
            calls_for_act=damp,
            urgency=Urgency.EXPECTED if damp else Urgency.FUTURE,
            severity=Severity.MINOR,
            certainty=Certainty.OBSERVED,
            cautions=(Caution.HEATERS,) if damp else (),
        )
    ]
