"""What a round carries over of a circuit: the ice it has been through, until a person looks."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isfinite

from monitor.craft.protection import Protection
from monitor.judgement.frost.ice_so_far import Cooling
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.facts import past_ice_of
from monitor.yard.frost_facts import PastIce

_NO_ICE = PastIce()
Part = tuple[str, str]  # a craft's id and one of its circuits'


@dataclass(frozen=True, slots=True)
class CircuitBefore:
    """What an earlier round said of one circuit."""

    at: datetime
    iced: PastIce


def past_ice_by_part(earlier: Iterable[Assessment]) -> dict[Part, CircuitBefore]:
    """Ice that the round before remembered, by craft and circuit, wherever the craft stood."""
    return {
        (each.subject.craft, each.subject.part): CircuitBefore(each.at, past_ice_of(each.facts))
        for each in earlier
        if each.hazard is Hazard.FROST
    }


def iced_by(
    now: datetime,
    before: CircuitBefore | None,
    protection: Protection,
    course: Cooling,
    act_from_chance: float,
    *,
    mixed: bool,
) -> PastIce:
    """Ice that it was computed or entered to hold, as far as nobody has looked since.

    Computed ice counts where its chance is worth an act.
    """
    last: datetime | None = None
    last_h = course.iced_since(act_from_chance)
    if isfinite(last_h):
        # Only what came since the last round: before it the craft may have stood elsewhere.
        at = now + timedelta(hours=last_h)
        if before is None or at >= before.at or last_h == 0.0:
            last = at
    return not_looked_into(
        protection,
        before,
        as_water=None if mixed else last,
        as_mix=last if mixed else None,
    )


def not_looked_into(
    protection: Protection,
    before: CircuitBefore | None,
    as_water: datetime | None = None,
    as_mix: datetime | None = None,
) -> PastIce:
    """What of this and of all that is remembered no person has ended.

    A mix that was a third ice may have lost glycol, and a plug of it may have done harm: a sample
    read again ends that. Water that was ice must be inspected, whatever is poured in afterwards.
    """
    known = _NO_ICE if before is None else before.iced
    if as_water is as_mix is protection.suspect_since is None and known == _NO_ICE:
        return _NO_ICE
    looked = [protection.inspected_at]
    water = _newest_of(protection.suspect_since, known.as_water_at, as_water, after=looked)
    looked.append(protection.sampled_at)
    return PastIce(water, _newest_of(known.as_mix_at, as_mix, after=looked))


def _newest_of(*times: datetime | None, after: Iterable[datetime | None]) -> datetime | None:
    ended = max((at for at in after if at is not None), default=None)
    return max(
        (at for at in times if at is not None and (ended is None or at > ended)), default=None
    )
