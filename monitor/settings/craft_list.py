"""A season's list of craft as CSV, read into what a craft file says."""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from monitor.craft.record import CraftRecord
from monitor.errors import Fault
from monitor.settings.faults import error_at, read_text_file

_NUMBER = re.compile(r"craft\[(\d+)\]\.?")
MOST_CRAFT = 5_000  # one list goes in whole or not at all, and a yard may hold 2,000
_COLUMNS = ("id", "name", "profile", "arrived", "place")
_MORE_COLUMNS = ("fittings", "owner", "hull_number", "left", "note")


def read_craft_list(
    path: Path, known: Mapping[str, CraftRecord], faults: list[Fault]
) -> tuple[dict[str, Any], list[int]]:
    """A season's list of craft, one a row, and the line of each.

    Several fittings are separated by spaces, commas, semicolons or a plus.

    Parameters
    ----------
    path : Path
    known : mapping of str to CraftRecord
        Craft on record; for them an empty cell, or a column that is not there, means "as it was".
    faults : list of Fault
        Takes in what is wrong with a row that is therefore left out.

    Raises
    ------
    ConfigurationError
        If the file cannot be read, or its heading lacks what a new craft needs.
    """
    columns, rows = _rows_by_line(path)
    # A list of nothing but known craft needs only their ids and what is new of them.
    only_known = all(_id_of_row(row) in {*known, ""} for row in rows.values())
    _check_heading(path, columns, _COLUMNS[:1] if known and only_known else _COLUMNS)
    craft, lines = [], []
    for line, row in rows.items():
        if None in row:
            wrong = "it has more fields than the heading"
            faults.append(
                Fault(file=str(path), key=f"line {line}", problem=wrong, remedy="Quote commas.")
            )
            continue
        cells = {key: (value or "").strip() for key, value in row.items()}
        if filled := {key: value for key, value in cells.items() if value}:
            lines.append(line)
            if "id" in filled:
                filled["id"] = _id_of_row(filled)
            craft.append(_as_it_was(known.get(filled.get("id", ""))) | _craft_of_row(filled))
    return {"craft": craft}, lines


def _id_of_row(row: Mapping[str, str]) -> str:
    return (row.get("id") or "").strip().lower()


def _rows_by_line(path: Path) -> tuple[list[str], dict[int, dict[str | Any, str | Any]]]:
    """The columns of a list, and each row by the line on which it begins."""
    text = read_text_file(path)
    if not text.strip():
        raise error_at(path, "", "it is empty", "Write a heading, and a row a craft.")
    heading = text.partition("\n")[0]
    reader = csv.DictReader(io.StringIO(text, newline=""), delimiter=max(",;\t", key=heading.count))
    rows: dict[int, dict[str | Any, str | Any]] = {}
    try:
        columns = [name.strip().lower().replace(" ", "_") for name in reader.fieldnames or ()]
        reader.fieldnames = columns
        line = reader.line_num + 1
        for row in reader:  # a row begins behind the one before it, however many lines a cell holds
            if len(rows) == MOST_CRAFT:
                raise error_at(
                    path,
                    f"line {line}",
                    f"it holds more than {MOST_CRAFT:,} craft, and one list takes no more",
                    f"Cut it in two, the second beginning with line {line} under the same heading.",
                )
            rows[line] = row
            line = reader.line_num + 1
    except csv.Error as error:  # as a cell without an end
        here = f"line {reader.line_num}"
        raise error_at(path, here, f"it is no CSV: {error}", "Correct the line.") from error
    return columns, rows


def _check_heading(path: Path, columns: Sequence[str], needed: Sequence[str]) -> None:
    """Raise for a heading that lacks a column that is needed, or has one that nothing reads."""
    missing = [name for name in needed if name not in columns]
    strange = [name for name in columns if name not in _COLUMNS + _MORE_COLUMNS]
    if missing or strange:
        what = f"lacks {', '.join(missing)}" if missing else f"has {', '.join(strange)}"
        raise error_at(
            path,
            "line 1",
            f"the heading {what}",
            f"It needs {', '.join(_COLUMNS)}, and may have {', '.join(_MORE_COLUMNS)}.",
        )


def _craft_of_row(filled: Mapping[str, str]) -> dict[str, Any]:
    """What a craft file would say of the craft of one row."""
    said: dict[str, Any] = {key: value for key, value in filled.items() if key != "place"}
    fittings = filled.get("fittings", "-")
    if fittings != "-":
        said["fittings"] = re.split(r"[\s,;+]+", fittings)
    said["stays"] = [{"place": filled["place"]}] if "place" in filled else []
    return said


def at_its_line(fault: Fault, lines: Sequence[int]) -> Fault:
    """Name the line of a list in place of the number of the craft."""
    match = _NUMBER.match(fault.key)
    if match is None or int(match[1]) > len(lines):
        return fault
    column = fault.key[match.end() :].removeprefix("stays[1].").replace("stays", "place")
    return replace(fault, key=f"line {lines[int(match[1]) - 1]}: {column}".rstrip(": "))


def _as_it_was(record: CraftRecord | None) -> dict[str, Any]:
    """What every craft must say, of one that is on record."""
    if record is None:
        return {}
    craft = record.craft
    return {"name": craft.name, "profile": craft.profile, "arrived": craft.arrived_at}
