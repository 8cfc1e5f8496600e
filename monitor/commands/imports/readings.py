"""``laidup import readings FILE.csv``: a logger's download or a past season, into the store."""

import argparse
import sys
from datetime import UTC, datetime
from pathlib import Path

from monitor.commands.opening import add_config, open_to_enter
from monitor.intake.backfill import Backfilled, import_readings_file
from monitor.intake.decode import Decoder
from monitor.intake.trust import TimePolicy


def add_parser(kinds: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command under ``import``."""
    parser = kinds.add_parser(
        "readings",
        help="readings (CSV)",
        description=(
            "Take in readings from a CSV file. Columns: at (with its zone, like"
            " 2026-01-10T03:15:00-06:00), sensor (as in the yard's file), and either one for each"
            " channel with its unit, like temperature [degF] or humidity [%], or label, unit,"
            " value. Rows that cannot be used are kept aside with their line numbers; readings that"
            " are there already are left as they are."
        ),
    )
    parser.add_argument("file", type=Path, metavar="FILE.csv")
    add_config(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Take in the file and say what came of it; 1 if any row was kept aside."""
    with open_to_enter(arguments, craft_files=False) as bench:
        decoder = Decoder(bench.yard.sensors, TimePolicy(behind_s=float("inf")))
        done = import_readings_file(
            bench.store, decoder, arguments.file, datetime.now(UTC), _print_progress
        )
    if sys.stderr.isatty():
        print(file=sys.stderr)
    print(
        f"{arguments.file}: {done.rows} rows, {done.readings} readings, of which {done.new} are"
        f" new; {done.aside} rows kept aside."
    )
    if done.contrary:
        print(
            f"  {done.contrary} readings say otherwise than what is stored for their time; that"
            " stays, and they are kept aside."
        )
    for complaint in done.complaints:
        print(f"  {complaint}")
    if done.aside > len(done.complaints):
        print(f"  and {done.aside - len(done.complaints)} more; `laidup status` lists them.")
    return 1 if done.aside or done.contrary else 0


def _print_progress(so_far: Backfilled) -> None:
    if sys.stderr.isatty():
        print(f"\r{so_far.rows} rows, {so_far.new} new readings", end="", file=sys.stderr)
