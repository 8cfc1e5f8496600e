"""``laidup migrate``, ``rollups`` and ``forget``: what a person does to the store as a whole."""

import argparse
from datetime import UTC, datetime

from monitor.commands.opening import add_config, open_to_act
from monitor.errors import QuantityError
from monitor.settings.load import load_settings
from monitor.yard.people import names_by_id


def add_parser(children: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the three commands."""
    _add_migrate(children)
    _add_rollups(children)
    _add_forget(children)


def _add_migrate(children: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    parser = children.add_parser("migrate", help="bring the store's tables up to date")
    add_config(parser)
    parser.set_defaults(run=run_migrate)


def run_migrate(arguments: argparse.Namespace) -> int:
    """Bring the tables up to date and say so."""
    from monitor.store.engine import shown
    from monitor.store.mark import StoreMark
    from monitor.store.migrate import migrate

    settings = load_settings(arguments.config)
    StoreMark(settings.file).refuse_another(settings.store_url, settings.yard.id)
    migrate(settings.store_url)
    print(f"The tables of {shown(settings.store_url)} are up to date.")
    return 0


def _add_rollups(children: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    parser = children.add_parser(
        "rollups",
        help="make the hourly rollups of readings",
        description=(
            "Makes the hours that are missing. The daemon does so by itself, a few at a time; this"
            " is for whoever does not want to wait, or doubts the hours that are there."
        ),
    )
    add_config(parser)
    parser.add_argument(
        "--anew", action="store_true", help="throw all hours away and make them of the readings"
    )
    parser.set_defaults(run=run_rollups)


def run_rollups(arguments: argparse.Namespace) -> int:
    """Make the hours and tell how many there are."""
    from monitor.store.rolling_up import make_all_anew, make_due_hours

    with open_to_act(arguments) as here:
        now = datetime.now(UTC)
        if arguments.anew:
            make_all_anew(here.store, now)
        else:
            make_due_hours(here.store, now)
        with here.store.snapshot() as tx:
            count = tx.rollups.count_hours()
    print(f"{count} hours of {here.yard.name} are made.")
    return 0


def _add_forget(children: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    parser = children.add_parser(
        "forget",
        help="take one person's letters and address out of the store; the record stays whole",
        description=(
            "Empties the letters to one person that are done with (words, address, attachments;"
            " that they were sent stays) and removes the person's answer links. The lay-up record"
            " keeps the id, for its hashes hold only while nothing in it changes. Take the person"
            " out of yard.toml first, and start laidup again."
        ),
    )
    parser.add_argument("person", metavar="ID", help="as yard.toml called the person")
    add_config(parser)
    parser.set_defaults(run=run_forget)


def run_forget(arguments: argparse.Namespace) -> int:
    """Forget, and tell what went."""
    with open_to_act(arguments) as here:
        if arguments.person in names_by_id(here.yard):
            raise QuantityError(
                f"{arguments.person} is in {here.settings.file} still",
                "take the person out of it and start laidup again, then forget",
            )
        with here.store.transaction() as tx:
            letters = tx.outbox.forget_content_of(arguments.person)
            links = tx.answer_links.forget_person(arguments.person)
    print(
        f"Emptied {letters} letters to {arguments.person} and removed {links} answer links. Copies"
        " of the store still hold them until they are thinned out; the lay-up record keeps the id."
    )
    return 0
