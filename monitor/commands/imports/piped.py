"""A file that is given as ``-``: what comes in by a pipe, read as any other."""

import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

_PIPE = Path("-")
_LOOKED_AT = 64 * 1024  # characters, to tell a table from TOML


@contextmanager
def readable_file(path: Path) -> Iterator[Path]:
    """The file itself; for ``-`` one that holds what stdin gives, and goes away again.

    It is named ``stdin.csv`` or ``stdin.toml`` by what is in it, for the name tells the form.
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
        yield raw.rename(raw.with_suffix(form))


def _is_toml(text: str) -> bool:
    """Whether the first line that says anything is of TOML: a table's name, or a key."""
    lines = (line.strip() for line in text.removeprefix("\ufeff").splitlines())
    said = next((line for line in lines if line and not line.startswith("#")), "")
    return said.startswith("[") or (" = " in said and "," not in said.partition("=")[0])
