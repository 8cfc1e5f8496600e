"""What the store tells of a past night, and which of it belongs to one craft or one space."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from urllib.parse import quote

from monitor.craft.profile import Profile
from monitor.craft.stored import StoredCraft
from monitor.judgement.inputs import craft_in_care
from monitor.store.standing_history import PastJudgement
from monitor.store.store import Transaction
from monitor.yard.alarm import Alarm, AlarmEvent
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.forecast import SaidNight
from monitor.yard.space import Yard

_USUAL_HOUR = time(20)  # by then a crew has planned its evening
_ENDS = time(12)  # of the day after
_TOLD_HAZARDS = frozenset({Hazard.FROST, Hazard.BATTERY, Hazard.AIR})
_LATEST = time(17)  # from when on an evening that is not over is shown as it is now


@dataclass(frozen=True, slots=True, kw_only=True)
class NightScope:
    """What a page of a night is about: one craft, one space, or (both empty) the whole yard."""

    craft: str = ""
    space: str = ""

    @property
    def query(self) -> str:
        """What keeps to it on another night's page."""
        if self.craft:
            return f"?craft={quote(self.craft)}"
        return f"?space={quote(self.space)}" if self.space else ""

    def places_of(self, here: Sequence[StoredCraft], yard: Yard) -> set[str]:
        """Ids of the spaces that it is about; none where there is nothing of what was asked."""
        known = {each.id for each in yard.spaces}
        if self.craft:
            return {one.space for one in here} & known
        return {self.space} & known if self.space else known


WHOLE_YARD = NightScope()


@dataclass(frozen=True, slots=True, kw_only=True)
class NightRead:
    """All that the store tells of a night."""

    seen_at: datetime
    ends: datetime
    said: Sequence[SaidNight]
    here: Sequence[StoredCraft]
    past: Sequence[PastJudgement]
    changes: Sequence[Assessment]
    raised: Sequence[Alarm]
    became: Mapping[str, Sequence[AlarmEvent]]  # of each of these by its id


def read_night(
    tx: Transaction,
    yard: Yard,
    profiles: Mapping[str, Profile],
    evening: date,
    now: datetime,
    scope: NightScope,
) -> NightRead | None:
    """Read it from one snapshot; None for a night to come."""
    said = tx.said_nights.nights_of(evening)
    seen_at = _moment_of(evening, said, yard, now)
    if seen_at is None:
        return None
    here = _craft_then(tx, profiles, yard, seen_at, scope)
    ends = min(datetime.combine(evening + timedelta(days=1), _ENDS, yard.zone), now)
    after = seen_at + timedelta(milliseconds=1)  # what was judged then stands above
    raised = tx.alarms.raised_between(seen_at - timedelta(hours=12), ends)
    return NightRead(
        seen_at=seen_at,
        ends=ends,
        said=said,
        here=here,
        past=tx.standing_history.standings_at(seen_at, scope.craft or None),
        changes=tx.assessments.changes_between(after, ends) if ends > after else (),
        raised=raised,
        became=tx.alarms.histories_of([each.id for each in raised]),
    )


def _moment_of(
    evening: date, said: Sequence[SaidNight], yard: Yard, now: datetime
) -> datetime | None:
    """When the night is looked at: as it was spoken of, else in the usual hour; None: to come."""
    if said:
        return max(each.said_at for each in said)
    usual = datetime.combine(evening, _USUAL_HOUR, yard.zone)
    if usual <= now:
        return usual
    begins = datetime.combine(evening, _LATEST, yard.zone)
    return now if begins <= now else None


def _craft_then(
    tx: Transaction, profiles: Mapping[str, Profile], yard: Yard, at: datetime, scope: NightScope
) -> list[StoredCraft]:
    """The craft in the yard's care then, by what is on record of that time."""
    if scope.craft:
        record = tx.layup.record_of(scope.craft, profiles)
        return [] if record is None else list(craft_in_care([record], yard, at))
    found = craft_in_care(tx.layup.all_records(profiles), yard, at)
    return [one for one in found if scope.space in {"", one.space}]


def is_about(craft: str, space: str, here: Sequence[StoredCraft], places: Collection[str]) -> bool:
    """Whether something of a craft, or of a space where none is named, belongs on the page."""
    return any(one.id == craft for one in here) if craft else space in places


def is_of_then(seen: Assessment, here: Sequence[StoredCraft], places: Collection[str]) -> bool:
    """Whether it was judged of what was there: a craft that had moved on left its last word."""
    craft = seen.subject.craft
    if not craft:
        return seen.hazard is Hazard.AIR and seen.subject.space in places
    return any(
        one.id == craft
        and seen.subject.space in {one.space, one.battery.space if one.battery else one.space}
        for one in here
    )


def changes_told(
    changes: Iterable[Assessment], here: Sequence[StoredCraft], places: Collection[str]
) -> Iterable[Assessment]:
    """What frost, battery and air did in the night to these craft and spaces."""
    for each in changes:
        at = each.subject
        if each.hazard in _TOLD_HAZARDS and is_about(at.craft, at.space, here, places):
            yield each
