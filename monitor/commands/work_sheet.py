"""``laidup work-sheet``: the job on each craft as pages to be filled in."""

import argparse
import sys
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from monitor.commands.layup.plan import low_of
from monitor.commands.opening import Opened, at_time, open_read_only, read_records
from monitor.commands.paper import face_with, in_yard, pages_words, tell_printed, write_whole
from monitor.commands.printing import print_json
from monitor.craft.craft_stays import stay_at
from monitor.craft.plan.shelf import USUAL_SHELF, ShelfProduct
from monitor.craft.plan.step import JobPlan
from monitor.craft.record import CANNOT_BE_ADDED_UP, CraftRecord, layup_plan, without_work
from monitor.craft.spring_progress import spring_progress
from monitor.errors import LaidupError
from monitor.phrases.work_sheet import sheet_words, spring_sheet_words
from monitor.sheets.paper import Paper, usual_sheet
from monitor.sheets.qr import code_content
from monitor.sheets.work_sheet_pages import write_work_sheets
from monitor.wording import listed_first

_NAMED = 5  # craft; the rest are counted


def run(arguments: argparse.Namespace) -> int:
    """Write the sheets, and tell whose plan has no step left."""
    face = face_with(arguments.font)
    with open_read_only(arguments) as here:
        at = at_time(arguments.at, here.yard)
        low_c = low_of(here, arguments.low)
        shelf = here.yard.shelf or USUAL_SHELF
        records = in_yard(read_records(here, arguments.craft), at, "a sheet")
        planned = [
            _spring_of(one, here, at) if arguments.spring else _plan_of(one, here, at, low_c, shelf)
            for one in records
        ]
        to_do = _with_work(planned)
        words = here.wording_for(as_json=False)
        say = spring_sheet_words if arguments.spring else sheet_words
        address = here.settings.web.address
        sheets = [
            (
                say(one, plan, stay_at(one.stays, at), here.yard, at, words),
                code_content(address, one.craft.id),
            )
            for one, plan in to_do
        ]
        paper = Paper(arguments.paper or usual_sheet(here.yard.volume_unit))
        title = f"Work at {here.yard.name}"
        printout = write_whole(
            arguments.out,
            lambda part: write_work_sheets(part, sheets, paper, face, title, words),
        )
    tell_printed(printout, "sheets")
    if arguments.json:
        print_json(
            {
                "file": str(arguments.out),
                "pages": printout.pages,
                "shortened": list(printout.shortened),
                "missing_signs": list(printout.missing),
                "sheets": [_sheet_json(plan) for _, plan in to_do],
            }
        )
    else:
        count = "1 craft" if len(to_do) == 1 else f"{len(to_do):,} craft"
        print(f"{arguments.out}: the work on {count}, {pages_words(printout.pages)}.")
    return 0


def _plan_of(
    record: CraftRecord, here: Opened, at: datetime, low_c: float, shelf: Sequence[ShelfProduct]
) -> tuple[CraftRecord, JobPlan]:
    """A craft's plan; of a record that cannot be added up, the one that starts from nothing."""
    try:
        return record, layup_plan(record, here.shelters, at, low_c, shelf)
    except CANNOT_BE_ADDED_UP as error:
        spoilt = without_work(record, error)
        return spoilt, layup_plan(spoilt, here.shelters, at, low_c, shelf)


def _spring_of(record: CraftRecord, here: Opened, at: datetime) -> tuple[CraftRecord, JobPlan]:
    """The steps before a craft's first start that are still open, in the form of a plan."""
    try:
        progress = spring_progress(record, here.shelters, at)
    except CANNOT_BE_ADDED_UP as error:
        record = without_work(record, error)
        progress = spring_progress(record, here.shelters, at)
    steps = tuple(one.step for one in progress.steps if one.done_by is None)
    return record, JobPlan(
        craft=record.craft.id, low_c=0.0, steps=steps, unreadable=record.unreadable
    )


def _with_work(
    planned: Sequence[tuple[CraftRecord, JobPlan]],
) -> list[tuple[CraftRecord, JobPlan]]:
    """Those with a step left; the others are named on stderr."""
    done = [f"{one.craft.id} {one.craft.name}" for one, plan in planned if not plan.steps]
    if done:
        print(
            f"Nothing missing by the record, and so no sheet: {listed_first(done, _NAMED)}.",
            file=sys.stderr,
        )
    found = [(one, plan) for one, plan in planned if plan.steps]
    if not found:
        raise LaidupError("Nothing to print, and no file is written: no work is left.")
    return found


def _sheet_json(plan: JobPlan) -> dict[str, Any]:
    return {
        "craft": plan.craft,
        "low_c": plan.low_c,
        "steps": len(plan.steps),
        "minutes": plan.minutes,
    }
