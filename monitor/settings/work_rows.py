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
# A list goes into the record in whole or not at all, and holds up other writers while it does.
MOST_STEPS = 10_000
CRAFT = "craft"
_FROM_ABOVE = (CRAFT, "at", "by")
_OF_PRODUCT = {field.column for field in ENTERED_FIELDS if field.part == "product"}
_COLUMN_OF = {
    name.lower().replace(" ", "_"): field.column
    for field in ENTERED_FIELDS
    for name in (field.label, field.of_many, field.file_key, field.column)
    if name and name != "name"
} | {"same_as": SAME_AS, "who": "by", "date": "at", "zero": "zeroed_on"}


def rows_of(path: Path, faults: list[Fault]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Each step of a list with its place in the file, such as ``line 4: ``.

    What stands above a step is among what it says; what is empty is not.

    Parameters
    ----------
    path : Path
    faults : list of Fault
        Takes in what is wrong with a row that is therefore left out, so that the others are read.

    Raises
    ------
    ConfigurationError
        If the file cannot be read, or its heading makes no sense.
    """
    rows = _rows_of_csv if path.suffix.lower() == ".csv" else _rows_of_toml
    for number, (where, row) in enumerate(rows(path, faults), start=1):
        if number > MOST_STEPS:
            raise error_at(
                path,
                where.rstrip(":. "),
                f"it holds more than {MOST_STEPS:,} steps, and one list takes no more",
                f"Cut it in two, the first ending before {where.rstrip(':. ')}; craft by craft, so"
                " that no job is parted.",
            )
        yield where, row


def _rows_of_csv(path: Path, faults: list[Fault]) -> Iterator[tuple[str, dict[str, Any]]]:
    text = read_text_file(path)
    if not text.strip():
        raise error_at(path, "", "it is empty", "Write a heading, and a row a step.")
    heading = text.partition("\n")[0]
    mark = max(",;\t", key=heading.count)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
    try:
        names = next(rows, [])
        columns = _check_columns(names, path)
        above: dict[str, Any] = {}
        line = rows.line_num + 1
        for cells in rows:
            where, line = f"line {line}: ", rows.line_num + 1
            if not any(cell.strip() for cell in cells):
                continue
            row = {key: cell.strip() for key, cell in zip(columns, cells, strict=False)}
            for key in _FROM_ABOVE:
                row[key] = row.get(key) or above.get(key, "")
            above = row.copy()
            if len(cells) > len(columns):
                wrong = f"it has {len(cells)} fields, and the heading {len(columns)}"
                remedy = "Put a field that holds the separator in quotes."
                faults.append(fault_at(path, where.rstrip(": "), wrong, remedy))
                continue
            yield where, {key: value for key, value in row.items() if value}
    except csv.Error as error:
        line_read = f"line {rows.line_num}"
        faults.append(fault_at(path, line_read, f"it is no CSV: {error}", "Correct the line."))


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


def _rows_of_toml(path: Path, faults: list[Fault]) -> Iterator[tuple[str, dict[str, Any]]]:
    content = read_toml(path)
    jobs = content.pop("job", [])
    for n, job in enumerate(jobs if isinstance(jobs, list) else [jobs], start=1):
        where = f"job[{n}]."
        if not isinstance(job, dict):
            faults.append(fault_at(path, f"job[{n}]", "it is no table", "Use [[job]]."))
            continue
        steps, crafts = job.pop("steps", []), job.pop("craft", [])
        for_all = content
        if SAME_AS in job and not steps:
            # The work that is taken over names its own product; only the job itself changes that.
            for_all = {key: value for key, value in content.items() if key not in _OF_PRODUCT}
        above, wrong = _flatten_step({**for_all, **job}, path, where)
        faults.extend(wrong)
        own = list(_steps_of_job(steps, path, where, faults))
        if steps == [] and SAME_AS not in above:
            remedy = "Write steps = [{ act = ... }]."
            faults.append(fault_at(path, f"job[{n}]", "it has no steps", remedy))
        for craft in crafts if isinstance(crafts, list) and crafts else [crafts or ""]:
            if SAME_AS in above and not steps:
                yield where, {**above, CRAFT: craft}
            for place, step in own:
                act = step.get("act", above.get("act", ""))
                yield place, {**usable_with(act, above), **step, CRAFT: craft}


def _steps_of_job(
    steps: object, path: Path, where: str, faults: list[Fault]
) -> Iterator[tuple[str, dict[str, Any]]]:
    """The steps of one job with their places; a step that is no table, or no list, is a fault."""
    if not isinstance(steps, list):
        faults.append(fault_at(path, f"{where}steps", "it is no list", "Write [{ act = ... }]."))
        return
    for k, step in enumerate(steps, start=1):
        place = f"{where}steps[{k}]."
        if not isinstance(step, dict):
            key = place.rstrip(".")
            faults.append(fault_at(path, key, "it is no table", "Write { act = ... }."))
            continue
        own, wrong = _flatten_step(step, path, place)
        faults.extend(wrong)
        yield place, own


def usable_with(act: object, said: Mapping[str, Any]) -> dict[str, Any]:
    """Of what is said of several steps at once, by column, that which one act can use.

    A product that is said of several is their antifreeze: no stabiliser and no film. Of an act
    that nobody knows all is left: what is wrong with the act is told later.
    """
    try:
        takes = {field.column for field in fields_of(act_meant(str(act)))}
    except ValueError:
        return dict(said)
    takes |= {SAME_AS}
    if "strength" in takes:
        takes.add("strength_by")
    else:
        takes -= _OF_PRODUCT
    return {key: value for key, value in said.items() if key in takes}


def _flatten_step(
    said: Mapping[str, Any], path: Path, where: str
) -> tuple[dict[str, Any], list[Fault]]:
    """What a step says, by column, a product may be a table of its own; and keys that no one is."""
    flat: dict[str, Any] = {}
    wrong: list[Fault] = []
    for key, value in said.items():
        inside = value.items() if key == "product" and isinstance(value, dict) else [(key, value)]
        for name, one in inside:
            column = "product" if name == "name" else _COLUMN_OF.get(name.replace("-", "_"))
            if column is None:
                problem = f"laidup knows no such key (value {one!r})"
                remedy = one_of(name, sorted(set(_COLUMN_OF.values())))
                wrong.append(fault_at(path, f"{where}{name}", problem, remedy))
            else:
                flat[column] = one
    return flat, wrong


def fault_at(path: Path, key: str, problem: str, remedy: str) -> Fault:
    """What is wrong at a place of a file."""
    return Fault(file=str(path), key=key, problem=problem, remedy=remedy)
