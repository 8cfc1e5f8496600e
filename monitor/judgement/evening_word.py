"""What is said of each night at the evening hour, kept, and later what the night came to."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from math import isfinite

import numpy as np

from monitor.clock import to_ms
from monitor.judgement.air.night_members import noon_after
from monitor.judgement.air.past_weeks import SpacePast
from monitor.yard.air_facts import AirFacts
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.forecast import SaidNight
from monitor.yard.space import Yard

# A crew plans its evening then. One that starts later has said nothing of that night in time.
SAID_FROM, SAID_UNTIL = time(17), time(20)
SETTLED_AGAIN = timedelta(days=3)  # a logger's backlog may change what a night was
_WHOLE = 0.8  # share of a night's hours that must be known for it to count


def evening_due(now: datetime, yard: Yard) -> date | None:
    """The evening of which a round at this time is to keep what it says; None at other hours."""
    local = now.astimezone(yard.zone)
    return local.date() if SAID_FROM <= local.time() < SAID_UNTIL else None


def nights_said(judged: Sequence[Assessment], evening: date) -> list[SaidNight]:
    """What a round says of the coming night of each space whose air is known."""
    found = []
    for each in judged:
        air = each.facts
        if each.hazard is not Hazard.AIR or not isinstance(air, AirFacts):
            continue
        quantiles = (air.low_band_low_c, air.low_expected_c, air.low_band_high_c)
        if not all(isfinite(one) for one in (*quantiles, each.now_c)):
            continue
        cold, expected, warm = quantiles
        found.append(
            SaidNight(
                space=each.subject.space,
                evening=evening,
                said_at=each.at,
                air_c=each.now_c,
                cold_c=min(cold, expected),
                expected_c=expected,
                warm_c=max(warm, expected),
                below_zero=chance if isfinite(chance := air.chance_below_zero) else None,
            )
        )
    return found


def nights_over(
    said: Sequence[SaidNight], spaces: Mapping[str, SpacePast], yard: Yard, now: datetime
) -> list[tuple[str, date, float]]:
    """What nights came to: the lowest air from the time that they were spoken of to the noon after.

    Parameters
    ----------
    said : sequence of SaidNight
    spaces : mapping of SpacePast by space
        The memory of their air.
    yard : Yard
    now : datetime
        Nights whose noon is still to come are left out.

    Returns
    -------
    list of (space, evening, low [°C])
        Of those known for four fifths of their hours, where that is not what is kept already.
    """
    found = []
    for night in said:
        noon = noon_after(night.evening, yard)
        past = spaces.get(night.space)
        if noon > now or past is None:
            continue
        first, last = np.searchsorted(past.at_ms, [to_ms(night.said_at) + 1, to_ms(noon) + 1])
        due_h = (noon - night.said_at) / timedelta(hours=1)
        if last - first < _WHOLE * due_h:
            continue
        # An hour's low reaches back over the hour before it: the first one is known by its end.
        low_c = min(float(past.low_c[first + 1 : last].min()), float(past.air_c[first]))
        low_c = min(low_c, night.air_c)
        if night.low_c is None or abs(low_c - night.low_c) >= 0.01:
            found.append((night.space, night.evening, low_c))
    return found
