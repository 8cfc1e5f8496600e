"""How commands print: for a terminal in boxes that fit it, for a pipe or a file in whole lines."""

import json
import sys
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

_NO_END = 1_000_000  # columns of what is no terminal: nothing is wrapped there


def print_json(content: object) -> None:
    """Print an answer for machines: UTF-8, or where the locale has another encoding, ASCII."""
    in_utf_8 = (sys.stdout.encoding or "").lower().replace("-", "") == "utf8"
    print(json.dumps(content, ensure_ascii=not in_utf_8, indent=1))


def open_console(out: TextIO | None = None) -> "Console":
    """A console on stdout or another stream. Names are people's own: nothing in them is markup.

    On a terminal it wraps at its width, and NO_COLOR and TERM are heeded; elsewhere no line is
    wrapped.
    """
    from rich.console import Console

    width = None if (out or sys.stdout).isatty() else _NO_END
    return Console(file=out, width=width, markup=False, highlight=False, emoji=False)


def print_table(table: "Table", out: TextIO | None = None) -> None:
    """Print a table: in boxes on a terminal, elsewhere a row a line with nothing around it."""
    console = open_console(out)
    if not console.is_terminal:
        table.box = None
        table.padding = (0, 2, 0, 0)
        table.pad_edge = False
    for column in table.columns:  # a narrow terminal may break a word, never swallow its end
        column.overflow = "fold"
    console.print(table)


def print_text(text: str, indent: int = 0) -> None:
    """Print a paragraph, wrapped where it is a terminal; further lines as far in as the first."""
    from rich.padding import Padding

    console = open_console()
    if console.is_terminal and indent:
        console.print(Padding(text, (0, 0, 0, indent)))
    else:
        console.print(f"{'':{indent}}{text}")
