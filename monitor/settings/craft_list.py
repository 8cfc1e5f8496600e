"""A season's list of craft as CSV, read into what a craft file says."""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from monitor.craft.record import CraftRecord
from monitor.errors import ConfigurationError, Fault
from monitor.settings.file_text import text_of

_NUMBER = re.compile(r"craft\[(\d+)\]\.?")
_COLUMNS = ("id", "name", "profile", "arrived", "place")
_MORE_COLUMNS = ("fittings", "owner", "hull_number", "left", "note")


def read_craft_list(
    path: Path, known: Mapping[str, CraftRecord]
) -> tuple[dict[str, Any], list[int]]:
    """A season's list of craft, one a row, and the line of each.

    Several fittings are separated by spaces, commas, semicolons or a plus.

    Parameters
    ----------
    path : Path
    known : mapping of str to CraftRecord
        Craft on record; for them an empty cell, or a column that is not there, means "as it was".

    Raises
    ------
    ConfigurationError
        If the file cannot be read, or its heading lacks what a new craft needs.
    """

    def fault(key: str, problem: str, remedy: str) -> ConfigurationError:
        return ConfigurationError([Fault(file=str(path), key=key, problem=problem, remedy=remedy)])

    text = text_of(path)
    sample = text.partition("\n")[0]
    rows = csv.DictReader(io.StringIO(text), delimiter=";" if ";" in sample else ",")
    columns = [name.strip().lower() for name in rows.fieldnames or ()]
    rows.fieldnames = columns
    content = []
    line = rows.line_num + 1
    for row in rows:  # a row begins behind the one before it, however many lines a cell holds
        content.append((line, row))
        line = rows.line_num + 1
    # A list of nothing but known craft needs only their ids and what is new of them.
    only_known = all((row.get("id") or "").strip() in {*known, ""} for _, row in content)
    needed = _COLUMNS[:1] if known and only_known else _COLUMNS
    missing = [name for name in needed if name not in columns]
    strange = [name for name in columns if name not in _COLUMNS + _MORE_COLUMNS]
    if missing or strange:
        what = f"lacks {', '.join(missing)}" if missing else f"has {', '.join(strange)}"
        raise fault(
            "line 1",
            f"the heading {what}",
            f"It needs {', '.join(_COLUMNS)}, and may have {', '.join(_MORE_COLUMNS)}.",
        )
    craft, lines = [], []
    for line, row in content:
        if None in row:
            raise fault(f"line {line}", "it has more fields than the heading", "Quote commas.")
        cells = {key: (value or "").strip() for key, value in row.items()}
        filled = {key: value for key, value in cells.items() if value}
        if not filled:
            continue
        place = filled.pop("place", "")
        fittings = filled.get("fittings", "-")
        lines.append(line)
        craft.append(
            {
                **_as_it_was(known.get(filled.get("id", ""))),
                **filled,
                **({} if fittings == "-" else {"fittings": re.split(r"[\s,;+]+", fittings)}),
                "stays": [{"place": place}] if place else [],
            }
        )
    return {"craft": craft}, lines


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
