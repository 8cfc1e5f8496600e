"""``laidup forget``: what letters to one person said, and where they went, out of the store."""

import argparse

from monitor.commands.opening import add_config, open_to_act
from monitor.errors import QuantityError
from monitor.yard.people import names_by_id


def add_parser(children: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
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
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
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
