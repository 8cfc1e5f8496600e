"""What a round carries over of a circuit: the ice it has been through, until a person looks."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isfinite

from monitor.craft.protection import LayupState, Protection
from monitor.judgement.frost.ice_so_far import Cooling
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.facts import past_ice_of
from monitor.yard.frost_facts import NO_ICE, PastIce

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
    known = _last_seen(now, before, course.iced_h(act_from_chance))
    maybe = _last_seen(now, before, course.may_have_iced_h(act_from_chance))
    fresh = PastIce(known) if known is not None else PastIce(maybe_water_at=maybe)
    if mixed:
        fresh = PastIce(as_mix_at=fresh.as_water_at, maybe_mix_at=fresh.maybe_water_at)
    return not_looked_into(protection, before, fresh)


def _last_seen(now: datetime, before: CircuitBefore | None, last_h: float) -> datetime | None:
    """When there was ice last, if since the last round: earlier it may have stood elsewhere."""
    if not isfinite(last_h):
        return None
    at = now + timedelta(hours=last_h)
    return at if before is None or at >= before.at or last_h == 0.0 else None


def not_looked_into(
    protection: Protection, before: CircuitBefore | None, fresh: PastIce = NO_ICE
) -> PastIce:
    """What of this and of all that is remembered no person has ended.

    A mix that was a third ice may have lost glycol, and a plug of it may have done harm: a sample
    read again ends that. Water that was ice must be inspected, whatever is poured in afterwards.
    What may only have been ice was none if something has run through it since: a proven lay-up
    ends that.
    """
    known = NO_ICE if before is None else before.iced
    if fresh == known == NO_ICE and protection.suspect_since is None:
        return NO_ICE
    looked = [protection.inspected_at]
    read = [*looked, protection.sampled_at]
    proven = protection.state is LayupState.PROVEN
    maybe_water = _newest_of(known.maybe_water_at, fresh.maybe_water_at, after=read)
    return PastIce(
        _newest_of(protection.suspect_since, known.as_water_at, fresh.as_water_at, after=looked),
        _newest_of(known.as_mix_at, fresh.as_mix_at, after=read),
        None if proven else maybe_water,
        _newest_of(known.maybe_mix_at, fresh.maybe_mix_at, after=read),
    )


def _newest_of(*times: datetime | None, after: Iterable[datetime | None]) -> datetime | None:
    ended = max((at for at in after if at is not None), default=None)
    return max(
        (at for at in times if at is not None and (ended is None or at > ended)), default=None
    )
