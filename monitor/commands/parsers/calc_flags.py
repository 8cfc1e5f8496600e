"""How ``laidup calc`` asks: flags that carry units."""

import argparse
import math
from datetime import date, timedelta

from monitor.commands.parsers.flags import DeferredFunction, add_json, take_negative_quantities
from monitor.errors import QuantityError
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
    parse_quantity,
)

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


class Verbs:
    """The verbs of ``calc``; each family of sums adds its own."""

    def __init__(self, parser: argparse.ArgumentParser) -> None:
        self._children = parser.add_subparsers(metavar="SUM", required=True)

    def add_verb(self, name: str, answer: str, about: str) -> "Flags":
        """Add a verb that a function of its flags answers, named as ``module.function``."""
        module, _, function = answer.partition(".")
        parser = self._children.add_parser(name, help=about, description=about)
        take_negative_quantities(parser)
        add_json(parser)
        parser.set_defaults(
            run=DeferredFunction("monitor.commands.calc.answer", "print_answer"),
            answer=DeferredFunction(f"monitor.commands.calc.{module}", function),
        )
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
