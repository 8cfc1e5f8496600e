"""``laidup key``: the key that the yard signs its records with; a new one in its place."""

import argparse
from collections.abc import Iterator
from functools import partial

from monitor.clock import SystemClock
from monitor.commands.printing import print_json
from monitor.commands.warnings import has_signed_letters
from monitor.craft.signed_statements import words_leading_to
from monitor.craft.signing_key import fingerprint_of
from monitor.settings.load import load_settings
from monitor.settings.pdf_key import load_pdf_identity, make_pdf_identity, pdf_identity_line
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
    folder, yard, now = settings.file.parent, settings.yard.id, SystemClock().now()
    if arguments.make:
        key = make_record_key(folder)
    elif arguments.rotate:
        key = rotate_record_key(folder, yard, now)
        make_pdf_identity(folder, settings.yard.name, now)
    else:
        key = load_or_make_record_key(folder, partial(has_signed_letters, settings))
    followed = words_leading_to(key.public, read_successions(folder, yard), yard)
    identity = load_pdf_identity(folder, settings.yard.name, settings.bought_certificate, now)
    if arguments.json:
        print_json(
            {
                "yard": yard,
                "public_key": key.public,
                "fingerprint": fingerprint_of(key.public),
                "successions": followed,
                "pdf_certificate": identity.sha256,
            }
        )
        return 0
    for line in _key_lines(settings.yard.name, key.public, len(followed)):
        print(line)
    print(pdf_identity_line(identity))
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
