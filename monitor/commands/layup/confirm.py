"""``laidup layup confirm``: a broken record of a craft was compared with the paper."""

import argparse
from datetime import UTC, datetime

from monitor.commands.author import author_of
from monitor.commands.opening import add_config, craft_named, names_on_record, open_to_enter
from monitor.craft.chain_check import open_breaks_of

_ABOUT = "say that a craft's broken record was compared with the paper, so that it counts again"


def add_verb(verbs: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the verb."""
    parser = verbs.add_parser(
        "confirm",
        help=_ABOUT,
        description=(
            "Tells where the record of a craft is not what was written. With --compared, enters"
            " that this was compared with a backup or the paper, and what was missing entered: the"
            " record counts again. An entry that was changed is answered by a correction or a"
            " withdrawal only."
        ),
    )
    parser.add_argument("craft", metavar="CRAFT", help="id or name of the craft")
    parser.add_argument("--by", required=True, metavar="PERSON", help="who compared it")
    parser.add_argument("--compared", action="store_true", help="it is done; without it, only tell")
    add_config(parser)
    parser.set_defaults(run=run_confirm)


def run_confirm(arguments: argparse.Namespace) -> int:
    """Tell the breaks and, if they were compared, enter so; 0 if none stays open, else 1."""
    with open_to_enter(arguments, craft_files=True) as bench:
        craft = craft_named(arguments.craft, names_on_record(bench))
        who = author_of(arguments.by, bench.yard, "layup confirm", "--by")
        with bench.store.transaction() as tx:
            found = left = open_breaks_of(tx.layup.chain.stored_rows([craft])[craft])
            if found and arguments.compared:
                left = tx.layup.confirm_breaks(craft, who, datetime.now(UTC))
    if not found:
        print(f"Nothing is open: the record of {craft} counts.")
        return 0
    for one in found:
        print(f"{'Still open' if one in left else 'Compared'}: {one}")
    if not arguments.compared:
        print("Nothing was entered. When this is compared and put right, add --compared.")
    return 1 if left else 0
