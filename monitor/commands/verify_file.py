"""``laidup verify FILE``: whether a season record is what was sealed, with no store and no yard."""

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from monitor.commands.printing import print_json
from monitor.craft.merkle import RecordHead
from monitor.craft.record_check import Misfit, RecordCheck, check_record
from monitor.craft.signing_key import TrustedKey
from monitor.errors import ConfigurationError, Fault

_LISTED = 5  # of what does not fit beside the first


def run(arguments: argparse.Namespace) -> int:
    """Check and tell; 0 if it holds, 1 if anything does not fit or nobody vouches for it."""
    heads = [RecordHead.parse(text) for text in arguments.head]
    keys = [_trusted_key(text) for text in arguments.key]
    found = check_record(_content(arguments.file), keys, heads)
    if arguments.json:
        print_json(_as_json(arguments.file, found))
    else:
        for line in _result_lines(arguments.file, found, heads):
            print(line)
    return 0 if found.holds else 1


def _content(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise ConfigurationError(
            [
                Fault(
                    file=str(file),
                    key="",
                    problem=f"it cannot be read: {error.strerror}",
                    remedy="Name the season record's file, as it came from the yard.",
                )
            ]
        ) from error


def _trusted_key(text: str) -> TrustedKey:
    """A key or fingerprint as it is said, or as the first line of the file of that name has it."""
    file = Path(text)
    if len(text) < 64 and file.is_file():
        text = file.read_text(errors="replace").strip().partition("\n")[0]
    return TrustedKey.from_text(text)


def _result_lines(file: Path, found: RecordCheck, heads: list[RecordHead]) -> Iterator[str]:
    if not found.misfits:
        yield f"{file.name}: the record of craft {found.craft} of yard {found.yard} fits in itself."
        yield f"  {found.links} links of the record and {found.leaves} leaves of days are proven."
        yield f"  It is signed with the key {found.fingerprint}."
        if found.holds:
            yield "It holds: nothing was changed since the yard sealed it."
            for head in heads:
                yield f"  It extends what the yard's record was at {head.short}."
            yield (
                "That proves what was written, in which order. It does not prove that a sensor"
                " was right or in its place."
            )
        else:
            yield (
                "Whether that key is the yard's nobody has said: give --key with what the yard"
                " shows, or --head out of one of its mails."
            )
        return
    first, *rest = found.misfits
    yield f"{file.name}: DOES NOT HOLD. {first.words}."
    yield f"  {first.meaning}"
    if rest:
        yield "Nor does this fit:"
        for one in rest[:_LISTED]:
            yield f"  {one.words}."
        if len(rest) > _LISTED:
            yield f"  And {len(rest) - _LISTED} more."


def _as_json(file: Path, found: RecordCheck) -> dict[str, Any]:
    return {
        "file": file.name,
        "holds": found.holds,
        "vouched": found.vouched,
        "yard": found.yard or None,
        "craft": found.craft or None,
        "public_key": found.public_key or None,
        "fingerprint": found.fingerprint or None,
        "head": None if found.head is None else str(found.head),
        "links": found.links,
        "leaves": found.leaves,
        "misfits": [_misfit_json(one) for one in found.misfits],
    }


def _misfit_json(one: Misfit) -> dict[str, str]:
    return {
        "kind": str(one.kind),
        "place": one.place,
        "words": one.words,
        "meaning": one.meaning,
    }
