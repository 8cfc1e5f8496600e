"""``laidup check``: reads the configuration and tries broker, store and mail server, in words."""

import argparse
import os
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.commands.shared_flags import add_config
from monitor.errors import LaidupError, StoreError
from monitor.settings.load import Settings, load
from monitor.wording import Units
from monitor.yard.readers import units_of
from monitor.yard.space import Yard

if TYPE_CHECKING:
    from monitor.store.store import Store


def add_parser(children: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    parser = children.add_parser(
        "check",
        help="check the configuration, and try broker, store and mail server",
        description=(
            "Reads the yard's file and everything it names, then tries each connection and says"
            " what it found. With --payload, tries the payload mappings on a captured message"
            " instead."
        ),
    )
    add_config(parser)
    parser.add_argument("--payload", type=Path, metavar="FILE", help="a captured message")
    parser.add_argument("--topic", metavar="TOPIC", help="the topic that it came on")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Check and tell; 0 if all is well, 1 if something did not answer, 2 for a wrong file."""
    if arguments.payload is not None:
        from monitor.commands import check_payload

        return check_payload.run(arguments)
    settings = load(arguments.config)
    yard = settings.yard
    print(
        f"{arguments.config}: {yard.name}, {_many(len(yard.spaces), 'space')},"
        f" {_many(len(yard.sensors), 'sensor')}, {_many(len(yard.people), 'person', 'people')},"
        f" {len(settings.craft)} craft in craft files, {len(settings.profiles)} profiles: no fault."
    )
    print(f"Units: {_units(yard)}")
    tries: tuple[tuple[str, Callable[[Settings], str]], ...] = (
        ("Store", _store),
        ("Broker", _broker),
        ("Mail", _mail),
    )
    failed = 0
    for name, attempt in tries:
        try:
            print(f"{name}: {attempt(settings)}")
        except LaidupError as error:
            failed += 1
            print(f"{name}: FAILED. {error}")
    return 1 if failed else 0


def _store(settings: Settings) -> str:
    from monitor.store.engine import shown
    from monitor.store.store import REVISION, Store, revision

    url, where = settings.store_url, shown(settings.store_url)
    file = Path(url.removeprefix("sqlite:///"))
    if url.startswith("sqlite:///") and not file.exists():
        if not os.access(file.parent, os.W_OK | os.X_OK):
            raise StoreError(f"{where}: no file can be made in {file.parent}; make that folder")
        return f"{where} does not exist yet; `laidup run` makes it."
    found = revision(url)
    if found is None:
        return f"{where} is there and empty; `laidup run` makes its tables."
    if found != REVISION:
        return f"{where} has tables of revision {found}; `laidup run` brings them to {REVISION}."
    store = Store(url, settings.yard.id)
    try:
        _try_craft_files(store, settings)
        with store.snapshot() as tx:
            return f"{where} opens; it holds {tx.readings.count()} readings of this yard."
    finally:
        store.close()


class _OnlyTriedError(Exception):
    """Ends the transaction of a trial, so that nothing of it is kept."""


def _try_craft_files(store: "Store", settings: Settings) -> None:
    """Take the craft files in as the daemon would, to see what refuses, and keep nothing."""
    from monitor.store.entering import take_in

    with suppress(_OnlyTriedError), store.transaction() as tx:
        take_in(tx.layup, settings.craft, datetime.now(UTC))
        raise _OnlyTriedError


def _broker(settings: Settings) -> str:
    from monitor.intake.session import check_broker

    return check_broker(settings.broker)


def _mail(settings: Settings) -> str:
    from monitor.delivery.channels.mail import check_mail

    if settings.folder is not None:
        return f"mails are written into {settings.folder.path}, none is sent."
    if settings.mail is None:
        return "none configured: nobody will be told anything. Add [mail] to the yard's file."
    return check_mail(settings.mail)


def _units(yard: Yard) -> str:
    """Who reads in what: the yard, and those who asked for units of their own."""
    readers: dict[str, list[str]] = {}
    for person in yard.people:
        own = units_of(yard, person)
        if own != units_of(yard):
            readers.setdefault(_named(own), []).append(person.name)
    others = "".join(f"; {', '.join(names)} in {units}" for units, names in readers.items())
    return f"the yard reads in {_named(units_of(yard))}{others}."


def _named(units: Units) -> str:
    return f"°{units.temperature} and {units.volume}"


def _many(count: int, one: str, more: str = "") -> str:
    return f"{count} {one if count == 1 else more or one + 's'}"
