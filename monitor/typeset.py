"""How numbers are set in all that people read: a true minus, and units that stay beside them."""

import re

_MINUS = re.compile(r"(?<![\w-])-(?=\d)")
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:°[CF]|%|fl oz|gal|[LVAhK]|min)(?!\w))")


def typeset(text: str) -> str:
    """Give numbers a true minus, and a space before their unit at which no line breaks."""
    return _BEFORE_UNIT.sub("\N{NO-BREAK SPACE}", _MINUS.sub("−", text))
