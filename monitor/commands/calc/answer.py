"""How ``laidup calc`` asks and answers: flags that carry units, one sentence, or JSON."""

import argparse
import csv
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from monitor.errors import QuantityError
from monitor.physics.moist_air import HIGHEST_C, LOWEST_C
from monitor.units import (
    difference_text,
    json_number,
    temperature_text,
)

Value = float | int | str | bool | None

# What a sum about stored craft can be asked for, in SI: beyond it is a slip of the pen, such as
# kPa for hPa, and the answer would be nonsense with a basis and a source.


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One sum's result: a sentence for people, values in SI for machines, and its grounds."""

    sentence: str
    values: Mapping[str, Value]  # unit in the key; nan and inf become null
    basis: str
    source: str

    def as_text(self) -> str:
        """The sentence, then its grounds, a line each."""
        return f"{self.sentence}\nBasis: {self.basis}.\nSource: {self.source}."

    def as_json(self) -> str:
        """One JSON object on one line."""
        values = {key: _json_value(value) for key, value in self.values.items()}
        return json.dumps({**values, "basis": self.basis, "source": self.source})


def c_and_f(value_c: float) -> str:
    """A temperature in both units of the trade: ``-6.7 °C (19.9 °F)``."""
    if not math.isfinite(value_c):
        return temperature_text(value_c)
    return f"{temperature_text(value_c)} ({temperature_text(value_c, 'F')})"


def both_differences(value_k: float) -> str:
    """A temperature difference in both units."""
    return f"{difference_text(value_k)} ({difference_text(value_k, 'F')})"


def need_moist_air(arguments: argparse.Namespace, *flags: str) -> None:
    """Refuse temperatures that the formulas of moist air do not cover, by their flag."""
    for flag in flags:
        value = getattr(arguments, flag.strip("-").replace("-", "_"))
        if value is not None and not LOWEST_C <= value <= HIGHEST_C:
            raise QuantityError(
                f"{flag} is {c_and_f(value)}",
                f"the formulas of moist air reach from {c_and_f(LOWEST_C)} to {c_and_f(HIGHEST_C)}",
            )


def need_dew_point(point_c: float, rh_pct: float) -> None:
    """Refuse air that is too dry for the formulas to have a dew point."""
    if math.isnan(point_c):
        raise QuantityError(
            f"--humidity is {rh_pct:g} %: air so dry has no dew point above {c_and_f(LOWEST_C)},"
            " where the formulas end"
        )


def hours_text(hours: float) -> str:
    """A duration as people say it: ``35 min``, ``6.1 h`` or ``12.3 days``."""
    if hours < 1.0:
        return f"{hours * 60:.0f} min"
    return f"{hours:.1f} h" if hours < 72.0 else f"{hours / 24:.1f} days"


def print_answer(arguments: argparse.Namespace) -> int:
    """Answer one sum for a person or a machine."""
    answer: Answer = arguments.answer(arguments)
    print(answer.as_json() if arguments.json else answer.as_text())
    return 0


def _json_value(value: Value) -> Value:
    """What JSON can hold: no nan, no inf, no numpy scalar."""
    if value is None or isinstance(value, str | bool | int):
        return value
    return json_number(value)


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
