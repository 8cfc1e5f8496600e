"""Has every part of the running daemon go by the yard as people have changed it.

A change may come from the daemon's own page or from a command beside it. Whatever may turn at any
time (page, post, health) is told at once; the watch and what judges with it only between two
rounds, for one round is of one yard.
"""

import logging
from collections.abc import Callable
from threading import Lock
from typing import Protocol

from monitor.errors import ConfigurationError
from monitor.settings.load import Settings
from monitor.store.store import Store
from monitor.yard.space import Yard

log = logging.getLogger("laidup")

SettingsTaker = Callable[[Settings], None]


class YardTaker(Protocol):
    """A part that goes by the yard."""

    def take_yard(self, yard: Yard) -> None:
        """Go by this one from now on."""


class YardKeeper:
    """Knows the settings as they are now, and whom to tell of them."""

    def __init__(self, settings: Settings, store: Store) -> None:
        """Begin with the settings as they were loaded; nobody is told yet."""
        self._settings, self._store = settings, store
        self._number = settings.changes[-1].number if settings.changes else 0
        self._refused = 0  # number of a change that could not be used, said once
        self._lock = Lock()
        self._at_once: list[SettingsTaker] = []
        self._at_round: list[SettingsTaker] = []
        self._waits_for_round = False

    @property
    def settings(self) -> Settings:
        """The settings as they are now."""
        return self._settings

    def tell_at_once(self, *takers: SettingsTaker) -> None:
        """Parts that may turn at any time; told in the thread of whoever made the change."""
        self._at_once.extend(takers)

    def tell_at_round(self, *takers: SettingsTaker) -> None:
        """Parts of the watch; told in its thread, before a round."""
        self._at_round.extend(takers)

    def look_for_changes(self) -> bool:
        """Go by what the store says now; tells whether anything was new.

        Raises
        ------
        StoreError
            If the store gives nothing; the yard stays as it was.
        """
        with self._lock:
            with self._store.snapshot() as tx:
                last = tx.yard_changes.last_number()
                if last in {self._number, self._refused}:
                    return False
                changes = tx.yard_changes.all_changes()
            try:
                self._settings = self._settings.with_changes(changes)
            except ConfigurationError as error:
                # Written by another version, or by hand. The watch goes on by the yard as it was.
                self._refused = last
                for fault in error.faults:
                    log.error("The yard stays as it was before its last change: %s", fault)
                return False
            self._number, self._waits_for_round = last, True
            for take in self._at_once:
                take(self._settings)
            return True

    def take_before_round(self) -> None:
        """Have the watch go by the yard as it is now; in its own thread, before a round."""
        self.look_for_changes()
        with self._lock:
            if self._waits_for_round:
                for take in self._at_round:
                    take(self._settings)
                self._waits_for_round = False


def of_yard(*parts: YardTaker) -> SettingsTaker:
    """A taker that hands the yard on to parts."""

    def take(settings: Settings) -> None:
        for one in parts:
            one.take_yard(settings.yard)

    return take
