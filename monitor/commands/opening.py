"""What commands about craft open first: the yard's file, the profiles and the store."""

import argparse
import sys
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime

from monitor.commands.verify import tell_marked
from monitor.craft.kept import Shelter
from monitor.craft.profile import Profile
from monitor.errors import QuantityError, problem_and_remedy
from monitor.settings.layup_form import in_zone
from monitor.settings.load import Settings, load_settings
from monitor.settings.moments import moment_of
from monitor.store.entering import CRAFT_FILES, not_taken_in, take_in_each
from monitor.store.mark import StoreMark
from monitor.store.store import REVISION, Store, revision
from monitor.wording import SI, Wording
from monitor.yard.people import names_by_id
from monitor.yard.readers import units_of
from monitor.yard.record_view import shelters
from monitor.yard.space import Yard

_NAMED = 3  # craft, before the rest are only counted


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
        units = SI if as_json else units_of(self.yard)
        return Wording(zone=self.yard.zone, units=units, people=names_by_id(self.yard))


@contextmanager
def looking(arguments: argparse.Namespace) -> Iterator[Opened]:
    """Open everything that a command about craft needs, only to look: nothing is written.

    Raises
    ------
    StoreError
        If there is no store yet, or one of another revision: to mend that is to write.
    """
    settings = load_settings(arguments.config)
    store = Store(settings.store_url, settings.yard.id, only_looking=True)
    with closing(store):
        with store.snapshot() as tx:
            missing = not_taken_in(tx.layup, settings.craft, names_by_id(settings.yard))
        if missing:
            more = f" and {len(missing) - _NAMED} more" if len(missing) > _NAMED else ""
            print(
                "Not in what follows: what the craft files say of"
                f" {', '.join(one.name for one in missing[:_NAMED])}{more} is not taken in yet."
                " `laidup run` takes it in when it starts; `laidup check` tries it.",
                file=sys.stderr,
            )
        yield Opened(settings=settings, profiles=settings.profiles, store=store)


@contextmanager
def acting(arguments: argparse.Namespace) -> Iterator[Opened]:
    """Open the same for a command that writes one thing of its own, and let all else be.

    Raises
    ------
    StoreError
        If there is no store yet, or one of another revision.
    """
    settings = load_settings(arguments.config)
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        yield Opened(settings=settings, profiles=settings.profiles, store=store)


@contextmanager
def entering(arguments: argparse.Namespace, *, craft_files: bool) -> Iterator[Opened]:
    """Open the same for what goes into the record, bringing the tables up to date first.

    With ``craft_files`` what the yard's own craft files say is taken in first, as the daemon does,
    so that work can be entered on craft that stand there.
    """
    from monitor.store.migrate import migrate

    settings = load_settings(arguments.config)
    StoreMark(settings.file).refuse_another(settings.store_url, settings.yard.id)
    if revision(settings.store_url) != REVISION:
        migrate(settings.store_url)
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        if craft_files:
            taken = take_in_each(
                store,
                settings.craft,
                settings.profiles,
                datetime.now(UTC),
                CRAFT_FILES,
                names_by_id(settings.yard),
            )
            for error in taken.refused:
                print(f"Not taken in, and as it was before: {error}", file=sys.stderr)
            for change in taken.changes:
                print(change, file=sys.stderr)
            tell_marked(taken.marked)
        yield Opened(settings=settings, profiles=settings.profiles, store=store)


def add_at(parser: argparse.ArgumentParser, about: str) -> None:
    """Add ``--at``: a time, now if it is not given."""
    parser.add_argument("--at", metavar="TIME", help=f"{about}, like yesterday 16:00 (now)")


def at_time(text: str | None, yard: Yard) -> datetime:
    """Read ``--at``; a time without an offset is the yard's own."""
    if text is None:
        return datetime.now(UTC)
    try:
        return in_zone(datetime.fromisoformat(text), yard.zone)
    except ValueError:
        pass  # in words
    try:
        return moment_of(text, datetime.now(yard.zone))
    except ValueError as error:
        raise QuantityError(*problem_and_remedy(error)) from error
