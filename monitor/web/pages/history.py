"""A past night as it was seen then: what was said, how each craft stood and why, what was told."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from urllib.parse import quote

from monitor.craft.profile import Profile
from monitor.craft.stored import StoredCraft
from monitor.judgement.inputs import craft_in_care
from monitor.phrases.craft_tonight import craft_sentences, has_ice, is_pressing
from monitor.phrases.names import Names
from monitor.phrases.past_night import origin_lines
from monitor.phrases.standings import is_well, worst_first
from monitor.reports.picture import compose_craft_picture
from monitor.store.standing_history import PastJudgement
from monitor.store.store import Store, Transaction
from monitor.web.pages.night_changes import NightChanges, group_changes
from monitor.wording import Wording
from monitor.yard.alarm import Alarm
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.forecast import SaidNight
from monitor.yard.readers import words_for
from monitor.yard.space import Person, Space, Yard

_USUAL_HOUR = time(20)  # by then a crew has planned its evening
_ENDS = time(12)  # of the day after
_TOLD_HAZARDS = frozenset({Hazard.FROST, Hazard.BATTERY, Hazard.AIR})
_LATEST = time(17)  # from when on an evening that is not over is shown as it is now


@dataclass(frozen=True, slots=True, kw_only=True)
class SpaceNight:
    """What was said of one space; None where nothing was."""

    space: Space
    said: SaidNight | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftNight:
    """How one craft stood then, each circuit by its last change of standing until then."""

    craft: StoredCraft
    tonight: str
    do_not_start: bool
    circuits: tuple[Assessment, ...]
    is_well: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryPage:
    """What the template shows."""

    yard: Yard
    evening: date
    seen_at: datetime
    ends_at: datetime
    only: str  # name of the one craft or space that it is about; empty: the whole yard
    query: str  # that keeps to it on the next night's page
    wording: Wording  # of now
    then: Wording  # of that evening
    names: Names
    spaces: tuple[SpaceNight, ...]
    craft: tuple[CraftNight, ...]  # those in need first
    well: tuple[CraftNight, ...]
    changes: tuple[NightChanges, ...]  # in the night, by craft or space, the worst first
    alarms: tuple[Alarm, ...]
    origins: tuple[str, ...]

    @property
    def day_before(self) -> date:
        """The evening before."""
        return self.evening - timedelta(days=1)

    @property
    def day_after(self) -> date | None:
        """The evening after; None while it is still to come."""
        after = self.evening + timedelta(days=1)
        return after if after <= self.wording.now.astimezone(self.yard.zone).date() else None


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
class _NightRead:
    """All that the store tells of a night."""

    seen_at: datetime
    ends: datetime
    said: Sequence[SaidNight]
    here: Sequence[StoredCraft]
    past: Sequence[PastJudgement]
    changes: Sequence[Assessment]
    raised: Sequence[Alarm]


def read_history_page(
    store: Store,
    yard: Yard,
    profiles: Mapping[str, Profile],
    evening: date,
    now: datetime,
    reader: Person | None = None,
    scope: NightScope = WHOLE_YARD,
) -> HistoryPage | None:
    """Read one past night; None for a night to come, or a craft or space that there is not.

    Parameters
    ----------
    store : Store
    yard : Yard
    profiles : mapping of str to Profile
    evening : date
        Of the day on which the night begins.
    now : datetime
    reader : Person, optional
        In whose units it is told.
    scope : NightScope, optional
        Of one craft or one space alone.
    """
    words = words_for(yard, now, reader)
    with store.snapshot() as tx:
        night = _read_night(tx, yard, profiles, evening, now, scope)
    places = set() if night is None else scope.places_of(night.here, yard)
    if night is None or not places:
        return None
    spaces = [space for space in yard.spaces if space.id in places]
    here, then = night.here, replace(words, now=night.seen_at)
    judged = [each for each in night.past if _is_of_then(each.seen, here, places)]
    rows = _craft_nights(here, judged, then, night.seen_at)
    return HistoryPage(
        yard=yard,
        evening=evening,
        seen_at=night.seen_at,
        ends_at=night.ends,
        only=_name_of(scope, here, spaces),
        query=scope.query,
        wording=words,
        then=then,
        names=Names.of(yard, here),
        spaces=tuple(_space_nights(spaces, night.said)),
        craft=tuple(row for row in rows if not row.is_well),
        well=tuple(row for row in rows if row.is_well),
        changes=group_changes(_changes_told(night.changes, here, places)),
        alarms=tuple(a for a in night.raised if _is_about(a.craft, a.space, here, places)),
        origins=tuple(origin_lines(each.origin for each in judged)),
    )


def _read_night(
    tx: Transaction,
    yard: Yard,
    profiles: Mapping[str, Profile],
    evening: date,
    now: datetime,
    scope: NightScope,
) -> _NightRead | None:
    said = tx.said_nights.nights_of(evening)
    seen_at = _moment_of(evening, said, yard, now)
    if seen_at is None:
        return None
    here = _craft_then(tx, profiles, yard, seen_at, scope)
    ends = min(datetime.combine(evening + timedelta(days=1), _ENDS, yard.zone), now)
    after = seen_at + timedelta(milliseconds=1)  # what was judged then stands above
    return _NightRead(
        seen_at=seen_at,
        ends=ends,
        said=said,
        here=here,
        past=tx.standing_history.standings_at(seen_at, scope.craft or None),
        changes=tx.assessments.changes_between(after, ends) if ends > after else (),
        raised=tx.alarms.raised_between(seen_at - timedelta(hours=12), ends),
    )


def _name_of(scope: NightScope, here: Sequence[StoredCraft], spaces: Sequence[Space]) -> str:
    if scope.craft:
        return here[0].name
    return spaces[0].name if scope.space else ""


def _space_nights(spaces: Iterable[Space], said: Iterable[SaidNight]) -> Iterable[SpaceNight]:
    by_space = {each.space: each for each in said}
    return (SpaceNight(space=each, said=by_space.get(each.id)) for each in spaces)


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


def _is_about(craft: str, space: str, here: Sequence[StoredCraft], places: Collection[str]) -> bool:
    """Whether something of a craft, or of a space where none is named, belongs on the page."""
    return any(one.id == craft for one in here) if craft else space in places


def _is_of_then(seen: Assessment, here: Sequence[StoredCraft], places: Collection[str]) -> bool:
    """Whether it was judged of what was there: a craft that had moved on left its last word."""
    craft = seen.subject.craft
    if not craft:
        return seen.hazard is Hazard.AIR and seen.subject.space in places
    return any(
        one.id == craft
        and seen.subject.space in {one.space, one.battery.space if one.battery else one.space}
        for one in here
    )


def _craft_nights(
    here: Sequence[StoredCraft],
    judged: Sequence[PastJudgement],
    then: Wording,
    seen_at: datetime,
) -> list[CraftNight]:
    of_craft: dict[str, list[Assessment]] = defaultdict(list)
    for each in judged:
        of_craft[each.seen.subject.craft].append(each.seen)
    found = []
    for one in here:
        picture = compose_craft_picture(one, of_craft[one.id], seen_at)
        others = [each for each in of_craft[one.id] if each.hazard is not Hazard.FROST]
        found.append(
            CraftNight(
                craft=one,
                tonight=craft_sentences(picture.circuits, others, one, then),
                do_not_start=has_ice(picture.circuits),
                circuits=tuple(a for a in picture.circuits if not is_well(a)),
                is_well=all(is_well(a) for a in picture.circuits)
                and not any(is_pressing(a) for a in others),
            )
        )
    return sorted(found, key=_need_of)


def _need_of(row: CraftNight) -> tuple[int, float, object]:
    return worst_first(row.circuits[0]) if row.circuits else (99, 0.0, row.craft.name)


def _changes_told(
    changes: Iterable[Assessment], here: Sequence[StoredCraft], places: Collection[str]
) -> Iterable[Assessment]:
    """What frost, battery and air did in the night to these craft and spaces."""
    for each in changes:
        at = each.subject
        if each.hazard in _TOLD_HAZARDS and _is_about(at.craft, at.space, here, places):
            yield each
