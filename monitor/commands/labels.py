"""``laidup labels``: a label for each craft, as pages to be printout."""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from monitor.commands.layup.listing import time_json
from monitor.commands.opening import at_time, open_read_only, read_records
from monitor.commands.paper import face_with, in_yard, pages_words, tell_printed, write_whole
from monitor.commands.printing import print_json
from monitor.craft.label_figures import LabelFigures, gather_label
from monitor.phrases.label import label_words
from monitor.sheets.label import Label
from monitor.sheets.label_pages import write_labels
from monitor.sheets.paper import Paper, Printout
from monitor.sheets.qr import code_content
from monitor.units import json_number

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
        title = f"Labels of {here.yard.name}"
        printout = write_whole(
            arguments.out, lambda part: write_labels(part, labels, paper, face, title)
        )
    if not address:
        print(
            "Each code says the craft's id alone, for no page can be opened: [web] address in"
            " yard.toml is where people reach it.",
            file=sys.stderr,
        )
    tell_printed(printout, "labels")
    if arguments.json:
        print_json(_labels_json(arguments.out, printout, figures, labels))
    else:
        count = "1 label" if len(labels) == 1 else f"{len(labels):,} labels"
        print(f"{arguments.out}: {count} on {pages_words(printout.pages)}.")
    return 0


def _labels_json(
    path: Path, printout: Printout, figures: Sequence[LabelFigures], labels: Sequence[Label]
) -> dict[str, Any]:
    return {
        "file": str(path),
        "pages": printout.pages,
        "shortened": list(printout.shortened),
        "missing_signs": list(printout.missing),
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
