"""What the commands share that write pages to be printed."""

import sys
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path

from monitor.commands.streams import file_when_whole
from monitor.craft.record import CraftRecord
from monitor.errors import BadValueError, LaidupError, QuantityError
from monitor.sheets.paper import Printout
from monitor.sheets.typeface import Typeface, load_typeface
from monitor.wording import listed_first

_NAMED = 5  # craft or signs; the rest are counted


def face_with(fonts: Sequence[Path]) -> Typeface:
    """The usual letters, helped out by the fonts that ``--font`` names."""
    try:
        return load_typeface(fonts)
    except BadValueError as error:
        raise QuantityError(f"--font: {error.problem}", error.remedy) from error


def in_yard(records: Sequence[CraftRecord], at: datetime, what: str) -> list[CraftRecord]:
    """Those that are in the yard; the others are named on stderr.

    Raises
    ------
    LaidupError
        If none is.
    """
    gone = [f"{one.craft.id} {one.craft.name}" for one in records if not one.in_yard_at(at)]
    if gone:
        named = listed_first(gone, _NAMED)
        print(f"Not in the yard, and so without {what}: {named}.", file=sys.stderr)
    found = [one for one in records if one.in_yard_at(at)]
    if not found:
        why = (
            "none of these craft is in the yard"
            if records
            else "no craft is on record here; bring craft in with `laidup import craft`"
        )
        raise LaidupError(f"Nothing to print, and no file is written: {why}.")
    return found


def write_whole(path: Path, write: Callable[[Path], Printout]) -> Printout:
    """Have a file written that gets its name only once it is whole."""
    with file_when_whole(path) as part:
        try:
            return write(part)
        except BadValueError as error:
            raise QuantityError(f"{path}: {error.problem}", error.remedy) from error


def tell_printed(printout: Printout, what: str) -> None:
    """Say on stderr what did not fit, and which letters could not be printed."""
    if printout.shortened:
        named = listed_first(list(printout.shortened), _NAMED, "; ")
        print(f"Shortened to fit, as the {what} say themselves: {named}.", file=sys.stderr)
    if printout.missing:
        signs = listed_first([f"{one} (U+{ord(one):04X})" for one in printout.missing], _NAMED)
        print(
            f"The font has no letter for {signs}: each stands there as its code. `--font FILE`"
            " names a TrueType file that has them.",
            file=sys.stderr,
        )


def pages_words(pages: int) -> str:
    """How many pages."""
    return "1 page" if pages == 1 else f"{pages:,} pages"
