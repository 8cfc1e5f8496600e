"""How ``laidup calc`` asks and answers: flags that carry units, one sentence, or JSON."""

import argparse
import csv
import json
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from monitor.errors import QuantityError
from monitor.physics.moist_air import HIGHEST_C, LOWEST_C
from monitor.units import (
    CHARGE,
    CURRENT,
    DURATION,
    HEAT_CAPACITY,
    LENGTH,
    PRESSURE,
    TEMPERATURE,
    TEMPERATURE_DIFFERENCE,
    VOLTAGE,
    VOLUME,
    Dimension,
    difference_text,
    json_number,
    parse_quantity,
    temperature_text,
)

Value = float | int | str | bool | None

# What a sum about stored craft can be asked for, in SI: beyond it is a slip of the pen, such as
# kPa for hPa, and the answer would be nonsense with a basis and a source.
_REACH = {
    TEMPERATURE.name: (-100.0, 100.0),
    TEMPERATURE_DIFFERENCE.name: (0.0, 100.0),
    VOLUME.name: (0.0, 10_000.0),
    VOLTAGE.name: (0.0, 100.0),
    CURRENT.name: (0.0, 1_000.0),
    CHARGE.name: (0.0, 10_000.0),
    DURATION.name: (0.0, 87_660.0),  # ten years
    HEAT_CAPACITY.name: (0.0, 1e6),
    LENGTH.name: (0.0, 100.0),
    PRESSURE.name: (50_000.0, 110_000.0),  # from 5.5 km up down to the deepest of valleys
}


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


Sum = Callable[[argparse.Namespace], Answer]


class Verbs:
    """The verbs of ``calc``; each family of sums adds its own."""

    def __init__(self, parser: argparse.ArgumentParser) -> None:
        self._children = parser.add_subparsers(metavar="SUM", required=True)

    def add_verb(self, name: str, answer: Sum, about: str) -> "Flags":
        """Add a verb that is answered by a function of its flags."""
        parser = self._children.add_parser(name, help=about, description=about)
        # argparse takes -10C for an unknown flag, because it knows -10 only as a bare number.
        parser._negative_number_matcher = re.compile(r"-\.?\d")
        parser.add_argument("--json", action="store_true", help="answer for machines, in SI units")
        parser.set_defaults(run=_print_answer, answer=answer)
        return Flags(parser)


class Flags:
    """Flags of one verb."""

    def __init__(self, parser: argparse.ArgumentParser) -> None:
        self.parser = parser

    def add_quantity(
        self,
        flag: str,
        dimension: Dimension,
        about: str,
        *,
        default: float | None = None,
        required: bool = True,
        above_zero: bool = False,
    ) -> None:
        """Add a flag whose value carries its unit; a default makes it optional."""

        def read_quantity(text: str) -> float:
            try:
                value = parse_quantity(text, dimension)
            except QuantityError as error:
                raise argparse.ArgumentTypeError(str(error)) from error
            if above_zero and value <= 0.0:
                raise argparse.ArgumentTypeError(f"{text!r} must be above 0")
            low, high = _REACH.get(dimension.name, (-math.inf, math.inf))
            if not low <= value <= high:
                raise argparse.ArgumentTypeError(
                    f"{text!r} is beyond what this sum is for: {low:g} to {high:g}"
                    f" {dimension.unit}; was the unit the right one?"
                )
            return value

        self.parser.add_argument(
            flag,
            type=read_quantity,
            default=default,
            required=required and default is None,
            metavar=dimension.example.split(" or ")[-1],
            help=about,
        )

    def add_choice(self, flag: str, choices: tuple[str, ...], about: str, *, default: str) -> None:
        """Add a flag with a few possible words."""
        self.parser.add_argument(flag, choices=choices, default=default, help=about)


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


def parse_day(text: str) -> date:
    """Read a flag's date, ``2025-01-15``."""
    try:
        found = date.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(
            f"{text!r} is no date; write it like 2025-01-15"
        ) from error
    if not date.min + timedelta(days=3) < found < date.max - timedelta(days=3):
        raise argparse.ArgumentTypeError(f"{text!r} is too far away")
    return found


def _print_answer(arguments: argparse.Namespace) -> int:
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
