"""Numbers written as text, read strictly: Python's own reading takes more than sensors mean."""

import re

# Digits of ASCII only and no underscores: float() takes "1_0" for ten, and digits of every script.
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")


def written_number(text: str) -> float | None:
    """Number that a text is, spaces around it allowed; None if it is none, or is infinite."""
    if _NUMBER.fullmatch(text.strip()) is None:
        return None
    number = float(text)
    return number if abs(number) < float("inf") else None
