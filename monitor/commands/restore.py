"""``laidup restore``: puts a copy of the store in its place again."""

import argparse
from datetime import UTC, datetime

from monitor.commands.printing import print_json
from monitor.errors import StoreError
from monitor.health.telling import account_socket, ask_daemon
from monitor.settings.load import Settings, load_settings
from monitor.store.copying import readings_among
from monitor.store.restoring import restore_copy


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
    if arguments.json:
        print_json({"rows": dict(rows), "aside": None if aside is None else str(aside)})
        return 0
    print(
        f"{sum(rows.values())} rows are back, {readings_among(rows)} of them readings. Work that"
        " was entered since the copy was taken is not among them: compare with the mails since and"
        " with the paper, and enter it again."
    )
    if rows.get("dropped_months"):
        print(
            "Raw readings of some months are in archive files alone: `laidup check` says whether"
            " the folder of [archive] has them all."
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
