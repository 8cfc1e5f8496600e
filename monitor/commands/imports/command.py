"""``laidup import``: what comes in from files."""

import argparse
import sys
from datetime import UTC, datetime

from monitor.commands.author import author_of, person_or_none, user_of_machine
from monitor.commands.imports.piped import readable_file, shown_name
from monitor.commands.opening import open_to_enter, tell_marked
from monitor.commands.printing import print_json
from monitor.commands.progress import Progress
from monitor.commands.warnings import berth_faults
from monitor.intake.backfill import Backfilled, file_decoder, import_readings_file
from monitor.settings.craft_file import load_craft
from monitor.store.taking_in import take_in
from monitor.yard.people import names_by_id
from monitor.yard.space import Yard


def run(arguments: argparse.Namespace) -> int:
    """Take in a craft file and say what was new."""
    now = datetime.now(UTC)
    with (
        open_to_enter(arguments, craft_files=False) as bench,
        Progress() as progress,
        readable_file(arguments.file) as file,
        bench.store.transaction() as tx,
    ):
        known = {one.craft.id: one for one in tx.layup.all_records(bench.profiles)}
        told = progress.tell_counts("craft read")
        records = load_craft(file, bench.yard, bench.profiles, known, now, told)
        progress.say_stage(f"{len(records):,} craft are being entered")
        author, names = _author_of(arguments.by, bench.yard), names_by_id(bench.yard)
        taken = take_in(tx.layup, records, bench.profiles, now, author, names)
        shared = berth_faults(tx.layup.all_records(bench.profiles), bench.yard, now)
    if arguments.json:
        print_json(
            {
                "craft": taken.craft,
                "new_craft": taken.new_craft,
                "stays": taken.stays,
                "new_stays": taken.new_stays,
                "entries": taken.entries,
                "new_entries": taken.new_entries,
                "changes": [str(change) for change in taken.changes],
                "shared_berths": [str(fault) for fault in shared],
            }
        )
        return 0
    print(
        f"{shown_name(arguments.file)}: {taken.craft} craft ({taken.new_craft} new),"
        f" {taken.stays} stays ({taken.new_stays} new), {taken.entries} lay-up entries"
        f" ({taken.new_entries} new)."
    )
    for change in taken.changes:
        print(f"  {change}")
    tell_marked(taken.marked)
    for fault in shared:
        print(fault, file=sys.stderr)
    return 0


def _author_of(said: str | None, yard: Yard) -> str:
    """Whose doing an import is: a person of the yard by id, else who runs the command.

    A list may be taken in by a machine's own user, as at a start, so that nobody has to be named.
    """
    if said is None and person_or_none(user_of_machine(), yard) is None:
        return user_of_machine() or "not known"
    return author_of(said, yard, "import craft", "--by")


def run_readings(arguments: argparse.Namespace) -> int:
    """Take in the file and say what came of it; 1 if any row was kept aside."""
    opened = open_to_enter(arguments, craft_files=False)
    with opened as bench, readable_file(arguments.file) as file:
        decoder = file_decoder(bench.yard.sensors)
        done = import_readings_file(bench.store, decoder, file, datetime.now(UTC), _print_progress)
    if sys.stderr.isatty():
        print(file=sys.stderr)
    status = 1 if done.aside or done.contrary or done.too_late else 0
    if arguments.json:
        print_json(
            {
                "rows": done.rows,
                "readings": done.readings,
                "new": done.new,
                "aside": done.aside,
                "contrary": done.contrary,
                "too_late": done.too_late,
                "complaints": done.complaints,
            }
        )
        return status
    print(
        f"{shown_name(arguments.file)}: {done.rows} rows, {done.readings} readings, of which"
        f" {done.new} are new; {done.aside} rows kept aside."
    )
    if done.contrary:
        print(
            f"  {done.contrary} readings say otherwise than what is stored for their time; that"
            " stays, and they are kept aside."
        )
    if done.too_late:
        print(
            f"  {done.too_late} readings come too late: raw readings of their time are in the"
            " archive (`laidup archive`). They are kept aside for some weeks; keep the file."
        )
    for complaint in done.complaints:
        print(f"  {complaint}")
    if done.aside > len(done.complaints):
        print(f"  and {done.aside - len(done.complaints)} more; `laidup status` lists them.")
    return status


def _print_progress(so_far: Backfilled) -> None:
    if sys.stderr.isatty():
        print(f"\r{so_far.rows} rows, {so_far.new} new readings", end="", file=sys.stderr)
