"""A file that is given as ``-``: what comes in by a pipe, read as any other."""

import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from monitor.errors import ConfigurationError

_PIPE = Path("-")
_STANDARD_INPUT = "standard input"
_LOOKED_AT = 64 * 1024  # characters, to tell a table from TOML


@contextmanager
def readable_file(path: Path) -> Iterator[Path]:
    """The file itself; for ``-`` one that holds what stdin gives, and goes away again.

    It is named ``stdin.csv`` or ``stdin.toml`` by what is in it, for the name tells the form. What
    is wrong in it is told of standard input, for nobody has seen that file.
    """
    if path != _PIPE:
        yield path
        return
    with TemporaryDirectory() as folder:
        raw = Path(folder) / "stdin"
        with raw.open("wb") as file:
            shutil.copyfileobj(sys.stdin.buffer, file)
        with raw.open(encoding="utf-8", errors="replace") as file:
            form = ".toml" if _is_toml(file.read(_LOOKED_AT)) else ".csv"
        file_of_pipe = raw.rename(raw.with_suffix(form))
        try:
            yield file_of_pipe
        except ConfigurationError as error:
            raise type(error)(
                [
                    replace(one, file=_STANDARD_INPUT) if one.file == str(file_of_pipe) else one
                    for one in error.faults
                ]
            ) from error


def shown_name(path: Path) -> str:
    """What a file is called in an answer."""
    return _STANDARD_INPUT if path == _PIPE else str(path)


def _is_toml(text: str) -> bool:
    """Whether the first line that says anything is of TOML: a table's name, or a key."""
    lines = (line.strip() for line in text.removeprefix("\ufeff").splitlines())
    said = next((line for line in lines if line and not line.startswith("#")), "")
    return said.startswith("[") or (" = " in said and "," not in said.partition("=")[0])
