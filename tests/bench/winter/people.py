"""The yard's people: every few days somebody goes round and looks into every craft."""

from contextlib import closing
from datetime import datetime, timedelta

from monitor.craft.layup import Act, LayupEntry
from monitor.errors import StoreError
from monitor.settings.load import load_settings
from monitor.store.entering import enter
from monitor.store.store import Store
from tests.bench.winter.stage import Stage
from tests.bench.winter.yard import CRAFT, START

_EVERY = timedelta(days=4)
_BUSY_S = 1.0  # whoever finds the store locked comes again in an hour


class People:
    """Enters what somebody saw, by a process beside the daemon, as the command line does."""

    def __init__(self, stage: Stage) -> None:
        self._stage = stage
        self._settings = load_settings(stage.file)
        self._next = START + timedelta(days=2)
        self.rounds = self.refused = 0

    def do_what_is_due(self, now: datetime) -> None:
        """Go round if it is time to; what the store does not take is entered an hour later."""
        if now < self._next:
            return
        entries = [
            LayupEntry(
                id=f"seen-{craft}-{self._next:%m%d}", craft=craft, at=self._next, by="oda",
                act=Act.INSPECTED,
            )
            for craft in CRAFT
        ]  # fmt: skip
        try:
            with (
                closing(
                    Store(self._settings.store_url, self._settings.yard.id, busy_s=_BUSY_S)
                ) as store,
                store.transaction() as tx,
            ):
                enter(tx.layup, entries, self._settings.profiles, now, "the round")
        except StoreError:
            self.refused += 1
            return
        self.rounds += 1
        self._next += _EVERY
