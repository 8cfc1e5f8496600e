"""``laidup rollups``: makes the hourly rollups that are missing, or all of them anew."""

import argparse
from datetime import UTC, datetime

from monitor.commands.opening import add_config, open_to_act


def add_parser(children: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
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
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
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
