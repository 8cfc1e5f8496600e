"""TOML as text to its content, with a bound on keys that tomllib itself has none for."""

import re
import tomllib
from typing import Any

# 60,000 dotted parts, 120 kB of text, cost tomllib 21 GB: it keeps each beginning of a key.
_MOST_PARTS = 100
_QUOTED = re.compile(r'"(?:[^"\\\n]|\\.)*"|' + r"'[^'\n]*'")
_BETWEEN_KEYS = re.compile(r"[=,\[\]{}\n]")


def parse_toml(text: str) -> dict[str, Any]:
    """Parse TOML.

    Raises
    ------
    ValueError
        If it is none (`tomllib.TOMLDecodeError` among them), or a key has more than 100 parts.
    RecursionError
        If its brackets are too deep.
    """
    for number, line in enumerate(text.split("\n"), 1):
        if line.count(".") > _MOST_PARTS:
            parts = _BETWEEN_KEYS.split(_QUOTED.sub("", line))
            if any(part.count(".") > _MOST_PARTS for part in parts):
                raise ValueError(f"a key in line {number} has more than {_MOST_PARTS} dotted parts")
    return tomllib.loads(text)
