"""Readings from a file that a flag of ``laidup calc`` names: columns of numbers, as CSV."""

import csv
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from monitor.errors import QuantityError


def read_columns(
    flag: str, path: Path, names: tuple[str, ...], may_lack: tuple[str, ...] = ()
) -> NDArray[np.float64]:
    """Read columns of numbers from a CSV file with a header.

    Parameters
    ----------
    flag : str
        That named the file; every error says it.
    path : Path
    names : tuple of str
        Columns wanted, with the unit in the name; others are passed over.
    may_lack : tuple of str
        Further columns; NaN where there is none, or nothing in it.

    Returns
    -------
    ndarray of float64, shape (len(names) + len(may_lack), rows)

    Raises
    ------
    QuantityError
        If the file cannot be read, or a line has no number in one of the columns.
    """
    found: list[list[float]] = []
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            rows = csv.DictReader(file)
            for row in rows:
                try:
                    more = [float(row.get(name) or "nan") for name in may_lack]
                    found.append([*(float(row[name]) for name in names), *more])
                except (KeyError, TypeError, ValueError) as error:
                    raise QuantityError(
                        f"{flag} {path}, line {rows.line_num}: needs a number in each of the"
                        f" columns {', '.join(names)}"
                        + (f" (and {', '.join(may_lack)} where known)" if may_lack else "")
                    ) from error
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise QuantityError(f"{flag} {path}: cannot be read as a CSV file: {error}") from error
    return np.reshape(np.array(found, dtype=np.float64), (-1, len(names) + len(may_lack))).T
