"""``laidup migrate``: brings the store's tables to this program's revision."""

import argparse

from monitor.commands.opening import add_config
from monitor.settings.load import load_settings


def add_parser(children: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    parser = children.add_parser("migrate", help="bring the store's tables up to date")
    add_config(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Bring the tables up to date and say so."""
    from monitor.store.engine import shown
    from monitor.store.mark import StoreMark
    from monitor.store.migrate import migrate

    settings = load_settings(arguments.config)
    StoreMark(settings.file).refuse_another(settings.store_url, settings.yard.id)
    migrate(settings.store_url)
    print(f"The tables of {shown(settings.store_url)} are up to date.")
    return 0
