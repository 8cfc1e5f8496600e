"""A season's list of craft as CSV, read into what a craft file says."""

import csv
import io
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from monitor.craft.record import CraftRecord
from monitor.errors import ConfigurationError, Fault

_COLUMNS = ("id", "name", "profile", "arrived", "place")
_MORE_COLUMNS = ("fittings", "owner", "hull_number", "left", "note")


def read_craft_list(path: Path, known: Mapping[str, CraftRecord]) -> dict[str, Any]:
    """A season's list of craft: one a row, several fittings separated by spaces.

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

    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise fault("", "there is no such file", "Check the path.") from error
    except (OSError, UnicodeDecodeError) as error:
        raise fault("", f"it cannot be read: {error}", "Save it as UTF-8 text.") from error
    sample = text.partition("\n")[0]
    rows = csv.DictReader(io.StringIO(text), delimiter=";" if ";" in sample else ",")
    columns = [name.strip().lower() for name in rows.fieldnames or ()]
    rows.fieldnames = columns
    content = [(rows.line_num, row) for row in rows]
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
    craft = []
    for line, row in content:
        if None in row:
            raise fault(f"line {line}", "it has more fields than the heading", "Quote commas.")
        cells = {key: (value or "").strip() for key, value in row.items()}
        filled = {key: value for key, value in cells.items() if value}
        if not filled:
            continue
        place = filled.pop("place", "")
        fittings = filled.get("fittings", "-")
        craft.append(
            {
                **_as_it_was(known.get(filled.get("id", ""))),
                **filled,
                **({} if fittings == "-" else {"fittings": re.split(r"[\s,;+]+", fittings)}),
                "stays": [{"place": place}] if place else [],
            }
        )
    return {"craft": craft}


def _as_it_was(record: CraftRecord | None) -> dict[str, Any]:
    """What every craft must say, of one that is on record."""
    if record is None:
        return {}
    craft = record.craft
    return {"name": craft.name, "profile": craft.profile, "arrived": craft.arrived_at}
