"""``laidup key``: the key that the yard signs its records with; a new one in its place."""

import argparse
from collections.abc import Iterator

from monitor.clock import SystemClock
from monitor.commands.printing import print_json
from monitor.craft.signing_key import fingerprint_of
from monitor.settings.load import load_settings
from monitor.settings.record_key import (
    HISTORY_FILE,
    KEY_FILE,
    load_or_make_record_key,
    make_record_key,
    read_successions,
    rotate_record_key,
)


def run(arguments: argparse.Namespace) -> int:
    """Show the public key; make or rotate it first, where that is asked for.

    Raises
    ------
    ConfigurationError
        If the yard's key cannot be used, made, or written.
    """
    settings = load_settings(arguments.config)
    folder, yard = settings.file.parent, settings.yard.id
    if arguments.make:
        key = make_record_key(folder)
    elif arguments.rotate:
        key = rotate_record_key(folder, yard, SystemClock().now())
    else:
        key = load_or_make_record_key(folder)
    followed = read_successions(folder, yard)
    if arguments.json:
        print_json(
            {
                "yard": yard,
                "public_key": key.public,
                "fingerprint": fingerprint_of(key.public),
                "successions": followed,
            }
        )
        return 0
    for line in _key_lines(settings.yard.name, key.public, len(followed)):
        print(line)
    return 0


def _key_lines(yard: str, public: str, earlier: int) -> Iterator[str]:
    yield f"{yard} signs its records with this key:"
    yield f"  public key   {public}"
    yield f"  fingerprint  {fingerprint_of(public)}"
    if earlier:
        count = "one earlier key" if earlier == 1 else f"{earlier} earlier keys"
        yield f"It follows on {count}: whoever holds one of those can check new records too."
    yield "Show the fingerprint where owners see it: on the wall, on invoices, in the contract."
    yield (
        f"Keep a copy of {KEY_FILE} and {HISTORY_FILE}, which stand beside the yard's file, on a"
        " stick under lock and key: no copy of the store holds them."
    )
