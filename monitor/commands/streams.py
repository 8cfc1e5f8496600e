"""Where answers go: a locale without our signs, a shut stream, a broken pipe, half a file."""

import codecs
import errno
import io
import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from monitor.errors import LaidupError

_HANDLER = "laidup-plain-signs"
# What stands in for a sign that the stream's encoding lacks. A minus must never become a question.
_PLAIN_SIGNS = {"\N{MINUS SIGN}": "-", "\N{EN DASH}": "-", "\N{NO-BREAK SPACE}": " ", "°": ""}
# What is wrong with the machine, not with laidup: told in a line, where a trace would help nobody.
_TOLD_ERRORS = {
    errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO, errno.EROFS, errno.EACCES, errno.EPERM,
}  # fmt: skip


def prepare_streams() -> None:
    """Make stdout and stderr able to take every answer, whatever locale or state they came in."""
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115  # to the end
    codecs.register_error(_HANDLER, _in_plain_signs)
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors=_HANDLER)


def write_stdout_as_file() -> None:
    """Have stdout carry a file: UTF-8 in any locale, for that is how it is read again."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8", errors="strict")


def drop_stdout() -> None:
    """Let go of what nobody reads or has room for, so that the interpreter's end is quiet."""
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
    except (OSError, ValueError):  # a stream without a file behind it
        return
    os.close(nowhere)


def is_told_error(error: OSError) -> bool:
    """Whether an error is the machine's own, and a line says all of it."""
    return error.errno in _TOLD_ERRORS


def os_error_text(error: OSError) -> str:
    """What failed, where, and what to do."""
    where = f"{error.filename}: " if error.filename else ""
    if error.errno in {errno.EACCES, errno.EPERM, errno.EROFS}:
        remedy = "Run it as the user whose folder it is, or name another place."
    else:
        remedy = "What was written is not whole. Make room, or name another place; run it again."
    return f"{where}{error.strerror}. {remedy}"


def _in_plain_signs(error: UnicodeError) -> tuple[str | bytes, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lacking = error.object[error.start : error.end]
    return "".join(_PLAIN_SIGNS.get(sign, "?") for sign in lacking), error.end


@contextmanager
def file_when_whole(path: Path) -> Iterator[Path]:
    """Where to write a file that gets its name only once it is whole.

    Half a record looks like a record whose end was cut off, so a command that fails or is
    interrupted leaves the place as it was. What is no plain file, such as a device, is written to
    as it is.
    """
    target = path.resolve()  # a link stays a link
    if target.exists() and not target.is_file():
        part = target
    else:
        part = target.with_name(f".{target.name}.part")
    try:
        yield part
        if part != target:
            if target.exists():  # who could not read it before cannot now
                shutil.copymode(target, part)
            part.replace(target)
    except OSError as error:
        raise LaidupError(f"--out {path}: {error.strerror or error}") from error
    finally:
        if part != target:
            with suppress(OSError):
                part.unlink()
