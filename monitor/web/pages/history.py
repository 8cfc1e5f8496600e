"""A past night as it was seen then: what was said, how each craft stood and why, what was told."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from monitor.craft.profile import Profile
from monitor.craft.stored import StoredCraft
from monitor.phrases.names import Names, plain
from monitor.phrases.past_night import origin_lines
from monitor.store.store import Store
from monitor.web.pages.night_changes import NightChanges, group_changes
from monitor.web.pages.past_night_reading import (
    WHOLE_YARD,
    NightScope,
    changes_told,
    is_about,
    is_of_then,
    read_night,
)
from monitor.web.pages.past_night_rows import (
    CraftNight,
    RaisedAlarms,
    SpaceNight,
    craft_nights,
    raised_alarms,
    space_nights,
)
from monitor.web.pages.yard_craft_list import MOST_LISTED
from monitor.wording import Wording
from monitor.yard.readers import words_for
from monitor.yard.space import Person, Space, Yard

SHOWN_IN_NEED = 12  # craft in rows of their own


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
    alarms: tuple[RaisedAlarms, ...]
    origins: tuple[str, ...]

    @property
    def by_space(self) -> tuple[tuple[Space, int, int], ...]:
        """Of a night with more craft than are listed: how many had need in each space, and not."""
        if self.only or len(self.craft) + len(self.well) <= MOST_LISTED:
            return ()
        need = Counter(row.craft.space for row in self.craft)
        well = Counter(row.craft.space for row in self.well)
        told = (row.space for row in self.spaces)
        return tuple(
            (each, need[each.id], well[each.id]) for each in told if need[each.id] + well[each.id]
        )

    @property
    def not_to_start(self) -> str:
        """Names of all that have ice inside and no row of their own, where `by_space` tells."""
        behind = self.craft[SHOWN_IN_NEED:]
        return ", ".join(plain(row.craft.name) for row in behind if row.do_not_start)

    @property
    def day_before(self) -> date:
        """The evening before."""
        return self.evening - timedelta(days=1)

    @property
    def day_after(self) -> date | None:
        """The evening after; None while it is still to come."""
        after = self.evening + timedelta(days=1)
        return after if after <= self.wording.now.astimezone(self.yard.zone).date() else None


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
        night = read_night(tx, yard, profiles, evening, now, scope)
    places = set() if night is None else scope.places_of(night.here, yard)
    if night is None or not places:
        return None
    spaces = [space for space in yard.spaces if space.id in places]
    here, then = night.here, replace(words, now=night.seen_at)
    judged = [each for each in night.past if is_of_then(each.seen, here, places)]
    rows = craft_nights(here, judged, then, night.seen_at)
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
        spaces=tuple(space_nights(spaces, night.said)),
        craft=tuple(row for row in rows if not row.is_well),
        well=tuple(row for row in rows if row.is_well),
        changes=group_changes(changes_told(night.changes, here, places)),
        alarms=raised_alarms(
            (a for a in night.raised if is_about(a.craft, a.space, here, places)),
            night.became,
            then,
        ),
        origins=tuple(origin_lines(each.origin for each in judged)),
    )


def _name_of(scope: NightScope, here: Sequence[StoredCraft], spaces: Sequence[Space]) -> str:
    if scope.craft:
        return here[0].name
    return spaces[0].name if scope.space else ""
