"""The rows of a work list as they stand in the file, CSV or TOML, by column of an entry."""

import csv
import io
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from monitor.craft.acts import act_meant, fields_of
from monitor.craft.fields import ENTERED_FIELDS
from monitor.errors import ConfigurationError, Fault
from monitor.settings.faults import error_at, one_of, read_text_file, read_toml

SAME_AS = "same_as"
CRAFT = "craft"
_FROM_ABOVE = (CRAFT, "at", "by")
_COLUMN_OF = {
    name.lower().replace(" ", "_"): field.column
    for field in ENTERED_FIELDS
    for name in (field.label, field.of_many, field.file_key, field.column)
    if name and name != "name"
} | {"same_as": SAME_AS, "who": "by", "date": "at", "zero": "zeroed_on"}


def rows_of(path: Path) -> Iterator[tuple[str, dict[str, Any]]]:
    """Each step of a list with its place in the file, such as ``line 4: ``.

    What stands above a step is among what it says; what is empty is not.

    Raises
    ------
    ConfigurationError
        If the file cannot be read, or a row or a key of it makes no sense.
    """
    yield from _rows_of_csv(path) if path.suffix.lower() == ".csv" else _rows_of_toml(path)


def _rows_of_csv(path: Path) -> Iterator[tuple[str, dict[str, Any]]]:
    text = read_text_file(path)
    heading = text.partition("\n")[0]
    mark = max(",;\t", key=heading.count)
    rows = csv.reader(io.StringIO(text), delimiter=mark)
    try:
        names = next(rows, [])
        columns = _check_columns(names, path)
        above: dict[str, Any] = {}
        line = rows.line_num + 1
        for cells in rows:
            where, line = f"line {line}: ", rows.line_num + 1
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) > len(columns):
                raise error_at(
                    path,
                    where.rstrip(": "),
                    f"it has {len(cells)} fields, and the heading {len(columns)}",
                    "Put a field that holds the separator in quotes.",
                )
            row = {key: cell.strip() for key, cell in zip(columns, cells, strict=False)}
            for key in _FROM_ABOVE:
                row[key] = row.get(key) or above.get(key, "")
            above = row.copy()
            yield where, {key: value for key, value in row.items() if value}
    except csv.Error as error:
        raise error_at(
            path, f"line {rows.line_num}", f"it is no CSV: {error}", "Correct the line."
        ) from error


def _check_columns(names: list[str], path: Path) -> list[str]:
    found = []
    faults = []
    for name in names:
        key = name.strip().lower().replace(" ", "_").replace("-", "_")
        column = _COLUMN_OF.get(key)
        if column is None:
            remedy = one_of(key, sorted(set(_COLUMN_OF)))
            faults.append(fault_at(path, "line 1", f"there is no column {name.strip()!r}", remedy))
        elif column in found:
            faults.append(
                fault_at(
                    path, "line 1", f"{name.strip()!r} stands there twice", "Keep one of them."
                )
            )
        else:
            found.append(column)
    needed = {"craft"} if SAME_AS in found else {"craft", "act"}
    faults.extend(
        fault_at(path, "line 1", f"the column {name!r} is missing", "Add it.")
        for name in sorted(needed - set(found))
    )
    if faults:
        raise ConfigurationError(faults)
    return found


def _rows_of_toml(path: Path) -> Iterator[tuple[str, dict[str, Any]]]:
    content = read_toml(path)
    jobs = content.pop("job", [])
    for n, job in enumerate(jobs if isinstance(jobs, list) else [jobs], start=1):
        where = f"job[{n}]."
        if not isinstance(job, dict):
            raise error_at(path, f"job[{n}]", "it is no table", "Use [[job]].")
        steps = job.pop("steps", [])
        crafts = job.pop("craft", [])
        above = {**content, **job}
        for craft in [crafts] if isinstance(crafts, str) else crafts or [""]:
            if SAME_AS in above and not steps:
                yield where, {**_flatten_step(above, path, where), CRAFT: craft}
            for k, step in enumerate(steps, start=1):
                place = f"{where}steps[{k}]."
                if not isinstance(step, dict):
                    raise error_at(
                        path, place.rstrip("."), "it is no table", "Write { act = ... }."
                    )
                from_above = _flatten_step(above, path, where)
                own = _flatten_step(step, path, place)
                act = own.get("act", from_above.get("act", ""))
                yield place, {**usable_with(act, from_above), **own, CRAFT: craft}


def usable_with(act: object, said: Mapping[str, Any]) -> dict[str, Any]:
    """Of what is said of several steps at once, by column, that which one act can use.

    Of an act that nobody knows all of it: what is wrong with the act is told later.
    """
    try:
        takes = {field.column for field in fields_of(act_meant(str(act)))}
    except ValueError:
        return dict(said)
    takes |= {SAME_AS} | ({"strength_by"} if "strength" in takes else set())
    return {key: value for key, value in said.items() if key in takes}


def _flatten_step(said: Mapping[str, Any], path: Path, where: str) -> dict[str, Any]:
    """What a step says, by column; a product may be a table of its own."""
    flat: dict[str, Any] = {}
    for key, value in said.items():
        inside = value.items() if key == "product" and isinstance(value, dict) else [(key, value)]
        for name, one in inside:
            column = "product" if name == "name" else _COLUMN_OF.get(name.replace("-", "_"))
            if column is None:
                raise error_at(
                    path,
                    f"{where}{name}",
                    f"laidup knows no such key (value {one!r})",
                    one_of(name, sorted(set(_COLUMN_OF.values()))),
                )
            flat[column] = one
    return flat


def fault_at(path: Path, key: str, problem: str, remedy: str) -> Fault:
    """What is wrong at a place of a file."""
    return Fault(file=str(path), key=key, problem=problem, remedy=remedy)
