"""What commands about craft open first: the yard's file, the profiles and the store."""

import argparse
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime

from monitor.craft.kept import Shelter
from monitor.craft.profile import Profile
from monitor.errors import QuantityError
from monitor.settings.layup_form import in_zone
from monitor.settings.load import Settings, load
from monitor.store.entering import take_in
from monitor.store.store import Store
from monitor.wording import SI, Wording
from monitor.yard.readers import units_of
from monitor.yard.record_view import shelters
from monitor.yard.space import Yard


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """The yard, its library and its store."""

    settings: Settings
    profiles: Mapping[str, Profile]
    store: Store

    @property
    def yard(self) -> Yard:
        """The yard itself."""
        return self.settings.yard

    @property
    def shelters(self) -> dict[str, Shelter]:
        """The yard's spaces as the record sees them."""
        return shelters(self.yard)

    def wording(self, *, as_json: bool) -> Wording:
        """Words in the yard's zone: for people in its units, for machines in SI."""
        return Wording(zone=self.yard.zone, units=SI if as_json else units_of(self.yard))


@contextmanager
def opened(arguments: argparse.Namespace) -> Iterator[Opened]:
    """Open everything that a command about craft needs, and give it back.

    What the yard's own craft files say is taken in first, as the daemon does.
    """
    from monitor.store.migrate import migrate

    settings = load(arguments.config)
    migrate(settings.store_url)
    store = Store(settings.store_url, settings.yard.id)
    try:
        with store.transaction() as tx:
            take_in(tx.layup, settings.craft, datetime.now(UTC))
        yield Opened(settings=settings, profiles=settings.profiles, store=store)
    finally:
        store.close()


def add_at(parser: argparse.ArgumentParser, about: str) -> None:
    """Add ``--at``: a time, now if it is not given."""
    parser.add_argument("--at", metavar="TIME", help=f"{about}, like 2026-11-14T16:00 (now)")


def at_time(text: str | None, yard: Yard) -> datetime:
    """Read ``--at``; a time without an offset is the yard's own."""
    if text is None:
        return datetime.now(UTC)
    try:
        return in_zone(datetime.fromisoformat(text), yard.zone)
    except ValueError as error:
        raise QuantityError(f"{text!r} is no time; write it like 2026-11-14T16:00") from error
