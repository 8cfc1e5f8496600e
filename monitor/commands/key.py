"""``laidup key``: the key that the yard signs its records with; a new one in its place."""

import argparse

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
    """Show the public key; make or rotate it first, where that is asked for."""
    settings = load_settings(arguments.config)
    folder, yard = settings.file.parent, settings.yard.id
    if arguments.make:
        key = make_record_key(folder)
    elif arguments.rotate:
        key = rotate_record_key(folder, yard, SystemClock().now())
    else:
        key = load_or_make_record_key(folder)
    followed = read_successions(folder, yard)
    shown = fingerprint_of(key.public)
    if arguments.json:
        print_json(
            {
                "yard": yard,
                "public_key": key.public,
                "fingerprint": shown,
                "successions": followed,
            }
        )
        return 0
    print(f"{settings.yard.name} signs its records with this key:")
    print(f"  public key   {key.public}")
    print(f"  fingerprint  {shown}")
    if followed:
        print(
            f"It follows on {len(followed)} earlier: whoever holds one of those can check it too."
        )
    print("Show the fingerprint where owners see it: on the wall, on invoices, in the contract.")
    print(f"Keep a copy of {KEY_FILE} and {HISTORY_FILE} on paper or a stick, under lock and key.")
    return 0
