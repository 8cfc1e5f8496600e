"""``laidup labels``: a label for each craft, as pages to be printed."""

import argparse
import sys
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from monitor.commands.layup.listing import time_json
from monitor.commands.opening import at_time, open_read_only, read_records
from monitor.commands.printing import print_json
from monitor.commands.streams import file_when_whole
from monitor.craft.label_figures import LabelFigures, gather_label
from monitor.craft.record import CraftRecord
from monitor.errors import BadValueError, LaidupError, QuantityError
from monitor.phrases.label import label_words
from monitor.sheets.label import Label
from monitor.sheets.label_pages import Printed, write_labels
from monitor.sheets.paper import Paper
from monitor.sheets.qr import code_content
from monitor.sheets.typeface import Typeface, load_typeface
from monitor.units import json_number
from monitor.wording import listed_first

_NAMED = 5  # craft; the rest are counted
_FOOT = "scan for today's. An aid to judgement."
_FOOT_WITHOUT_PAGE = "the code is its id. An aid to judgement."


def run(arguments: argparse.Namespace) -> int:
    """Write the labels, and tell what a reader of them has to know."""
    paper = Paper(arguments.paper or Paper.LABEL)
    face = face_with(arguments.font)
    with open_read_only(arguments) as here:
        at = at_time(arguments.at, here.yard)
        records = in_yard(read_records(here, arguments.craft), at, "a label")
        words = here.wording_for(as_json=False)
        figures = [
            gather_label(one, here.shelters, at, here.yard.design_low_c, words) for one in records
        ]
        address = here.settings.web.address
        foot = _FOOT if address else _FOOT_WITHOUT_PAGE
        labels = [
            Label(words=label_words(one, words), code=code_content(address, one.craft), foot=foot)
            for one in figures
        ]
        printed = _write(arguments.out, labels, paper, face, f"Labels of {here.yard.name}")
    if not address:
        print(
            "Each code says the craft's id alone, for no page can be opened: [web] address in"
            " yard.toml is where people reach it.",
            file=sys.stderr,
        )
    tell_printed(printed, "labels")
    if arguments.json:
        print_json(_labels_json(arguments.out, printed, figures, labels))
    else:
        count = "1 label" if len(labels) == 1 else f"{len(labels):,} labels"
        print(f"{arguments.out}: {count} on {pages_words(printed.pages)}.")
    return 0


def _write(
    path: Path, labels: Sequence[Label], paper: Paper, face: Typeface, title: str
) -> Printed:
    with file_when_whole(path) as part:
        try:
            return write_labels(part, labels, paper, face, title)
        except BadValueError as error:
            raise QuantityError(f"labels: {error.problem}", error.remedy) from error


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


def tell_printed(printed: Printed, what: str) -> None:
    """Say on stderr what did not fit, and which letters could not be printed."""
    if printed.shortened:
        named = listed_first(list(printed.shortened), _NAMED, "; ")
        print(f"Shortened to fit, as the {what} say themselves: {named}.", file=sys.stderr)
    if printed.missing:
        signs = listed_first([f"{one} (U+{ord(one):04X})" for one in printed.missing], _NAMED)
        print(
            f"The font has no letter for {signs}: each stands there as its code. `--font FILE`"
            " names a TrueType file that has them.",
            file=sys.stderr,
        )


def pages_words(pages: int) -> str:
    """How many pages."""
    return "1 page" if pages == 1 else f"{pages:,} pages"


def _labels_json(
    path: Path, printed: Printed, figures: Sequence[LabelFigures], labels: Sequence[Label]
) -> dict[str, Any]:
    return {
        "file": str(path),
        "pages": printed.pages,
        "shortened": list(printed.shortened),
        "missing_signs": list(printed.missing),
        "labels": [
            {
                "craft": one.craft,
                "name": one.name,
                "space": one.space or None,
                "berth": one.berth or None,
                "laid_up": one.signed_off is None,
                "weakest_circuit": one.weakest.circuit,
                "state": str(one.weakest.state),
                "ice_point_c": json_number(one.weakest.ice_point_c),
                "holds_low": one.holds_low,
                "low_c": one.low_c,
                "suspect_since": time_json(one.weakest.suspect_since),
                "code": label.code,
            }
            for one, label in zip(figures, labels, strict=True)
        ],
    }
