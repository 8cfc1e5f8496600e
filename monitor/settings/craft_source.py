"""The craft in the yard's care at the clock's time, for whoever judges, tells or shows them."""

from monitor.clock import Clock
from monitor.craft.record import stored_craft
from monitor.craft.stored import StoredCraft
from monitor.settings.load import Settings
from monitor.settings.record_view import shelters, wording
from monitor.store.entering import take_in
from monitor.store.store import Store


class CraftSource:
    """Adds up the record anew each time it is asked, so that work entered a minute ago counts."""

    def __init__(self, settings: Settings, store: Store, clock: Clock) -> None:
        """Take in what the yard's craft files say; what is on record already adds nothing.

        Raises
        ------
        RecordError
            If a craft file contradicts what is on record; then nothing of any was written.
        """
        self._store = store
        self._clock = clock
        self._profiles = settings.profiles
        self._shelters = shelters(settings.yard)
        self._wording = wording(settings.yard)
        with store.transaction() as tx:
            take_in(tx.layup, settings.craft, clock.now())

    def now(self) -> list[StoredCraft]:
        """Every craft that stands in the yard, with what each circuit can stand."""
        with self._store.snapshot() as tx:
            records = tx.layup.records(self._profiles)
        at = self._clock.now()
        craft = (stored_craft(one, self._shelters, at, self._wording) for one in records)
        return [one for one in craft if one is not None]
