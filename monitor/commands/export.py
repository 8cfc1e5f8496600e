"""``laidup export``: readings, the lay-up record, alarms and the yard itself as files."""

import argparse
import csv
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

from monitor.clock import to_ms
from monitor.commands.opening import (
    Opened,
    at_time,
    craft_named,
    names_on_record,
    open_read_only,
    read_records,
)
from monitor.commands.progress import Progress
from monitor.commands.streams import file_when_whole, write_stdout_as_file
from monitor.errors import QuantityError
from monitor.reports.export_rows import (
    ALARM_COLUMNS,
    READING_COLUMNS,
    RECORD_COLUMNS,
    SentReadings,
    alarm_row,
    reading_time,
    record_rows,
    sent_readings,
)
from monitor.settings.faults import read_text_file
from monitor.settings.load import load_settings
from monitor.settings.yard_export import craft_file_text, yard_file_text
from monitor.settings.yard_items import with_items
from monitor.settings.yard_overlay import present_items

_BEGINNING = datetime(1970, 1, 1, tzinfo=UTC)


def export_readings(arguments: argparse.Namespace) -> int:
    """Write readings as their sensors sent them."""
    with open_read_only(arguments) as here, Progress() as progress:
        since, until = _span_of(arguments, here)
        batches = _count_batches(sent_readings(here.store, to_ms(since), to_ms(until)), progress)
        if _is_parquet(arguments.out):
            from monitor.reports.parquet import write_readings

            with file_when_whole(arguments.out) as path:
                count = write_readings(batches, path)
        else:
            with _open_out(arguments.out) as out:
                count = _write_csv(_reading_rows(batches), READING_COLUMNS, out)
    return _tell(count, "reading", "readings", arguments)


def export_record(arguments: argparse.Namespace) -> int:
    """Write every entry on record; or with --lines the chained links of each craft."""
    with open_read_only(arguments) as here:
        if arguments.lines:
            from monitor.reports.record_lines import record_lines

            names = names_on_record(here) if arguments.craft else {}
            wanted = {craft_named(one, names) for one in arguments.craft}
            count = 0
            with _open_out(arguments.out) as out:
                for line in record_lines(here.store, wanted or None):
                    count += 1
                    print(line, file=out)
            return _tell(count, "link", "links", arguments)
        rows = record_rows(read_records(here, arguments.craft))
        count = _write_rows(rows, RECORD_COLUMNS, arguments.out)
    return _tell(count, "entry", "entries", arguments)


def export_alarms(arguments: argparse.Namespace) -> int:
    """Write the alarms that were raised in a stretch."""
    with open_read_only(arguments) as here:
        since, until = _span_of(arguments, here)
        with here.store.snapshot() as tx:
            alarms = tx.alarms.raised_between(since, until)
        count = _write_rows(map(alarm_row, alarms), ALARM_COLUMNS, arguments.out)
    return _tell(count, "alarm", "alarms", arguments)


def export_yard(arguments: argparse.Namespace) -> int:
    """Write the yard's file with what the page changed, also where it is refused for that."""
    settings = load_settings(arguments.config, store_has_word=True)
    items = present_items(settings.changes)
    said = with_items(settings.said, items)
    text = yard_file_text(read_text_file(settings.file), said, items)
    with _open_out(arguments.out) as out:
        out.write(text)
    return _tell(len(items), "item of the page", "items of the page", arguments)


def export_craft(arguments: argparse.Namespace) -> int:
    """Write a craft file of the craft on record, as the page and commands have them."""
    with open_read_only(arguments) as here:
        records = read_records(here)
        with _open_out(arguments.out) as out:
            out.write(craft_file_text(records, here.yard))
    return _tell(len(records), "craft", "craft", arguments)


def _span_of(arguments: argparse.Namespace, here: Opened) -> tuple[datetime, datetime]:
    since = _BEGINNING if arguments.since is None else at_time(arguments.since, here.yard, "--from")
    until = at_time(arguments.until, here.yard, "--to")
    if since >= until:
        raise QuantityError(f"--from {arguments.since}: must be before --to")
    return since, until


def _count_batches(found: Iterable[SentReadings], progress: Progress) -> Iterator[SentReadings]:
    count = 0
    for batch in found:
        count += batch.at_ms.size
        progress.say_stage(f"{count:,} readings written")
        yield batch


def _reading_rows(batches: Iterable[SentReadings]) -> Iterator[dict[str, str]]:
    for batch in batches:
        unit = batch.channel.senml_unit
        for at_ms, value in zip(batch.at_ms.tolist(), batch.value_texts(), strict=True):
            yield {
                "at": reading_time(at_ms),
                "sensor": batch.sensor,
                "label": str(batch.channel),
                "unit": unit,
                "value": value,
            }


def _is_parquet(path: Path | None) -> bool:
    return path is not None and path.suffix.lower() == ".parquet"


def _write_rows(rows: Iterable[Mapping[str, str]], names: Sequence[str], path: Path | None) -> int:
    if path is not None and _is_parquet(path):
        from monitor.reports.parquet import write_rows

        with file_when_whole(path) as part:
            return write_rows(rows, names, part)
    with _open_out(path) as out:
        return _write_csv(rows, names, out)


def _write_csv(rows: Iterable[Mapping[str, str]], names: Sequence[str], out: TextIO) -> int:
    writer = csv.DictWriter(out, names, lineterminator="\n")
    writer.writeheader()
    count = 0
    for row in rows:
        writer.writerow(row)
        count += 1
    return count


@contextmanager
def _open_out(path: Path | None) -> Iterator[TextIO]:
    """The file, or stdout for none and for ``-``."""
    if path is None or path == Path("-"):
        write_stdout_as_file()
        yield sys.stdout
        return
    with file_when_whole(path) as part, part.open("w", encoding="utf-8", newline="") as file:
        yield file


def _tell(count: int, one: str, many: str, arguments: argparse.Namespace) -> int:
    """Say on stderr what was written, for stdout may be the file."""
    if arguments.out not in (None, Path("-")):
        print(f"{arguments.out}: {count:,} {one if count == 1 else many}.", file=sys.stderr)
    return 0
