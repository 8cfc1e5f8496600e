"""Signs beside frost, damp, batteries and silence: one call for all that a round looks at."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from monitor.craft.stored import StoredCraft
from monitor.judgement.air import SpaceAir, Traces
from monitor.judgement.apart import judge_apart
from monitor.judgement.onrecord import judge_record
from monitor.judgement.overcharge import judge_charging
from monitor.judgement.power import judge_power
from monitor.judgement.wetday import judge_wet_day
from monitor.yard.assessment import Assessment
from monitor.yard.space import Sensor, Yard


def judge_signs(
    yard: Yard,
    airs: Mapping[str, SpaceAir],
    craft: Mapping[str, Sequence[StoredCraft]],
    maintainers: Mapping[str, Sensor],
    traces: Traces,
    now: datetime,
) -> list[Assessment]:
    """Judge power, records, maintainers that overcharge, and air that is damp or told two ways.

    Parameters
    ----------
    yard : Yard
    airs : mapping of SpaceAir by space
    craft : mapping of sequence of StoredCraft by space
        Those that stand in it.
    maintainers : mapping of Sensor by craft
    traces : mapping
        Readings by sensor and channel.
    now : datetime
    """
    judged = judge_power(yard, craft, traces, now)
    for space in yard.spaces:
        judged += judge_wet_day(airs[space.id])
        judged += judge_apart(airs[space.id], yard)
        here = craft.get(space.id, ())
        judged += judge_charging(here, maintainers, traces, now)
        for each in here:
            if each.unsettled:
                judged += judge_record(each, now)
    return judged
