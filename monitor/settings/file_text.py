"""The text of a file that a person names: of bounded size, and never of a device without end."""

import stat
from pathlib import Path

from monitor.errors import ConfigurationError, Fault

_MOST_BYTES = 16 * 1024 * 1024  # a yard of 2,000 craft with ten years of work needs half of that


def read_text_file(path: Path) -> str:
    """Read a file of UTF-8 text, with or without the mark that some editors put first.

    Raises
    ------
    ConfigurationError
        If it is missing, no plain file, too large, unreadable or no UTF-8; says what to do.
    """

    def file_fault(problem: str, remedy: str) -> ConfigurationError:
        return ConfigurationError([Fault(file=str(path), key="", problem=problem, remedy=remedy)])

    try:
        with path.open("rb") as file:
            if not stat.S_ISREG(path.stat().st_mode) and not stat.S_ISFIFO(path.stat().st_mode):
                raise file_fault("it is no plain file", "Name a file.")
            content = file.read(_MOST_BYTES + 1)
    except FileNotFoundError as error:
        raise file_fault("there is no such file", "Check the path, or copy an example.") from error
    except OSError as error:
        raise file_fault(
            f"it cannot be read: {error.strerror}", "Let this user read the file."
        ) from error
    if len(content) > _MOST_BYTES:
        raise file_fault(
            f"it is larger than {_MOST_BYTES // 2**20} MB", "Name another file, or cut it in parts."
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise file_fault(
            f"byte {error.start} is not UTF-8", "Save the file as UTF-8 text."
        ) from error
