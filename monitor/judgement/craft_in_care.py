"""The craft that stand in the yard now, each added up from its record."""

from collections.abc import Hashable, Iterable, Mapping
from datetime import datetime, timedelta

from monitor.clock import Clock
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord, stored_craft
from monitor.craft.stored import StoredCraft
from monitor.store.store import Store
from monitor.yard.readers import words_kept
from monitor.yard.space import Yard, shelters

_ADD_UP_EVERY = timedelta(minutes=10)  # moves and ageing take effect with time alone


class CraftInCare:
    """Adds every craft's record up, and again when the record or the time has moved on."""

    def __init__(
        self, store: Store, profiles: Mapping[str, Profile], yard: Yard, clock: Clock
    ) -> None:
        self._store, self._profiles, self._yard, self._clock = store, profiles, yard, clock
        self._revision: Hashable = None
        self._craft: tuple[StoredCraft, ...] = ()
        self._as_of: datetime | None = None

    def read_now(self) -> tuple[StoredCraft, ...]:
        """Every craft in the yard's care now, by id; one that cannot be read says so itself."""
        now = self._clock.now()
        with self._store.snapshot() as tx:
            revision = tx.layup.revision_mark()
            fresh = revision == self._revision
            if fresh and self._as_of is not None and now - self._as_of < _ADD_UP_EVERY:
                return self._craft
            records = tx.layup.all_records(self._profiles)
        self._craft = craft_in_care(records, self._yard, now)
        self._revision, self._as_of = revision, now
        return self._craft


def craft_in_care(
    records: Iterable[CraftRecord], yard: Yard, at: datetime
) -> tuple[StoredCraft, ...]:
    """The craft of these records that were in the yard's care at a time, in the records' order."""
    known, words = shelters(yard), words_kept(yard, at)
    found = (stored_craft(record, known, at, words) for record in records)
    return tuple(one for one in found if one is not None)
