"""``laidup restore``: puts a copy of the store in its place again."""

import argparse
from datetime import UTC, datetime
from pathlib import Path

from monitor.commands.opening import add_config
from monitor.errors import StoreError
from monitor.health.telling import account_socket, ask_daemon
from monitor.settings.load import Settings, load_settings
from monitor.store.restoring import restore_copy


def add_parser(children: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    parser = children.add_parser(
        "restore",
        help="put a copy of the store in its place again",
        description=(
            "Reads a copy that `laidup backup` took, and puts it where [store] url says. laidup"
            " must not run. What is entered or measured since the copy was taken is not in it."
        ),
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="the copy; it is left as it is")
    parser.add_argument(
        "--over",
        action="store_true",
        help="set the store that is there aside, beside it under another name",
    )
    add_config(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Put it back and tell what is there now."""
    settings = load_settings(arguments.config)
    _refuse_while_running(settings)
    if not arguments.file.is_file():
        raise StoreError(f"{arguments.file} is no file")
    rows, aside = restore_copy(
        arguments.file,
        settings.store_url,
        settings.yard.id,
        datetime.now(UTC),
        over_another=arguments.over,
    )
    print(
        f"{sum(rows.values())} rows are back, {rows['readings']} of them readings. Work that was"
        " entered since the copy was taken is not among them: compare with the mails since and with"
        " the paper, and enter it again."
    )
    if aside is not None:
        print(f"The store that was there is {aside}, with what lies beside it.")
    print("`laidup check` tries it, `laidup run` goes on with it.")
    return 0


def _refuse_while_running(settings: Settings) -> None:
    try:
        runs = ask_daemon(account_socket(settings.store_url, settings.file)) is not None
    except TimeoutError:
        runs = True
    if runs:
        raise StoreError("laidup is running on this store: stop it first")
