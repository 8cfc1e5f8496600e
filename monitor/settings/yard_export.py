"""The yard's file written anew with what people changed at the page; all else stays as it stood."""

import json
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, time
from typing import Any

from monitor.craft.record import CraftRecord
from monitor.settings.new_yard import toml_value
from monitor.settings.toml_lines import HEADING
from monitor.settings.yard_items import LISTS, YARD_FIELDS
from monitor.toml_text import parse_toml
from monitor.yard.space import Yard
from monitor.yard.yard_change import Item, ItemKey, YardPart

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_ANEW = """\
# The yard's own file, written by `laidup export yard`. `laidup check` says what is wrong in it.
# docs/yard-file.md, in the program's folder, explains every key. Times are the yard's own.
"""
_CRAFT_ANEW = """\
# The yard's craft, written by `laidup export craft`. Their work is on record, and is not repeated
# here: what a craft file leaves out stays as it was.
"""


def yard_file_text(text: str, said: Mapping[str, Any], items: Mapping[ItemKey, Item | None]) -> str:
    """The text of a yard's file with some items as they are now.

    Parameters
    ----------
    text : str
        The file as it stands. Its comments stay, but for those of an item that is written anew.
    said : mapping
        What the new file is to say, the items put in (`with_items`).
    items : mapping of item to what is said of it
        Those to write; None: to leave out.

    Returns
    -------
    str
        TOML that says just what ``said`` does. Where the file is written in a way that cannot be
        kept, all of it is written anew, without its comments.
    """
    pieces = list(_pieces_of(text))
    for part, (_, named_by) in LISTS.items():
        ours = {key: item for (of, key), item in items.items() if of is part}
        tables = {table[named_by]: table for table in said.get(part.value, ())}
        pieces = _with_tables(pieces, part.value, named_by, ours, tables)
    parts = {part for part, _ in items}
    if YardPart.YARD in parts:
        pieces = [_with_yard_keys(one, said["yard"]) if _root(one) == "yard" else one
                  for one in pieces]  # fmt: skip
    for whole in (YardPart.HELPERS, YardPart.DUTY):
        if whole in parts:
            pieces = _with_whole_table(pieces, whole.value, said.get(whole.value))
    made = "\n\n".join(one.strip("\n") for one in pieces if one.strip()) + "\n"
    try:
        kept = _comparable(parse_toml(made)) == _comparable(said)
    except ValueError:
        kept = False
    return made if kept else whole_file_text(said)


def _with_whole_table(pieces: list[str], name: str, table: Mapping[str, Any] | None) -> list[str]:
    """The pieces with one table written anew at the end, or left out where nothing is in it."""
    others = [one for one in pieces if _root(one) != name]
    return [*others, _table_text(f"[{name}]", table)] if table else others


def whole_file_text(said: Mapping[str, Any]) -> str:
    """A yard's file of what it is to say, without comments."""
    plain = {key: value for key, value in said.items() if not _is_block(value)}
    pieces = [_ANEW]
    if plain:
        pieces.append("\n".join(_lines_of(plain)))
    for key, value in said.items():
        if isinstance(value, Mapping):
            pieces.append(_table_text(f"[{_key(key)}]", value))
        elif _is_block(value):
            pieces += [_table_text(f"[[{_key(key)}]]", one) for one in value]
    return "\n\n".join(one.strip("\n") for one in pieces) + "\n"


def craft_file_text(records: Iterable[CraftRecord], yard: Yard) -> str:
    """A craft file of what is on record of craft and their places; their work stays on record.

    Of where a craft stood, spaces that the yard no longer has are left out.
    """
    spaces = {one.id for one in yard.spaces}
    pieces = [_CRAFT_ANEW]
    for record in records:
        craft = record.craft
        said: dict[str, Any] = {"id": craft.id, "name": craft.name, "profile": craft.profile,
                                "fittings": list(craft.fittings), "owner": craft.owner,
                                "hull_number": craft.hull_number,
                                "arrived": craft.arrived_at.astimezone(yard.zone)}  # fmt: skip
        if craft.left_at is not None:
            said["left"] = craft.left_at.astimezone(yard.zone)
        said["note"] = craft.note
        pieces.append(_table_text("[[craft]]", {key: one for key, one in said.items() if one}))
        for stay in record.stays:
            if stay.space in spaces:
                place = f"{stay.space}/{stay.berth}" if stay.berth else stay.space
                told = {"place": place, "since": stay.since.astimezone(yard.zone), "by": stay.by}
                told = {key: one for key, one in told.items() if one}
                pieces.append(_table_text("[[craft.stays]]", told))
    return "\n\n".join(one.strip("\n") for one in pieces) + "\n"


def toml_text(value: object) -> str:
    """A value as TOML writes it, tables within braces."""
    if isinstance(value, Mapping):
        inner = ", ".join(f"{_key(key)} = {toml_text(one)}" for key, one in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(toml_text(one) for one in value)}]"
    if isinstance(value, (datetime, date, time)):
        return value.isoformat()
    return toml_value(value)


def _is_block(value: object) -> bool:
    if isinstance(value, Mapping):
        return True
    return isinstance(value, list) and bool(value) and all(isinstance(o, Mapping) for o in value)


def _comparable(said: Mapping[str, Any]) -> str:
    """Content without the blocks that say nothing, and without the order of keys."""
    kept = {key: value for key, value in said.items() if value not in ({}, [], ())}
    return json.dumps(kept, sort_keys=True, default=lambda one: one.isoformat())


def _pieces_of(text: str) -> Iterator[str]:
    """The file in pieces: each a table with all below it and the comment that stands on top."""
    lines: list[str] = []
    above: list[str] = []  # a comment, of which it is not known yet to what it belongs
    root = ""
    for line in text.splitlines():
        heading = HEADING.match(line)
        if heading is None:
            if line.startswith("#"):
                above.append(line)
            else:
                lines += [*above, line]
                above = []
            continue
        name = heading["name"].strip()
        # `[sensors.limits]` belongs to the sensor before it, a further `[[sensors]]` does not.
        if root and name.startswith(f"{root}."):
            lines += [*above, line]
        else:
            yield "\n".join(lines)
            lines, root = [*above, line], name
        above = []
    yield "\n".join([*lines, *above])


def _root(piece: str) -> str:
    found = next((h for line in piece.splitlines() if (h := HEADING.match(line))), None)
    return "" if found is None else found["name"].strip()


def _with_tables(
    pieces: list[str],
    root: str,
    named_by: str,
    ours: Mapping[str, Item | None],
    tables: Mapping[str, Mapping[str, Any]],
) -> list[str]:
    """The pieces with ours in place of those of the same key, and new ones behind the last."""
    made: list[str] = []
    seen: set[str] = set()
    end = len(pieces)
    for piece in pieces:
        key = _key_of(piece, root, named_by)
        if key is not None and key in ours:
            seen.add(key)
            if key in tables:
                made.append(_table_text(f"[[{root}]]", tables[key]))
        else:
            made.append(piece)
        if _root(piece) == root:
            end = len(made)
    new = [key for key in ours if key not in seen and key in tables]
    end = min(end, len(made))
    made[end:end] = [_table_text(f"[[{root}]]", tables[key]) for key in new]
    return made


def _key_of(piece: str, root: str, named_by: str) -> str | None:
    if _root(piece) != root:
        return None
    try:
        tables = tomllib.loads(piece)[root]
    except (ValueError, KeyError):
        return None
    key = tables[0].get(named_by) if isinstance(tables, list) and tables else None
    return key if isinstance(key, str) else None


def _with_yard_keys(piece: str, said: Mapping[str, Any]) -> str:
    """The block ``[yard]`` with the values that it is to say; a comment behind a value stays."""
    lines, left = [], {name: said[name] for name in YARD_FIELDS if name in said}
    for line in piece.splitlines():
        match = re.match(r"(?P<key>[a-z_]+)\s*=", line)
        if match is None or match["key"] not in YARD_FIELDS:
            lines.append(line)
            continue
        name = match["key"]
        if name in left:
            value = left.pop(name)
            same = tomllib.loads(line).get(name) == value
            lines.append(line if same else f"{name} = {toml_text(value)}{_comment_of(line)}")
    place = next((n for n, one in enumerate(lines) if HEADING.match(one)), -1) + 1
    last = max((n + 1 for n, one in enumerate(lines) if "=" in one and not one.startswith("#")),
               default=place)  # fmt: skip
    lines[last:last] = [f"{name} = {toml_text(value)}" for name, value in left.items()]
    return "\n".join(lines)


def _comment_of(line: str) -> str:
    """What stands behind a value on its line, from its ``#`` on."""
    for at in (n for n, sign in enumerate(line) if sign == "#"):
        try:
            tomllib.loads(line[:at])
        except tomllib.TOMLDecodeError:
            continue  # it stands inside a text
        return f" {line[at:]}"
    return ""


def _table_text(heading: str, table: Mapping[str, Any]) -> str:
    return "\n".join([heading, *_lines_of(table)])


def _lines_of(table: Mapping[str, Any]) -> list[str]:
    return [f"{_key(key)} = {toml_text(value)}" for key, value in table.items()]


def _key(name: str) -> str:
    return name if _BARE_KEY.fullmatch(name) else toml_value(name)
