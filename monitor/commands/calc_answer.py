"""How ``laidup calc`` asks and answers: flags that carry units, one sentence, or JSON."""

import argparse
import json
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

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
        values = {key: _plain(value) for key, value in self.values.items()}
        return json.dumps({**values, "basis": self.basis, "source": self.source})


Sum = Callable[[argparse.Namespace], Answer]


class Verbs:
    """The verbs of ``calc``; each family of sums adds its own."""

    def __init__(self, parser: argparse.ArgumentParser) -> None:
        self._children = parser.add_subparsers(metavar="SUM", required=True)

    def add(self, name: str, answer: Sum, about: str) -> "Flags":
        """Add a verb that is answered by a function of its flags."""
        parser = self._children.add_parser(name, help=about, description=about)
        # argparse takes -10C for an unknown flag, because it knows -10 only as a bare number.
        parser._negative_number_matcher = re.compile(r"-\.?\d")
        parser.add_argument("--json", action="store_true", help="answer for machines, in SI units")
        parser.set_defaults(run=_run, answer=answer)
        return Flags(parser)


class Flags:
    """Flags of one verb."""

    def __init__(self, parser: argparse.ArgumentParser) -> None:
        self.parser = parser

    def quantity(
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

        def read(text: str) -> float:
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
            type=read,
            default=default,
            required=required and default is None,
            metavar=dimension.example.split(" or ")[-1],
            help=about,
        )

    def choice(self, flag: str, choices: tuple[str, ...], about: str, *, default: str) -> None:
        """Add a flag with a few possible words."""
        self.parser.add_argument(flag, choices=choices, default=default, help=about)


def both(value_c: float) -> str:
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
                f"{flag} is {both(value)}",
                f"the formulas of moist air reach from {both(LOWEST_C)} to {both(HIGHEST_C)}",
            )


def need_dew_point(point_c: float, rh_pct: float) -> None:
    """Refuse air that is too dry for the formulas to have a dew point."""
    if math.isnan(point_c):
        raise QuantityError(
            f"--humidity is {rh_pct:g} %: air so dry has no dew point above {both(LOWEST_C)},"
            " where the formulas end"
        )


def hours_text(hours: float) -> str:
    """A duration as people say it: ``35 min``, ``6.1 h`` or ``12.3 days``."""
    if hours < 1.0:
        return f"{hours * 60:.0f} min"
    return f"{hours:.1f} h" if hours < 72.0 else f"{hours / 24:.1f} days"


def day(text: str) -> date:
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


def _run(arguments: argparse.Namespace) -> int:
    answer: Answer = arguments.answer(arguments)
    print(answer.as_json() if arguments.json else answer.as_text())
    return 0


def _plain(value: Value) -> Value:
    """What JSON can hold: no nan, no inf, no numpy scalar."""
    if value is None or isinstance(value, str | bool | int):
        return value
    return float(value) if math.isfinite(value) else None
