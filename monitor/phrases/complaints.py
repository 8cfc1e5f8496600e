"""What is wrong with a value that a library refuses, in our own words, for files and API alike.

A library says which kind of complaint it has, and within which bounds; its own sentence is told
only where nothing here says it better.
"""

import difflib
import re
from collections.abc import Mapping
from typing import Any

from monitor.craft.layup import ONE_LINE, SEVERAL_LINES
from monitor.errors import problem_and_remedy

ID = r"^[a-z0-9][a-z0-9-]{0,62}$"  # it stands in topics, addresses and file names
TEXT = r"^[^\x00-\x1f]*$"
SENSOR = r"^[A-Za-z0-9][A-Za-z0-9\-:./_]{0,127}$"
USER = r"^[^/+#\s]{1,100}$"
TIME_OF_DAY = r"^([01]\d|2[0-3]):[0-5]\d$"
PHONE = r"^\+?[0-9(][0-9 ().-]{1,28}[0-9]$"
# What is said of a text that does not match: what it is not, and what to write.
_PATTERNS: Mapping[str, tuple[str, str]] = {
    ID: ("no id", "use small letters, digits and hyphens, 63 at most, and begin with no hyphen"),
    TEXT: ("not one line", "leave out line breaks, tabs and other control characters"),
    ONE_LINE: ("not one plain line", "leave out line breaks and marks that turn the direction"),
    SEVERAL_LINES: (
        "not plain text",
        "leave out control characters and marks that turn the direction",
    ),
    SENSOR: ("no sensor name", "use letters, digits and - : . / _, 128 at most, without spaces"),
    USER: ("no user's name", "leave out / + # and spaces"),
    TIME_OF_DAY: ("no time of day", "write it like 06:30"),
    PHONE: ("no telephone number", "write it like 715-555-0142 or +1 715 555 0142"),
}
_WHOLE_NUMBER = ("no whole number", "write a whole number, like 3")
_NUMBER = ("no number", "write a number, like 2.5")
_YES_NO = ("neither true nor false", "write true or false")
_TIME = ("no time", "write it like 2026-11-02T14:30")
_DAY = ("no day", "write it like 2026-11-02")
_LIST = ("no list", "put it in square brackets")
_GROUP = ("no group of fields", "give its fields by name")
_KINDS: Mapping[str, tuple[str, str]] = {
    "missing": ("it is missing", "add it"),
    "extra_forbidden": ("laidup knows no such key", "leave it out, or correct its name"),
    "json_invalid": ("the body is no JSON", "send one object: {error}"),
    "string_too_long": ("it is too long", "write {max_length} letters at most; it has {length}"),
    "string_too_short": ("it is empty", "write something, or leave it out"),
    "too_long": ("there are too many", "name {max_length} at most; it has {length}"),
    "string_type": ("it is no text", "write it in quotes"),
    "bool_parsing": _YES_NO,
    "bool_type": _YES_NO,
    "int_parsing": _WHOLE_NUMBER,
    "int_type": _WHOLE_NUMBER,
    "int_from_float": _WHOLE_NUMBER,
    "float_parsing": _NUMBER,
    "float_type": _NUMBER,
    "finite_number": _NUMBER,
    "greater_than": ("too small", "write a number above {gt}"),
    "greater_than_equal": ("too small", "write {ge} or more"),
    "less_than": ("too large", "write a number below {lt}"),
    "less_than_equal": ("too large", "write {le} or less"),
    "timezone_aware": ("it has no time zone", "write it like 2026-10-20T14:30:00-05:00"),
    **dict.fromkeys(("datetime_parsing", "datetime_from_date_parsing", "datetime_type"), _TIME),
    **dict.fromkeys(
        ("date_parsing", "date_from_datetime_parsing", "date_from_datetime_inexact", "date_type"),
        _DAY,
    ),
    **dict.fromkeys(("tuple_type", "list_type"), _LIST),
    **dict.fromkeys(("model_type", "model_attributes_type", "dict_type"), _GROUP),
}


def what_is_wrong(detail: Mapping[str, Any]) -> tuple[str, str]:
    """The problem and the remedy of one complaint; without a remedy, all that is known of it.

    Parameters
    ----------
    detail : mapping
        Kind (`type`), sentence (`msg`), refused value (`input`) and bounds (`ctx`), as pydantic
        tells them.
    """
    context: Mapping[str, Any] = detail.get("ctx") or {}
    if isinstance(error := context.get("error"), ValueError):
        return problem_and_remedy(error)
    value = detail.get("input")
    if detail["type"] in {"enum", "literal_error"}:
        return "it will not do", _likeliest(value, str(context["expected"]))
    if (words := _KINDS.get(detail["type"])) is not None:
        length = len(value) if isinstance(value, str | list | tuple | dict) else 0
        problem, remedy = words
        return problem, remedy.format_map({"length": length, **context})
    return _PATTERNS.get(context.get("pattern", ""), (str(detail["msg"]), ""))


def _likeliest(value: object, expected: str) -> str:
    """Remedy for a word that is not among the known ones, with the likeliest slip first."""
    known = re.findall(r"'([^']*)'", expected)
    near = difflib.get_close_matches(str(value), known, n=1)
    inside = [one for one in known if str(value) and str(value) in one]
    found = near or inside[:1]
    slip = f"did you mean {found[0]!r}? If not, " if found else ""
    return f"{slip}use {expected}"
