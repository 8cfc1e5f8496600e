"""On which line of a TOML file a key stands: a parser tells of keys, and people look for lines."""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from monitor.errors import Fault

HEADING = re.compile(r"\s*\[(?P<one_of_several>\[?)\s*(?P<name>[^\[\]]+?)\s*\]")
_KEY = re.compile(r"""\s*(?P<name>[\w\-."' ]+?)\s*=""")
_LONG_QUOTES = ('"""', "'''")
_LAST_STEP = re.compile(r"(\.[^.\[\]]+|\[\d+\])$")


def at_toml_lines(faults: list[Fault], text: str) -> list[Fault]:
    """Faults of a TOML file with the line of each: of its key, else of the table around it."""
    lines: dict[str, int] = {}
    for number, key in _keys_by_line(text):
        lines.setdefault(key, number)
    return [replace(one, line=_nearest_line(one.key, lines)) for one in faults]


def key_on_line(text: str, number: int) -> str:
    """The key whose value begins on a line, also of a file that is no TOML; empty: none does."""
    lines = text.splitlines()
    found = _KEY.match(lines[number - 1]) if 0 < number <= len(lines) else None
    return "" if found is None else _plain(found["name"])


def _nearest_line(key: str, lines: dict[str, int]) -> int:
    while key and key not in lines:
        shorter = _LAST_STEP.sub("", key)
        key = "" if shorter == key else shorter
    return lines.get(key, 0)


def _keys_by_line(text: str) -> Iterator[tuple[int, str]]:
    """Every table and key with its line; keys as `monitor.settings.faults.key_path` has them."""
    counted: Counter[str] = Counter()
    here = ""
    until = ""  # what ends a text of several lines
    for number, line in enumerate(text.splitlines(), start=1):
        if until:
            until = "" if line.count(until) % 2 else until
        elif heading := HEADING.match(line):
            here = _table_path(heading["name"], bool(heading["one_of_several"]), counted)
            yield number, here
        elif key := _KEY.match(line):
            yield number, f"{here}.{_plain(key['name'])}" if here else _plain(key["name"])
            until = next((each for each in _LONG_QUOTES if line.count(each) % 2), "")


def _table_path(name: str, one_of_several: bool, counted: Counter[str]) -> str:
    """Path of a table by its heading, with the number of each table that is one of several."""
    path = ""
    parts = name.split(".")
    for n, part in enumerate(parts, start=1):
        path = f"{path}.{_plain(part)}" if path else _plain(part)
        if one_of_several and n == len(parts):
            counted[path] += 1
        if path in counted:
            path = f"{path}[{counted[path]}]"
    return path


def _plain(name: str) -> str:
    return name.strip().strip("\"'")
