"""Numbers and times as they are written in payloads and files, read strictly."""

import re
from datetime import datetime

from monitor.errors import PayloadError

# Digits of ASCII only and no underscores: float() takes "1_0" for ten, and digits of every script.
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")


def strict_number(text: str) -> float | None:
    """Number that a text is, spaces around it allowed; None if it is none, or is infinite."""
    if _NUMBER.fullmatch(text.strip()) is None:
        return None
    number = float(text)
    return number if abs(number) < float("inf") else None


def strict_time(text: str, field: str) -> float:
    """Unix time [s] that an RFC 3339 time with its zone names.

    Raises
    ------
    PayloadError
        If it is none, or has no zone and so names no moment; ``field`` says where it stood.
    """
    try:
        at = datetime.fromisoformat(text.upper())  # RFC 3339, 5.6: t and z may be small
    except ValueError as error:
        raise PayloadError(f"{text[:40]!r} is no time", field=field) from error
    if at.tzinfo is None:
        raise PayloadError(
            f"{text!r} has no zone, so it names no moment; let the sender add Z or an offset",
            field=field,
        )
    return at.timestamp()
